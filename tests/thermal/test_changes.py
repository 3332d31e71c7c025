"""Hands at the sink: ice poured in, the container lifted out, and what is thought of it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from newton_sinks import NewtonSink

from wetside.outlook import Outlook, Setup, Wall
from wetside.readings import Place, Reading
from wetside.sim.probe import ProbeBody, follow, settled
from wetside.thermal import bank as banks
from wetside.thermal.changes import with_changes
from wetside.thermal.estimator import begin, update
from wetside.thermal.forecast import outlook
from wetside.thermal.merging import merged
from wetside.thermal.priors import prior_for
from wetside.thermal.seeding import seed
from wetside.thermal.story import tell

SETUP = Setup(20.0, 0.3, Wall.STEEL, 400.0)
_RATE, _LAG = 1.0 / 300.0, 9.0
#: Ice that melts: 334 kJ/kg, and 4.186 kJ/(kg K) of water (OpenStax College Physics, tables of
#: latent and specific heats).
_ICE_J_PER_KG, _WATER_J_PER_KG_K = 334_000.0, 4186.0


def _sink(
    bath: float, *, fall: float = 0.0, at: int = 0, out: range = range(0)
) -> tuple[list[float], list[Reading]]:
    """Developer from 26 C at every second, and what a probe in it says.

    The bath falls by ``fall`` over about a minute from second ``at``; during ``out`` the container
    stands outside it.
    """
    random = np.random.default_rng(4)
    developer, probe = 26.0, 26.0
    path, rows = [], []
    for second in range(900):
        path.append(developer)
        said = round(16.0 * (probe + 0.02 * float(random.standard_normal()))) / 16.0
        rows.append(Reading(float(second), "p", said, Place.DEVELOPER))
        gone = fall * -math.expm1(-max(0.0, second - at) / 50.0) if second > at else 0.0
        rate = 0.0 if second in out else _RATE
        developer += rate * (bath - gone - developer)
        probe += -math.expm1(-1.0 / _LAG) * (developer - probe)
    return path, rows


def _outlook(rows: list[Reading], seconds: int) -> Outlook:
    belief = begin(SETUP)
    for row in rows[: seconds + 1]:
        belief = update(belief, row)
    return outlook(belief, float(seconds))


def _ready(path: list[float]) -> int:
    return next(second for second, celsius in enumerate(path) if celsius <= 20.3)


def _holds(said: Outlook, truth: float) -> bool:
    low, high = said.ready_in.p05, said.ready_in.p95
    return low is not None and high is not None and low <= truth <= high


def test_ice_in_the_bath_is_taken_up_within_a_minute_and_a_half() -> None:
    """150 g of ice in 4 L of bath: the interval holds the true crossing, before and after."""
    cooled = 0.15 * (_ICE_J_PER_KG / _WATER_J_PER_KG_K + 17.0) / 4.15
    path, rows = _sink(17.0, fall=cooled, at=150)
    without, _ = _sink(17.0)
    assert _holds(_outlook(rows, 145), _ready(without) - 145)
    assert _holds(_outlook(rows, 240), _ready(path) - 240)


def test_a_container_lifted_out_for_a_while_is_expected_back() -> None:
    """Lifted out for 40 s: a minute after its return the error is under a fifth of the rest."""
    path, rows = _sink(17.0, out=range(150, 190))
    said = _outlook(rows, 250).ready_in
    assert said.p50 == pytest.approx(_ready(path) - 250, rel=0.2)
    assert _outlook(rows, 188).never < 0.5


def test_merging_keeps_weight_mean_and_spread() -> None:
    """The merged bank has fewer hypotheses and the same total weight, mean and covariance."""
    bank = seed(SETUP, prior_for(SETUP), (24.0, 0.1), (18.0, 0.1))
    for second in range(1, 60):
        bank = banks.predict(bank, 1.0, (banks.Medium(banks.PROBE_A, banks.DEVELOPER, 9.0),))
        bank = banks.correct(bank, banks.PROBE_A, 24.0 - second / 60.0, 0.04**2)
    fewer = merged(bank)
    assert len(fewer.pull) < len(bank.pull)
    assert np.exp(fewer.log_weight).sum() == pytest.approx(np.exp(bank.log_weight).sum())
    for index in range(banks.SIZE):
        assert banks.moments(fewer, index) == pytest.approx(banks.moments(bank, index), abs=1e-7)


def test_changes_leave_what_was_believed_nearly_as_it_was() -> None:
    """One generation of children moves the believed temperatures by less than 0.1 sd."""
    bank = seed(SETUP, prior_for(SETUP), (24.0, 0.1), (18.0, 0.3))
    more = with_changes(bank, 60.0, 30.0)
    assert (more.immersed < 0.5).any()
    for index in (banks.DEVELOPER, banks.BATH):
        middle, sd = banks.moments(bank, index)
        assert abs(banks.moments(more, index)[0] - middle) < 0.1 * sd


@pytest.mark.parametrize("told", [True, False])
def test_wild_readings_drive_no_hypothesis_away(*, told: bool) -> None:
    """Probes thrown about for some minutes leave finite numbers and variances above zero."""
    random = np.random.default_rng(6)
    belief, level = begin(SETUP), 20.0
    for second in range(250):
        if random.random() < 0.05:
            level = float(random.uniform(-5.0, 60.0))
        place = list(Place)[int(random.integers(len(Place)))] if told else Place.UNKNOWN
        celsius = level + 0.3 * float(random.standard_normal())
        belief = update(belief, Reading(float(second), "p", celsius, place))
        outlook(belief, float(second))
    wet = [story.bank for story in belief.stories if story.bank is not None]
    assert wet
    for bank in wet:
        assert np.isfinite(bank.mean).all()
        variances = np.diagonal(bank.covariance, axis1=1, axis2=2)
        # a hypothesis in which nothing was poured is sure of that
        assert (variances[:, banks.POURED] >= 0.0).all()
        assert (np.delete(variances, banks.POURED, axis=1) > 0.0).all()


def test_a_hypothesis_beyond_any_sink_is_brought_back() -> None:
    """A developer of a thousand times the bath's heat or a rate of 7/s does not outlive a step."""
    bank = seed(SETUP, prior_for(SETUP), (24.0, 0.1), (18.0, 0.1))
    bank.mean[:, banks.SHARE], bank.mean[:, banks.COUPLING] = 7.0, 2.0
    after = banks.predict(bank, 1.0, ()).mean
    assert (after[:, banks.SHARE] <= 0.0).all()
    assert (after[:, banks.COUPLING] <= -3.0).all()


