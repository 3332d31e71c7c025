"""Probes that do not measure: one that repeats its value, one that hangs in air."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from newton_sinks import NewtonSink

from wetside.outlook import Setup
from wetside.readings import Condition, Place, Reading
from wetside.session.events import Kind
from wetside.session.run import State
from wetside.settings import Probe, Supplies
from wetside.station.senses import Senses
from wetside.thermal.belief import Belief
from wetside.thermal.estimator import begin, update
from wetside.thermal.stuck import Still, watch

SETUP = Setup(20.0)


def _told(rows: Sequence[Reading]) -> list[tuple[Belief, Still]]:
    """Belief and watch after each reading."""
    belief, still = begin(SETUP, doubting=True), None
    seen = []
    for row in rows:
        belief = update(belief, row)
        still = watch(still, row, belief)
        assert still is not None
        seen.append((belief, still))
    return seen


@pytest.mark.parametrize("start", [26.0, 15.0])
def test_a_probe_that_repeats_its_value_is_found(start: float) -> None:
    """A developer two kelvin from its bath cannot stand still: doubted soon, stuck in 2 min."""
    rows = NewtonSink(start, 19.0, 1 / 300).readings([("developer", 340)])
    stuck = [row if n < 200 else replace(row, celsius=rows[200].celsius) for n, row in
             enumerate(rows)]  # fmt: skip
    seen = _told(stuck)
    assert not any(still.doubted for _, still in seen[:240])
    assert seen[300][1].doubted
    assert not seen[300][1].stuck
    assert seen[330][1].stuck


@pytest.mark.parametrize("start", [19.05, 19.4, 23.0])
def test_a_liquid_at_rest_is_no_stuck_probe(start: float) -> None:
    """Readings that stand still because the bath is reached are what was believed all along."""
    sink = NewtonSink(start, 19.0, 1 / 120, noise=0.0)
    seen = _told(sink.readings([("developer", 1100)]))
    assert seen[-1][1].lasted > 100.0
    assert not any(still.doubted for _, still in seen)


def test_a_probe_that_goes_elsewhere_begins_anew_whatever_it_reads() -> None:
    """From a developer into a bath of the same temperature: that value stands since then."""
    row = Reading(0.0, "a", 20.0, place=Place.DEVELOPER)
    moved = replace(row, seconds=1.0, place=Place.BATH)
    (_, still), (_, anew) = _told([row, moved])
    assert (0.0, 1.0) == (still.since, anew.since)


def test_a_gap_in_the_readings_begins_anew() -> None:
    """What stood still before ten seconds without a reading may have moved in them."""
    row = Reading(0.0, "a", 20.0, place=Place.DEVELOPER)
    later = [replace(row, seconds=seconds) for seconds in (10.0, 20.5)]
    assert [0.0, 0.0, 20.5] == [still.since for _, still in _told([row, *later])]


def _lifted(start: float, room: float) -> list[Reading]:
    """A probe told to be in the developer that hangs in air from 150 to 210 s."""
    plan = [("developer", 150), ("air", 60), ("developer", 90)]
    rows = NewtonSink(start, 18.0, 1 / 400).readings(plan, room=room)
    return [replace(row, place=Place.DEVELOPER) for row in rows]


@pytest.mark.parametrize(("start", "room"), [(25.0, 20.0), (15.0, 22.0), (24.0, 27.0)])
def test_a_probe_lifted_into_air_is_noticed_whatever_was_said(start: float, room: float) -> None:
    """Within 15 s it is believed in air; once it is back for a while, in the developer."""
    places = [belief.story.tracks[0].place for belief, _ in _told(_lifted(start, room))]
    assert {Place.DEVELOPER} == set(places[:150])
    assert Place.AIR in places[150:165]
    assert Place.DEVELOPER is places[-1]


def test_no_ready_while_the_probe_hangs_in_air() -> None:
    """A room at the target makes a lifted probe read the target: nobody is told to pour."""
    room = replace(SETUP, probe_sd_celsius=0.05)
    probe = Probe(rom="0316a2795e4b", name="p", sd_celsius=0.05)
    for hangs in (False, True):
        senses = Senses(0.0, room, [probe], Supplies())
        senses.move()
        sink = NewtonSink(25.5, 15.0, 1 / 700)
        plan = [("developer", 120), ("air" if hangs else "developer", 240), ("developer", 200)]
        ready, unfit = [], set()
        for row in sink.readings(plan, room=20.0):
            reading = replace(row, place=Place.UNKNOWN)
            placed, _ = senses.take([reading], row.seconds)
            if row.seconds == 1.0:
                senses.move()
            senses.believe(placed, row.seconds)
            event = senses.window_event(State.TEMPERING, room)
            unfit |= set(senses.lost(row.seconds, tempering=True).values())
            if event is not None and event.kind is Kind.ENTERED:
                ready.append(row.seconds)
        if hangs:
            assert Condition.IN_AIR in unfit
            assert all(seconds > 360.0 for seconds in ready)
        else:
            assert set() == unfit
            inside = sink.crossing(20.3)
            assert inside - 20.0 < ready[0] < inside + 40.0


def test_stirring_is_no_lift() -> None:
    """A developer that suddenly follows its bath faster is still the developer."""
    calm, stirred = NewtonSink(26.0, 18.0, 1 / 500), NewtonSink(26.0, 18.0, 1 / 250, seed=2)
    first = calm.readings([("developer", 150)])
    late = next(t for t in range(400) if stirred.developer(t) < calm.developer(150))
    then = stirred.readings([("developer", late + 60)])[late:]
    rows = [*first, *(replace(row, seconds=150.0 + n) for n, row in enumerate(then))]
    assert {Place.DEVELOPER} == {belief.story.tracks[0].place for belief, _ in _told(rows)}
