"""Which probes are in trouble, and where probes are."""

from __future__ import annotations

import pytest

from wetside.readings import Condition, Place, Reading
from wetside.station import places, troubles
from wetside.station.places import Told
from wetside.station.troubles import BUS, Change, Watch


def _reading(seconds: float, condition: Condition = Condition.FINE) -> Reading:
    return Reading(seconds, "a", 20.0 if condition is Condition.FINE else None, condition=condition)


def test_a_change_of_condition_is_told_once() -> None:
    """Only a change of condition is a change; the same fault again is not."""
    watch, changes = troubles.take(Watch(0.0), [_reading(1), _reading(2)])
    assert [] == changes
    watch, changes = troubles.take(watch, [_reading(3, Condition.FAILED)])
    assert [Change("a", Condition.FINE, Condition.FAILED, 3)] == changes
    watch, changes = troubles.take(watch, [_reading(4, Condition.FAILED)])
    assert [] == changes
    watch, changes = troubles.take(watch, [_reading(5)])
    assert [Change("a", Condition.FAILED, Condition.FINE, 5)] == changes


def test_one_failed_read_is_no_trouble_yet() -> None:
    """The reading before stands for three seconds; then the probe is in trouble, by name."""
    watch, _ = troubles.take(Watch(0.0), [_reading(10), _reading(11, Condition.POWER_ON)])
    assert {} == troubles.lost(watch, 12.0)
    assert {"a": Condition.POWER_ON} == troubles.lost(watch, 13.5)


def test_a_probe_that_says_nothing_is_stale_after_three_seconds() -> None:
    """Without any answer for more than three seconds, the condition is stale."""
    watch, _ = troubles.take(Watch(0.0), [_reading(10)])
    watch, changes = troubles.grow_stale(watch, 13.0)
    assert [] == changes
    watch, changes = troubles.grow_stale(watch, 13.1)
    assert [Condition.STALE] == [change.after for change in changes]
    assert {"a": Condition.STALE} == troubles.lost(watch, 13.1)
    _, changes = troubles.grow_stale(watch, 20.0)
    assert [] == changes


def test_no_probe_at_all_is_trouble_of_the_bus() -> None:
    """A station that never heard a probe says so, after its first seconds."""
    assert {} == troubles.lost(Watch(100.0), 102.0)
    assert {BUS: Condition.BUS_GONE} == troubles.lost(Watch(100.0), 104.0)


def test_one_probe_goes_from_developer_to_bath_and_back() -> None:
    """Each press of the probe button moves the one probe."""
    told, seen = Told(), []
    for _ in range(3):
        told = places.moved(told, ["28-x"])
        seen.append(told.place("28-x"))
    assert [Place.DEVELOPER, Place.BATH, Place.DEVELOPER] == seen


def test_two_probes_change_places() -> None:
    """With two probes a press says which is where, and another swaps them."""
    told = places.moved(Told(), ["b", "a"])
    assert {"a": Place.DEVELOPER, "b": Place.BATH} == told.said
    assert {"a": Place.BATH, "b": Place.DEVELOPER} == places.moved(told, ["a", "b"]).said


def test_a_probe_named_for_its_place_is_there() -> None:
    """A name in the settings tells the place without any press; other names tell nothing."""
    assert Place.BATH is Told().place("bath")
    assert Place.UNKNOWN is Told().place("probe")


def test_a_press_without_probes_changes_nothing() -> None:
    """The probe button does no harm while no probe is there."""
    assert Told() == places.moved(Told(), [])


@pytest.mark.parametrize("newcomer", ["a", "z"])
def test_a_press_moves_the_probe_that_had_a_place(newcomer: str) -> None:
    """A second probe that joins in is where the first one is not, whatever it is called."""
    told = places.moved(Told({"p": Place.BATH}), ["p", newcomer])
    assert {"p": Place.DEVELOPER, newcomer: Place.BATH} == told.said
