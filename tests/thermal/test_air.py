"""A probe that hangs in air between two stays in the developer."""

from __future__ import annotations

import pytest
from newton_sinks import NewtonSink

from wetside.outlook import Setup
from wetside.thermal.estimator import begin, update
from wetside.thermal.forecast import outlook

AIR_LAGS = [4.0, 6.0, 8.5]


@pytest.mark.parametrize("air_lags", AIR_LAGS)
def test_developer_is_as_well_known_after_air_as_before(air_lags: float) -> None:
    """Ten seconds after it came back, a probe tells the developer to a quarter of a kelvin."""
    sink = NewtonSink(27.0, 23.5, 0.11 / 60.0, lag=10.0, air_lags=air_lags)
    belief = begin(Setup(25.0, 0.3))
    for reading in sink.readings([("developer", 200), ("air", 70), ("developer", 60)], room=20.0):
        belief = update(belief, reading)
        if reading.seconds >= 280.0:
            said = outlook(belief, reading.seconds)
            assert said.developer is not None
            assert said.developer.celsius == pytest.approx(
                sink.developer(reading.seconds), abs=0.25
            )
    assert said.ready_in.p50 == pytest.approx(sink.crossing(25.3) - 329.0, rel=0.5)


@pytest.mark.parametrize("air_lags", AIR_LAGS)
def test_air_says_nothing_of_the_developer(air_lags: float) -> None:
    """While the probe hangs in air the developer is carried on, and nothing is called disturbed."""
    sink = NewtonSink(27.0, 23.5, 0.11 / 60.0, lag=10.0, air_lags=air_lags)
    belief = begin(Setup(25.0, 0.3))
    for reading in sink.readings([("developer", 200), ("air", 90)], room=20.0):
        belief = update(belief, reading)
        assert "disturbed" not in [word for word, _ in belief.faults]
    said = outlook(belief, 289.0).developer
    assert said is not None
    assert said.celsius == pytest.approx(sink.developer(289.0), abs=0.3)
    assert said.sd < 0.5
