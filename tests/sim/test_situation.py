"""A usual sink does what it promises: it reaches the window in time, or never by itself."""

from __future__ import annotations

import pytest

from wetside.outlook import Setup, Wall
from wetside.sim.physics import advance
from wetside.sim.sink import Controls, developer_mean, start
from wetside.sim.situation import Arrangement, Situation, usual

SETUPS = [
    Setup(20.0, 0.3, Wall.PLASTIC, 300.0),
    Setup(20.0, 0.3, Wall.STEEL, 480.0),
    Setup(24.0, 0.3, None, None),
]


def _enters(situation: Situation, setup: Setup, limit: float) -> float | None:
    state = start(situation.sink, situation.developer_celsius, situation.bath_celsius)
    while state.seconds < limit:
        state = advance(state, situation.sink, Controls(), 2.0)
        if abs(developer_mean(state) - setup.target_celsius) <= setup.tolerance_celsius:
            return state.seconds
    return None


@pytest.mark.parametrize("setup", SETUPS)
@pytest.mark.parametrize("seed", range(4))
def test_an_undisturbed_developer_is_ready_after_six_to_ten_minutes(
    setup: Setup, seed: int
) -> None:
    """Left alone, the developer comes into the window in the promised time."""
    entered = _enters(usual(setup, seed), setup, 900.0)
    assert entered is not None
    assert 350.0 <= entered <= 620.0


@pytest.mark.parametrize("setup", SETUPS)
@pytest.mark.parametrize("seed", range(4))
def test_a_sink_that_falls_short_never_gets_there_by_itself(setup: Setup, seed: int) -> None:
    """Without help the developer stays out of the window for two hours."""
    assert _enters(usual(setup, seed, reaches=False), setup, 7200.0) is None


def test_the_same_seed_gives_the_same_sink_and_another_seed_another() -> None:
    """A sink can be had again by its seed."""
    assert usual(SETUPS[0], 7) == usual(SETUPS[0], 7)
    assert usual(SETUPS[0], 7) != usual(SETUPS[0], 8)


def test_each_arrangement_has_its_probes() -> None:
    """One probe, or two whose names say where they are."""
    assert usual(SETUPS[0], 1, Arrangement.BATH).probe_names == ("probe",)
    assert usual(SETUPS[0], 1, Arrangement.DEVELOPER).probe_names == ("probe",)
    assert usual(SETUPS[0], 1, Arrangement.TWO).probe_names == ("developer", "bath")
