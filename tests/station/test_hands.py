"""What presses do between two runs: which sheet is begun, and when none is."""

from __future__ import annotations

from pathlib import Path

import pytest

from wetside.commands.bench.rig import Rig, RigOptions
from wetside.cues import view
from wetside.cues.lettering import width
from wetside.cues.panels import ROOM
from wetside.journal.reader import Reader
from wetside.readings import Place
from wetside.session import sheet as sheets
from wetside.session.presses import Button, Press
from wetside.session.run import State
from wetside.session.sheet import Sheet, StepKind
from wetside.session.sheetbook import Offer
from wetside.sim.scripts import script
from wetside.sim.sink import Sink as PhysicalSink
from wetside.sim.situation import Situation, usual
from wetside.station.files import journal_path

#: The room is as warm as the target of the sheet.
IN_AIR_OF_THE_TARGET = Situation(23.5, 18.0, sink=PhysicalSink(room_celsius=20.0))


def _rig(folder: Path, there: list[Offer], situation: Situation | None = None) -> Rig:
    """A bench whose station reads ``there`` again at each press that asks for sheets."""
    sheet = there[0].sheet
    sink = situation or usual(sheet.setup(), 1)
    return Rig(RigOptions(folder, sheet, sink, script("me"), seed=1, renew=lambda: there))


def _press(rig: Rig, button: Button) -> None:
    """Press, and go on until that has been answered."""
    pressed = rig.clock.now()
    rig.world.press(button)
    rig.turn_until(lambda: rig.clock.now() > pressed + 1.0)


def _begun(rig: Rig) -> Sheet | None:
    return rig.station.session.sheet


def _offer(text: str, name: str = "Small", file: str = "small.toml", seconds: int = 180) -> Offer:
    text = text.replace('"Small"', f'"{name}"').replace("seconds = 180", f"seconds = {seconds}")
    return Offer(file, sheets.parse(text, file))


@pytest.mark.parametrize(
    ("now", "shown"),
    [
        pytest.param([("Small", "small.toml", 240)], ("Small", 240), id="edited"),
        pytest.param([("New", "small.toml", 180)], ("New", 180), id="renamed"),
        pytest.param([("First", "a.toml", 99), ("Last", "z.toml", 77)], ("First", 99), id="gone"),
        pytest.param(
            [("First", "a.toml", 99), ("Small", "z.toml", 180)], ("First", 99), id="moved"
        ),
    ],
)
def test_only_the_sheet_on_the_display_is_begun(
    tmp_path: Path,
    small_sheet_text: str,
    now: list[tuple[str, str, int]],
    shown: tuple[str, float],
) -> None:
    """If it changed or went, the press is refused, the new offer shown, and begun at the next."""
    there = [_offer(small_sheet_text)]
    rig = _rig(tmp_path, there)
    there[:] = [_offer(small_sheet_text, *one) for one in now]
    _press(rig, Button.NOW)
    refused, said = rig.station.session.state, rig.station.snapshot()
    notice = view.view(said)
    _press(rig, Button.NOW)
    begun = _begun(rig)
    rig.close()
    assert State.IDLE is refused
    assert ("refused", ("the sheet changed,", "look again")) == (notice.name, notice.lines)
    assert all(width(line) <= ROOM for line in notice.lines)
    assert said.offered is not None
    assert shown == (said.offered.name, said.offered.develop.seconds)
    assert said.offered == begun


def test_a_sheet_that_did_not_change_is_begun_though_others_did(
    tmp_path: Path, small_sheet_text: str
) -> None:
    """What the desk did to other files, or to the order of things, refuses no press."""
    there = [_offer(small_sheet_text)]
    rig = _rig(tmp_path, there)
    there[:] = [_offer(small_sheet_text, "First", "a.toml", 99), _offer(small_sheet_text)]
    _press(rig, Button.NOW)
    begun = _begun(rig)
    rig.close()
    assert begun is not None
    assert "Small" == begun.name


def test_without_a_sheet_nothing_is_begun(tmp_path: Path, small_sheet_text: str) -> None:
    """When every sheet is gone the display says so, and the station goes on."""
    there = [_offer(small_sheet_text)]
    rig = _rig(tmp_path, there)
    there.clear()
    _press(rig, Button.NOW)
    said = rig.station.snapshot()
    _press(rig, Button.WAIT)
    rig.close()
    assert ("no sheet is there",) == view.view(said).lines
    assert said.offered is None
    assert State.IDLE is rig.station.session.state


def test_of_two_sheets_with_one_name_the_one_on_the_display_is_begun(
    tmp_path: Path, small_sheet_text: str
) -> None:
    """Namesakes neither stop the list nor take each other's place."""
    there = [
        _offer(small_sheet_text, "Small", "a.toml", 180),
        _offer(small_sheet_text, "Small", "b.toml", 240),
        _offer(small_sheet_text, "Other", "c.toml", 99),
    ]
    rig = _rig(tmp_path, there)
    seen = []
    for _ in range(4):
        _press(rig, Button.WAIT)
        offered = rig.station.snapshot().offered
        assert offered is not None
        seen.append(offered.develop.seconds)
    _press(rig, Button.NOW)
    begun = _begun(rig)
    rig.close()
    assert [240, 99, 180, 240] == seen
    assert begun is not None
    assert 240 == begun.develop.seconds


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


def test_a_solution_ends_early_only_when_now_is_held_twice(
    tmp_path: Path, small_sheet_text: str
) -> None:
    """Held once it asks, with what is still to come; the answer yes ends the step, and is kept."""
    rig = _rig(tmp_path, [_offer(small_sheet_text)])
    _press(rig, Button.NOW)
    rig.world.press(Button.NOW, 2.0)
    rig.turn_until(lambda: rig.station.session.state is State.RUNNING)
    rig.world.press(Button.NOW, 2.0)
    rig.turn_until(lambda: view.view(rig.station.snapshot()).name == "message-end-asked")
    notice, state = view.view(rig.station.snapshot()), rig.station.session.state
    rig.world.press(Button.NOW, 2.0)
    rig.turn_until(lambda: rig.station.session.state is State.HANDOVER)
    flags = rig.station.session.flags
    rig.close()
    assert State.RUNNING is state
    assert "develop: 2:" in notice.lines[0]
    assert "hold now again: yes" == notice.lines[1]
    assert all(width(line) <= ROOM for line in notice.lines)
    assert "ended-early-develop" in flags


def test_where_only_a_dip_tells_no_time_is_offered(tmp_path: Path, small_sheet_text: str) -> None:
    """Neither a wait nor an adjusted time would be right: a press is told to dip."""
    rig = _rig(tmp_path, [_offer(small_sheet_text)], IN_AIR_OF_THE_TARGET)
    rig.world.move("probe", Place.AIR)
    _press(rig, Button.NOW)
    until = rig.clock.now() + 120.0
    rig.turn_until(
        lambda: view.view(rig.station.snapshot()).aside == "DIP" or rig.clock.now() > until
    )
    called = rig.clock.now()
    rig.turn_until(lambda: rig.clock.now() > called + 10.0)  # the call for a dip is shown first
    _press(rig, Button.NOW)
    notice = view.view(rig.station.snapshot())
    rig.close()
    assert ("refused", "dip; or hold to pour") == (notice.name, notice.lines[0])
