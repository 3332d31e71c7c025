"""What the buzzer's pin does at a sink: what stands is said again, and orders are heard."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import count, pairwise
from pathlib import Path

import pytest
from sinks.rolls import Make, Roll

from wetside.cues import catalogue
from wetside.journal.thread import WriterThread
from wetside.session import sheet as sheets
from wetside.session.presses import Button
from wetside.session.run import State
from wetside.session.sheet import Sheet, StepKind
from wetside.session.signals import CueName
from wetside.sim.situation import Situation

#: A sink that is ready after a minute.
QUICK = Situation(developer_celsius=20.5, bath_celsius=18.0)


@pytest.fixture
def roll(tmp_path: Path, small_sheet: Sheet) -> Iterator[Make]:
    """Makes one sink on virtual time, whose student goes away where a test says so."""
    made: list[Roll] = []

    def make(sheet: Sheet = small_sheet, situation: Situation = QUICK) -> Roll:
        made.append(Roll(tmp_path, sheet, situation=situation))
        return made[-1]

    yield make
    for one in made:
        one.close()


def _left_alone(one: Roll, state: State) -> None:
    """Take the roll to a state of the developer, and let nobody answer."""
    before = {State.READY: State.TEMPERING, State.RUNNING: State.RUNNING}
    one.turn_until(before.get(state, State.DRAINING))
    one.go_on(20.0 if state is State.READY else 1.0)
    one.rig.student.left = True
    one.turn_until(state)


def _in_wash(one: Roll, state: State) -> None:
    """Take the roll to a state of the wash, and let nobody answer."""

    def there() -> bool:
        present = one.rig.station.session.present
        return present is not None and present.kind is StepKind.WASH and one.state is before

    before = State.RUNNING if state is State.RUNNING else State.DRAINING
    one.rig.turn_until(lambda: there() or one.at > 3600)
    assert there()
    one.rig.student.left = True
    one.turn_until(state)


def _state(one: Roll) -> State:
    return one.rig.station.session.state


def _starts(name: CueName, notes: list[float]) -> list[float]:
    """When the tone of a cue was begun, where nothing else was heard."""
    tone = catalogue.row(name).tone
    count = sum(note.hertz is not None for note in tone.notes) * tone.times
    return [round(at) for at in notes[::count]]


def test_late_is_said_on_when_the_station_comes_back(roll: Make) -> None:
    """Killed while the developer works too long, the station is heard each five seconds again."""
    one = roll()
    _left_alone(one, State.LATE)
    one.restart(3.0)
    assert [0, 5, 10, 15, 20] == _starts(CueName.LATE, one.notes(24.0))


def test_a_question_after_a_power_cut_is_said_on_when_the_station_comes_back(roll: Make) -> None:
    """Killed while it asks whether to go on, it asks again each quarter of a minute."""
    one = roll()
    _left_alone(one, State.RUNNING)
    one.restart(30.0, boot="two")
    one.go_on(20.0)
    one.restart(2.0)
    assert State.INTERRUPTED is one.state
    assert [0, 15, 30] == _starts(CueName.INTERRUPTED, one.notes(44.0))


def test_a_roll_that_is_held_is_said_on_when_the_station_comes_back(roll: Make) -> None:
    """Killed while the wash is held, it reminds each minute."""
    one = roll()
    _in_wash(one, State.RUNNING)
    one.rig.world.press(Button.WAIT, 2.0)
    one.go_on(5.0)
    one.restart(2.0)
    assert State.HOLDING is one.state
    assert [0, 60, 120] == _starts(CueName.HELD, one.notes(130.0))


def test_a_late_step_is_late_again_after_a_power_cut(roll: Make) -> None:
    """Once somebody went on, LATE is said each five seconds until the next step is poured."""
    one = roll()
    _left_alone(one, State.LATE)
    one.restart(20.0, boot="two")
    one.go_on(3.0)
    one.rig.world.press(Button.NOW)
    one.go_on(2.0)
    assert State.LATE is _state(one)
    assert 5 <= len(_starts(CueName.LATE, one.notes(30.0))) <= 7


def test_a_late_wash_is_late_again_after_it_was_held(roll: Make) -> None:
    """Going on from the hold, what was late is said each five seconds."""
    one = roll()
    _in_wash(one, State.LATE)
    one.rig.world.press(Button.WAIT, 2.0)
    one.go_on(10.0)
    assert State.HOLDING is _state(one)
    one.rig.world.press(Button.NOW)
    one.go_on(2.0)
    assert State.LATE is _state(one)
    assert 5 <= len(_starts(CueName.LATE, one.notes(30.0))) <= 7


def test_ready_is_said_until_somebody_pours(roll: Make) -> None:
    """No half minute of READY is silent, before the window begins to close or after."""
    one = roll()
    _left_alone(one, State.READY)
    begin = one.at
    notes: list[float] = [0.0]
    while State.READY is one.state and one.at < begin + 3600:
        began = one.at - begin
        notes += [began + at for at in one.notes(1.0)]
    assert one.heard(CueName.WINDOW_CLOSING)
    assert max(after - at for at, after in pairwise(notes)) <= 31.0


def _to_step(one: Roll, kind: StepKind, seconds: float) -> None:
    """Go on until so many seconds after this step's solution was poured in."""

    def there() -> bool:
        session = one.rig.station.session
        present, began = session.present, session.began
        in_step = present is not None and present.kind is kind and began is not None
        return in_step and began is not None and one.rig.clock.now() >= began + seconds

    one.rig.turn_until(lambda: there() or one.at > 3600)
    assert there()