def test_hands_do_not_hide_that_an_unplaced_probe_has_moved() -> None:
    """What hypotheses of hands explain stays a surprise where nobody said where the probe is."""
    sink = NewtonSink(24.0, 18.0, 1 / 500)
    belief = begin(SETUP)
    for row in sink.readings([("developer", 25), ("bath", 100)], told=False):
        belief = update(belief, row)
    story, celsius = replace(belief.story, changes_seconds=0.0), 18.0
    for second in range(125, 135):
        track = story.track("p")
        assert track is not None
        celsius += 0.3
        story = tell(story, track, float(second), celsius)
    track = story.track("p")
    assert track is not None
    assert max(track.misfit) > 20.0


def _late_into_its_bath(noise: int) -> tuple[list[float], list[Reading]]:
    """Dipped for 35 s beside the bath: 400 mL in 4 L by Newton's law and the heat balance."""
    random = np.random.default_rng(noise)
    developer, bath, probe = 26.0, 17.0, settled(26.0)
    path, rows = [], []
    for second in range(500):
        place = Place.DEVELOPER if second < 35 else Place.BATH
        path.append(developer)
        said = round(16.0 * (probe.sensor + 0.02 * float(random.standard_normal()))) / 16.0
        rows.append(Reading(float(second), "p", said, place))
        flow = _RATE * (bath - developer) if second >= 35 else 0.0
        developer, bath = developer + flow, bath - 0.1 * flow
        medium = developer if second < 35 else bath
        probe = follow(ProbeBody(_LAG), probe, medium, 1.0)
    return path, rows


def test_a_container_that_comes_into_its_bath_late_is_not_thought_hardly_coupled() -> None:
    """Nothing moved the developer during the dip: the interval knows why, or misses by two fifths.

    A container that stood in its bath all the while would come 3 to 6 times later.
    """
    held = 0
    for noise in range(4, 10):
        path, rows = _late_into_its_bath(noise)
        for second in (60, 90, 120, 150):
            outlook, rest = _outlook(rows, second), _ready(path) - second
            assert outlook.ready_in.p05 is not None
            assert outlook.ready_in.p05 <= 1.4 * rest
            held += _holds(outlook, rest)
    assert held >= 10
