"""Sheets are taken as they are when a run begins."""

from __future__ import annotations

from pathlib import Path

import pytest

from wetside.commands.bench.rig import Rig, RigOptions
from wetside.journal.reader import Reader
from wetside.session import sheet as sheets
from wetside.session.machine import State
from wetside.session.presses import Button, Press
from wetside.session.sheet import Sheet, StepKind
from wetside.sim.scripts import script
from wetside.sim.situation import usual
from wetside.station.files import journal_path


def _rig(folder: Path, there: list[Sheet]) -> Rig:
    setup = there[0].setup()
    rig = Rig(RigOptions(folder, there[0], usual(setup, 1), script("me"), seed=1))
    rig.station._hands._renew = lambda: there
    return rig


def test_a_run_takes_the_sheet_as_the_desk_left_it(tmp_path: Path, small_sheet_text: str) -> None:
    """A sheet that was changed after the station started is begun as it is now."""
    there = [sheets.parse(small_sheet_text, "small")]
    rig = _rig(tmp_path, there)
    there[0] = sheets.parse(small_sheet_text.replace("seconds = 180", "seconds = 240"), "small")
    rig.world.press(Button.NOW)
    rig.turn_until(lambda: rig.station.session.state is State.TEMPERING)
    begun = rig.station.session.sheet
    rig.close()
    assert begun is not None
    assert 240.0 == begun.step[1].seconds


def test_a_sheet_that_is_gone_is_not_begun(tmp_path: Path, small_sheet_text: str) -> None:
    """When the offered sheet was taken away, the first that is there is begun instead."""
    there = [sheets.parse(small_sheet_text, "small")]
    rig = _rig(tmp_path, there)
    there[0] = sheets.parse(small_sheet_text.replace('"Small"', '"Other"'), "other")
    rig.world.press(Button.NOW)
    rig.turn_until(lambda: rig.station.session.state is State.TEMPERING)
    begun = rig.station.session.sheet
    rig.close()
    assert begun is not None
    assert "Other" == begun.name


def _hung_with_two_presses(
    folder: Path, sheet: Sheet, monkeypatch: pytest.MonkeyPatch, apart_seconds: float
) -> tuple[Rig, str]:
    """A roll at its end: the last press and another one come in one turn of the loop."""
    setup = sheet.setup()
    rig = Rig(RigOptions(folder, sheet, usual(setup, 1), script("scripted"), seed=1))
    station = rig.station

    def before_the_last_press() -> bool:
        state, following = station.session.state, station.session.following
        return state is State.HANDOVER and following is not None and following.kind is StepKind.HANG

    rig.student.begin()
    rig.turn_until(before_the_last_press)
    run, now = station.session.run, rig.clock.now()
    assert run is not None
    pressed = [Press(now - apart_seconds, Button.NOW), Press(now, Button.NOW)]
    with monkeypatch.context() as patch:
        patch.setattr(station._parts.buttons, "take", lambda: pressed)
        station.turn()
    return rig, run


def test_a_run_that_ends_in_the_turn_in_which_another_begins_is_ended_in_the_journal(
    tmp_path: Path, small_sheet: Sheet, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each event is filed under its own run, and only the new run is open."""
    rig, run = _hung_with_two_presses(tmp_path, small_sheet, monkeypatch, 3.0)
    begun = rig.station.session.run
    rig.journal.settled(10.0)
    with Reader(journal_path(rig.settings)) as reader:
        row, left_open, kinds = reader.run(run), reader.open_run(), reader.events(run)
    rig.close()
    assert row is not None
    assert left_open is not None
    assert run != begun == left_open.row.id
    assert ("finished", "now") == (row.state, kinds[-1].kind)
    assert row.ended is not None


def test_a_second_press_of_the_same_hand_begins_no_run(
    tmp_path: Path, small_sheet: Sheet, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a second after the film was hung nobody wants the next roll."""
    rig, run = _hung_with_two_presses(tmp_path, small_sheet, monkeypatch, 0.5)
    session = rig.station.session
    rig.close()
    assert (run, State.FINISHED) == (session.run, session.state)