def _pitches(one: Roll, seconds: float) -> list[int]:
    """Go on for so long; the pitches of the notes that began meanwhile."""
    edges = one.rig.world.pins.edges
    there = len(edges)
    one.go_on(seconds)
    gpio = one.rig.settings.pins.buzzer_gpio
    return [round(edge.hertz) for edge in list(edges)[there:] if edge.gpio == gpio and edge.hertz]


def test_the_shipped_fixer_calls_to_rest_though_water_is_to_be_prepared(roll: Make) -> None:
    """At 4:10 of fixing the low tone ends the agitation, and what to prepare is said after it."""
    one = roll(sheets.load(sheets.available([sheets.shipped_folder()])[0]))
    _to_step(one, StepKind.FIX, 249.0)
    assert [1200, 1900, 1900, 1900, 1900] == _pitches(one, 3.0)


def test_a_failing_log_leaves_the_call_to_agitate_whole(
    roll: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The alarm that comes each half minute, at a whole minute of developing, waits behind it."""
    one = roll()
    _to_step(one, StepKind.DEVELOP, 30.01)
    failing = property(lambda _: "the disk is full (1 entries wait in memory)")
    monkeypatch.setattr(WriterThread, "failure", failing)
    one.go_on(1.0)
    assert one.heard(CueName.JOURNAL_FAILING)
    _to_step(one, StepKind.DEVELOP, 59.0)
    assert [2700, 2700, 2700, 2700, 1900] == _pitches(one, 1.9)


def test_a_log_that_goes_on_failing_is_told_once_and_called_each_half_minute(
    roll: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """That more and more entries wait is no new fault: else the alarm would never be silent."""
    one = roll()
    _to_step(one, StepKind.DEVELOP, 5.0)
    waiting = count(1)
    failing = property(lambda _: f"the disk is full ({next(waiting)} entries wait in memory)")
    with monkeypatch.context() as patched:
        patched.setattr(WriterThread, "failure", failing)
        assert 8 == _pitches(one, 28.0).count(1900)
        assert 1 == len(one.heard(CueName.JOURNAL_FAILING))
        (warning,) = one.live(one.at)["warnings"]
        assert f"({next(waiting) - 1} entries" in warning
    one.go_on(2.0)
    one.close()
    told = [event.detail["fault"] for event in one.events() if event.kind == "journal-fault"]
    assert ["the disk is full (1 entries wait in memory)", None] == told


def test_a_new_end_waits_until_the_first_rest_was_heard_and_seen(roll: Make) -> None:
    """In a warm room the end moves; the low tone sounds whole and REST stands for two seconds."""
    path = sheets.available([sheets.shipped_folder()])[0]
    text = path.read_text(encoding="utf-8")
    for old, new in (
        ("outside_celsius = 2", "may_adjust_end = true\noutside_celsius = 6"),
        ("highest_celsius = 25", "highest_celsius = 29"),
    ):
        assert old in text
        text = text.replace(old, new)
    warm = replace(QUICK, sink=replace(QUICK.sink, room_celsius=27.0))
    one = roll(sheets.parse(text, path.name), warm)
    _to_step(one, StepKind.DEVELOP, 39.0)
    begin = one.at
    notes = one.notes(2.9)
    assert 1 == len(notes)
    assert not one.heard(CueName.END_MOVED)
    assert "rest, agitate in" in one.words(begin + 1.5, begin + 2.9)
    one.go_on(3.0)
    assert one.heard(CueName.END_MOVED)
