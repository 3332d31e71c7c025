"""READY rests on a dip that somebody told, and the display asks for one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from newton_sinks import NewtonSink

from wetside.commands.bench.rig import Rig, RigOptions
from wetside.cues import view
from wetside.journal.reader import Reader
from wetside.outlook import Setup
from wetside.readings import Place, Reading
from wetside.session import sheet as sheets
from wetside.session.events import Kind
from wetside.session.presses import Button
from wetside.session.run import State
from wetside.session.sheetbook import Offer
from wetside.settings import Probe, Supplies
from wetside.sim.faults import parse
from wetside.sim.scripts import script
from wetside.sim.sink import Sink
from wetside.sim.situation import Situation
from wetside.station.files import journal_path
from wetside.station.loop import Station
from wetside.station.recovery import take_up_or_end
from wetside.station.senses import Senses

ASKS = {"dip the probe into the", "developer; press probe"}
ONE_REEL = sheets.load(sheets.available([sheets.shipped_folder()])[0])
#: A developer that comes to its bath within minutes, and a room of the target's temperature.
SINK = Situation(developer_celsius=23.5, bath_celsius=19.9, sink=Sink(room_celsius=20.0))

#: One that is ready soon.
SOON = Situation(developer_celsius=20.5, bath_celsius=18.0)


@pytest.fixture
def rig(tmp_path: Path) -> Iterator[Rig]:
    """A bench whose buttons and probe only the test moves; the probe hangs in the air."""
    there = Rig(RigOptions(tmp_path, ONE_REEL, SINK, script("me"), seed=1))
    there.world.move("probe", Place.AIR)
    yield there
    there.close()


def _pass(rig: Rig, seconds: float) -> set[str]:
    """Go on for so long, or until READY; all that stood on the display."""
    until, said = rig.clock.now() + seconds, set[str]()

    def over() -> bool:
        notice = view.view(rig.station.snapshot())
        said.update((notice.big, notice.aside, notice.corner, *notice.lines))
        return rig.clock.now() > until or _is_ready(rig)

    rig.turn_until(over)
    return said


def _is_ready(rig: Rig) -> bool:
    return rig.station.session.state is State.READY


def _put(rig: Rig, place: Place) -> None:
    """Somebody moves the probe and says so."""
    rig.world.move("probe", place)
    rig.world.press(Button.PROBE)
    _pass(rig, 20.0)


def _start_again(rig: Rig) -> None:
    """The station's process ends, and another one takes the run up."""
    rig.station.turn()
    rig.journal.settled(10.0)
    with Reader(journal_path(rig.settings)) as reader:
        left_open = reader.open_run(rig.options.station)
    offers = [Offer("one-reel-20.toml", ONE_REEL)]
    rig.station = Station(rig.settings, rig.clock, rig.parts, rig.journal, offers)
    found = take_up_or_end(left_open, rig.clock.moment(), rig.journal)
    assert found is not None
    rig.station.take_up(found)


def test_a_probe_that_nobody_placed_calls_nothing_ready_and_is_asked_for(rig: Rig) -> None:
    """Room air of the target's temperature is no developer, for however long it is read."""
    rig.world.press(Button.NOW)
    said = _pass(rig, 400.0)
    assert not _is_ready(rig)
    assert {*ASKS, "where?"} <= said


def test_a_dip_that_is_told_is_believed_over_minutes_of_guessing(rig: Rig) -> None:
    """Dipped and told in the same second, after minutes in air that was taken for developer."""
    rig.world.press(Button.NOW)
    _pass(rig, 300.0)
    _put(rig, Place.DEVELOPER)
    _pass(rig, 30.0)
    assert not _is_ready(rig)
    outlook = rig.station.outlook
    assert outlook is not None
    assert outlook.developer is not None
    assert outlook.developer.celsius == pytest.approx(rig.world.developer_celsius, abs=0.3)


