"""A spare takes the place of a probe that broke; one that is only unplugged stays missed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from newton_sinks import NewtonSink

from wetside.outlook import Setup
from wetside.readings import Condition, Place, Reading
from wetside.session.events import Kind
from wetside.session.run import State
from wetside.settings import Supplies
from wetside.station import places, troubles
from wetside.station.places import Told
from wetside.station.senses import Senses
from wetside.station.troubles import Watch

SETUP = Setup(20.0)
#: A developer that is nearly three degrees warmer than its bath for minutes.
SINK = NewtonSink(23.5, 19.9, 1 / 900)
BROKEN, SPARE = "0316a2795e4b", "ff16a2799999"
#: Seconds at which the first probe goes into the bath and breaks, and its spare comes, is dipped
#: and goes into the bath.
BATH, BREAKS, COMES, DIPS, BACK, UNTIL = 25, 85, 110, 125, 150, 400


def _there(now: int) -> list[Reading]:
    """What the two probes say at a second."""
    first = FIRST[now] if now < BREAKS else None
    said = [
        replace(first, probe=BROKEN, place=Place.UNKNOWN)
        if first
        else Reading(now, BROKEN, None, condition=Condition.VANISHED)
    ]
    if now >= COMES:
        said.append(replace(SECOND[now], probe=SPARE, place=Place.UNKNOWN))
    return said


FIRST = SINK.readings([("developer", BATH), ("bath", BREAKS - BATH)])
SECOND = SINK.readings([("air", DIPS), ("developer", BACK - DIPS), ("bath", UNTIL - BACK)])


def test_a_spare_is_where_it_was_dipped_and_is_no_longer_alarmed_about() -> None:
    """A press tells the place of the probe that answers; the broken one is out, and silent."""
    senses = Senses(0.0, SETUP, (), Supplies())
    places_told, missed, kinds = [], set[int](), set[Kind]()
    for now in range(UNTIL):
        placed, _ = senses.take(_there(now), float(now))
        if now in {0, BATH, DIPS, BACK}:
            senses.move()
            places_told.append(dict(senses.where()))
        senses.believe(placed, float(now))
        event = senses.window_event(State.TEMPERING, SETUP)
        kinds |= {event.kind} if event else set()
        if BROKEN in senses.lost(float(now), tempering=True):
            missed.add(now)
    assert {BROKEN: Place.UNKNOWN, SPARE: Place.DEVELOPER} == places_told[2]
    assert {BROKEN: Place.UNKNOWN, SPARE: Place.BATH} == places_told[3]
    assert set(range(BREAKS + 3, DIPS)) == missed
    assert Kind.ENTERED not in kinds


@pytest.mark.parametrize("gone", [Condition.VANISHED, Condition.FAILED])
def test_a_probe_that_is_unplugged_takes_no_part_in_a_press_and_stays_missed(
    gone: Condition,
) -> None:
    """The other one, placed before, moves; the one in the bath is asked for until it answers."""
    senses = Senses(0.0, SETUP, (), Supplies())
    for now in range(20):
        lost = Reading(now, "b", None, condition=gone) if now > 5 else Reading(now, "b", 20.0)
        senses.take([Reading(now, "a", 22.0), lost], float(now))
        if now in {0, 15}:
            senses.move()
    assert {"a": Place.BATH, "b": Place.BATH} == senses.where()
    assert {"b": gone} == senses.lost(19.0, tempering=True)


def test_a_press_while_no_probe_answers_means_all_of_them() -> None:
    """Dipped with its plug half out, the one probe still goes where it was put."""
    senses = Senses(0.0, SETUP, (), Supplies())
    for now in range(20):
        condition = Condition.FINE if now < 5 else Condition.VANISHED
        celsius = 22.0 if now < 5 else None
        senses.take([Reading(now, "a", celsius, condition=condition)], float(now))
    senses.move()
    assert {"a": Place.DEVELOPER} == senses.where()


def test_one_failed_read_is_still_an_answer() -> None:
    """A press in the second of a single failed read means that probe as well."""
    rows = [Reading(1, "a", 20.0), Reading(2, "a", None, condition=Condition.FAILED)]
    watch, _ = troubles.take(Watch(0.0), rows)
    assert ["a"] == troubles.answering(watch)


def test_a_probe_without_a_place_is_missed_only_while_none_has_one() -> None:
    """What nobody placed and nobody uses may be unplugged."""
    assert places.needed(Told(), ["a"])
    assert places.needed(Told(), [])
    assert not places.needed(Told({"a": Place.BATH}), ["a"])
