"""What is believed of a liquid before the probe in it has settled."""

from __future__ import annotations

import math

import numpy as np
import pytest
from filterpy.kalman import KalmanFilter
from newton_sinks import NewtonSink

from wetside.outlook import Setup, Wall
from wetside.readings import Place, Reading
from wetside.thermal import lag as lags
from wetside.thermal.estimator import begin, update
from wetside.thermal.forecast import outlook

_ROOM = 21.0


def _published(half_seconds: float, most_seconds: float, sink: NewtonSink) -> list[Reading]:
    """A minute in the developer, by a probe that makes 50 and 90 % of a step in those times.

    The dead time and the lag behind it that have both are unlike the two lags of the estimator.
    """
    lag = (most_seconds - half_seconds) / math.log(5.0)
    dead = half_seconds - lag * math.log(2.0)
    random, inside, rows = np.random.default_rng(1), _ROOM, []
    for tenth in range(600):
        if tenth / 10.0 >= dead:
            inside += (sink.developer(tenth / 10.0 - dead) - inside) * -math.expm1(-0.1 / lag)
        if tenth % 10 == 0:
            said = round(16.0 * (inside + 0.02 * float(random.standard_normal()))) / 16.0
            rows.append(Reading(tenth / 10.0, "p", said, Place.DEVELOPER))
    return rows


@pytest.mark.parametrize(("half_seconds", "most_seconds"), [(4.0, 9.6), (7.0, 17.0), (10.4, 23.2)])
@pytest.mark.parametrize("start", [12.0, 27.0])
def test_a_dip_is_read_through_a_published_response(
    half_seconds: float, most_seconds: float, start: float
) -> None:
    """Insulated thermocouples of 6 and 8 mm, a resistance thermometer of 6 mm, in water.

    SAB Broeckskes, technical data page, 0.2 m/s. From 1.5 times the time for 90 % on the developer
    lies within four standard deviations, from twice that time on within 0.3 degC.
    """
    sink = NewtonSink(start, 19.0, 1 / 700)
    belief = begin(Setup(20.0, 0.3, Wall.PLASTIC, 300.0))
    for row in _published(half_seconds, most_seconds, sink):
        belief = update(belief, row)
        if row.seconds < 1.5 * most_seconds:
            continue
        said = outlook(belief, row.seconds).developer
        assert said is not None
        off = abs(said.celsius - sink.developer(row.seconds))
        assert off < 4.0 * said.sd
        assert off < 0.3 or row.seconds < 2.0 * most_seconds


def test_a_slow_container_seen_by_two_probes_from_the_room_is_not_thought_fast() -> None:
    """Half an hour to go: the median is within a third from the second minute on.

    When the probes were thought to have one lag only, their way from the room was taken for a
    container that follows within a minute but is lifted out all the time: 1 min for 25.
    """
    setup = Setup(20.0, 0.25, Wall.PLASTIC, 260.0)
    sink = NewtonSink(11.8, 22.3, 1 / 1100, lag=14.5)
    other = NewtonSink(11.8, 22.3, 1 / 1100, lag=10.5, seed=2)
    belief, ready = begin(setup), sink.crossing(19.75)
    both = zip(sink.readings([("developer", 900)]), other.readings([("bath", 900)]), strict=True)
    for one, two in both:
        for name, row in (("p", one), ("q", two)):
            belief = update(belief, Reading(row.seconds, name, row.celsius, row.place))
        if one.seconds >= 120.0 and one.seconds % 60.0 == 0.0:
            said = outlook(belief, one.seconds).ready_in.p50
            assert said is not None
            assert said == pytest.approx(ready - one.seconds, rel=0.34)


def test_a_probe_that_settled_first_teaches_nothing_of_its_sensor() -> None:
    """After a minute in one liquid its parts are as unknown as they were."""
    bank = lags.fresh(20.0, first=True)
    for second in range(60):
        bank = lags.follow(bank, 1.0, 20.0 + 0.0625 * (second % 2), 0.03**2)
    before, after = (lags.fresh(20.0, one) for one in (None, bank))
    assert after.sensor_part == pytest.approx(before.sensor_part, abs=0.02)
    assert after.most_fitting == pytest.approx(before.most_fitting, rel=0.1)


def test_open_hot_liquids_may_puff_without_a_word_of_the_lag() -> None:
    """A drop of 0.4 degC in a liquid of 80 degC says less than the same drop at 20 degC."""
    surprises = []
    for celsius in (80.0, 20.0):
        bank = lags.fresh(celsius, first=True)
        for _ in range(30):
            bank = lags.follow(bank, 1.0, celsius, 0.03**2)
        surprises.append(abs(lags.follow(bank, 1.0, celsius - 0.4, 0.03**2).surprise))
    assert surprises[0] < 0.9 * surprises[1]


@pytest.mark.parametrize("index", [20, 120, 250])
def test_each_lag_of_the_bank_is_an_ordinary_kalman_filter(index: int) -> None:
    """The same equations in filterpy say the same of medium, slope, tube and sensor."""
    bank = lags.fresh(21.0)
    tube_lag = lags.LAGS[index] * (1.0 - lags._PART[index])
    sensor_lag = lags.LAGS[index] * lags._PART[index]
    other = KalmanFilter(dim_x=4, dim_z=1)
    other.x, other.P = bank.mean[:, index, None].copy(), bank.covariance[:, :, index].copy()
    other.H, other.R = np.array([[0.0, 0.0, 0.0, 1.0]]), np.array([[0.002]])
    for second in range(40):
        seconds = 1.0 + 0.1 * (second % 3)
        tube, sensor = math.exp(-seconds / tube_lag), math.exp(-seconds / sensor_lag)
        by_tube = (tube - sensor) * tube_lag / (tube_lag - sensor_lag)
        by_medium = 1.0 - by_tube - sensor
        other.F = np.array(
            [
                [1.0, seconds, 0.0, 0.0],
                [0.0, 1.0, 0.0, 0.0],
                [1.0 - tube, 0.5 * seconds * (1.0 - tube), tube, 0.0],
                [by_medium, 0.5 * seconds * by_medium, by_tube, sensor],
            ]
        )
        other.Q = np.diag(lags._WALK[:, index]) * seconds
        celsius = 25.0 - 4.0 * math.exp(-second / 14.0)
        other.predict()
        other.update(celsius)
        bank = lags.follow(bank, seconds, celsius, 0.002)
    assert bank.mean[:, index] == pytest.approx(other.x[:, 0], abs=1e-6)
    assert bank.covariance[:, :, index] == pytest.approx(other.P, abs=1e-8)


def test_a_settled_probe_is_asked_for_its_lag_every_third_second() -> None:
    """While the lag decides each reading is one for the bank of lags, later one in three."""
    belief, taken = begin(Setup(20.0, 0.3, Wall.STEEL, 400.0)), set()
    for row in NewtonSink(25.0, 18.0, 1 / 400).readings([("developer", 200)]):
        belief = update(belief, row)
        taken.add(belief.tracks[0].lag_seconds)
    assert taken >= set(map(float, range(25)))
    apart = np.diff(sorted(second for second in taken if second > 60.0))
    assert set(apart) == {3.0}
    assert max(taken) < 151.0