def test_a_second_probe_that_hangs_in_air_changes_nothing_until_it_is_placed() -> None:
    """Plugged in beside one that was dipped and put into the bath, it says nothing of either."""
    senses = Senses(0.0, Setup(20.0), [Probe(rom="0316a2795e4b", name="p", sd_celsius=0.05)],
                    Supplies())  # fmt: skip
    rows = NewtonSink(24.0, 18.0, 1 / 500).readings([("developer", 30), ("bath", 150)])
    presses, kinds, believed = {0, 30}, set[Kind](), 0.0
    for row in rows:
        now = row.seconds
        both = [replace(row, place=Place.UNKNOWN)]
        if now > 60.0:
            both.append(Reading(now, "ff16a2799999", 20.0))
        placed, _ = senses.take(both, now)
        if int(now) in presses:
            senses.move()
        outlook = senses.believe(placed, now)
        believed = outlook.developer.celsius if outlook.developer else believed
        event = senses.window_event(State.TEMPERING, Setup(20.0))
        kinds |= {event.kind} if event else set()
    assert Kind.ENTERED not in kinds
    assert believed == pytest.approx(NewtonSink(24.0, 18.0, 1 / 500).developer(179), abs=0.8)


def test_after_a_new_start_a_probe_in_the_bath_is_still_in_the_bath(rig: Rig) -> None:
    """Its bath of 20 degrees is not taken for a developer that is two degrees warmer."""
    rig.world.press(Button.NOW)
    _pass(rig, 2.0)
    _put(rig, Place.DEVELOPER)
    _put(rig, Place.BATH)
    _start_again(rig)
    said = _pass(rig, 400.0)
    assert not _is_ready(rig)
    assert {*ASKS, "in bath"} <= said


def test_after_a_new_start_somebody_says_that_the_probe_is_still_in_the_developer(
    rig: Rig,
) -> None:
    """It may have been taken out while nobody was heard: that is asked, and two presses tell."""
    rig.world.press(Button.NOW)
    _pass(rig, 2.0)
    _put(rig, Place.DEVELOPER)
    _start_again(rig)
    rig.world.move("probe", Place.BATH)
    said = _pass(rig, 400.0)
    assert not _is_ready(rig)
    assert {"still in developer?", "press probe twice"} <= said
    rig.world.move("probe", Place.DEVELOPER)
    for _ in range(2):
        rig.world.press(Button.PROBE)
        _pass(rig, 1.0)
    said = _pass(rig, 2000.0)
    assert "in developer" in said
    assert "press probe twice" not in said
    assert _is_ready(rig)
    assert rig.world.developer_celsius == pytest.approx(20.0, abs=0.35)


@pytest.mark.parametrize("bus_gone", [False, True])
def test_what_was_ready_before_a_new_start_is_not_poured_on_the_word_of_the_journal(
    tmp_path: Path, *, bus_gone: bool
) -> None:
    """Twenty minutes later the developer is colder: READY is gone, also where no probe answers."""
    rig = Rig(RigOptions(tmp_path, ONE_REEL, SOON, script("me"), seed=1))
    rig.world.press(Button.NOW)
    _pass(rig, 2.0)
    _put(rig, Place.DEVELOPER)
    _pass(rig, 600.0)
    assert _is_ready(rig)
    rig.station.turn()
    rig.clock.run_for(1200.0)
    if bus_gone:
        rig.world.bring(parse("bus-gone 0 4000", ["probe"]))
    _start_again(rig)
    assert State.TEMPERING is rig.station.session.state
    said = _pass(rig, 60.0)
    assert "POUR NOW" not in said
    assert not _is_ready(rig)
    rig.journal.settled(10.0)
    with Reader(journal_path(rig.settings)) as reader:
        left_open = reader.open_run(rig.options.station)
    rig.close()
    assert left_open is not None
    assert "unwatched" in [row.kind for row in left_open.events]


def test_after_a_new_start_a_press_still_says_that_the_probe_went_into_the_bath(rig: Rig) -> None:
    """Killed in the middle of a dip: the press that ends it does not tell the developer."""
    rig.world.press(Button.NOW)
    _pass(rig, 2.0)
    _put(rig, Place.DEVELOPER)
    _start_again(rig)
    _put(rig, Place.BATH)
    assert "in bath" in _pass(rig, 400.0)
    assert not _is_ready(rig)
