"""The screens of the choice, of adjusted times, of what came of it, and of the bell."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wetside.cues import gallery, wording
from wetside.cues.lettering import width
from wetside.cues.panels import ROOM
from wetside.cues.snapshot import Snapshot
from wetside.cues.view import view
from wetside.development.law import Row, TimeTable
from wetside.development.limits import Limits, Refused, time_at
from wetside.development.tank import Stands
from wetside.session import machine
from wetside.session import sheet as sheets
from wetside.session.events import Event, Kind

ONE_REEL = next(
    sheet
    for sheet in map(sheets.load, sheets.available([sheets.shipped_folder()]))
    if sheet.name == "one reel 20"
)
SCENES = {scene.name: scene.snapshot for scene in gallery.scenes(ONE_REEL)}


def pages(snapshot: Snapshot, line: int = -1, turns: int = 12) -> list[str]:
    """What stands on one line by turns, each once."""
    texts = [
        view(replace(snapshot, now=snapshot.now + wording.PAGE_SECONDS * turn)).lines[line]
        for turn in range(turns)
    ]
    return list(dict.fromkeys(texts))


def test_both_ways_stand_on_two_lines_with_what_to_press() -> None:
    """20.9 degC: 6:00..7:00 by the table make 6:33, with the filling 6:43 (hand-worked).

    log-straight between 420 s at 20 and 390 at 21: 420 x (390/420)^0.9 = 392.9.
    """
    notice = view(SCENES["message-wait-or-pour"])
    assert ("wait or pour?", "20.9 °C", "waiting is safer") == (
        notice.head,
        notice.corner,
        notice.big,
    )
    assert ("WAIT 3:15 done 10:25", "NOW  pour, done 6:43", "hold now: pour") == notice.lines


def test_a_refused_time_says_why_and_that_holding_pours_all_the_same() -> None:
    """Nominal time, and the reason with its temperatures in the unit of the display."""
    said = pages(SCENES["choice-refused"])
    assert "hold now: nominal time" == said[0]
    assert "27.3 °C is outside the useful range 18.0 to 25.0 °C of this sheet" in " ".join(
        said[1:]
    ).replace("…", "").removeprefix("now: ")
    warm = pages(replace(SCENES["choice-refused"], fahrenheit=True))
    assert "81.1 °F" in " ".join(warm)
    assert "77.0 °F" in " ".join(warm)


def test_what_the_nominal_time_would_make_of_a_hot_developer_is_said_before_and_while_it_runs() -> (
    None
):
    """27.3 degC on a sheet of 20: by its table carried on, 7:00 are half as much again."""
    asked = pages(SCENES["choice-refused"])
    assert "overdevelops ~50 %" == asked[1]
    assert "overdevelops ~50 %" in pages(SCENES["running-no-time"])
    assert "develops" not in " ".join(pages(SCENES["message-wait-or-pour"]))


@pytest.mark.parametrize(
    ("celsius", "line"),
    [
        (15.0, "underdevelops ~30 %"),
        (20.2, "overdevelops a little"),
        (35.0, "overdevelops > 100 %"),
        (None, None),
    ],
)
def test_over_and_under_is_told_roughly_and_only_of_a_measured_developer(
    celsius: float | None, line: str | None
) -> None:
    """Tens of percent, in one line of the display; nothing where nobody measured."""
    law = ONE_REEL.develop.development
    told = wording.overdevelops(law, celsius)
    assert told == (() if line is None else (line,))
    assert wording.overdevelops(None, celsius) == ()
    assert all(width(text) <= ROOM for text in told)


def test_how_far_a_developer_lies_outside_a_table_is_in_the_unit_of_the_display() -> None:
    """A degree Celsius outside is 1.8 degrees Fahrenheit outside."""
    table = TimeTable((Row(18.0, 600.0), Row(22.0, 400.0)), "a table")
    found = time_at(table, 23.0, Limits(15.0, 27.0))
    assert isinstance(found, Refused)
    for fahrenheit, said in ((False, "23.0 °C is 1.0 °C"), (True, "73.4 °F is 1.8 °F")):
        told = wording.briefly(found.reason, fahrenheit=fahrenheit)
        assert f"{said} outside the table of a table" == told


def test_doubts_about_each_way_take_their_turns() -> None:
    """A bath that will not bring it there is named as a doubt about waiting."""
    said = " ".join(pages(SCENES["choice-stuck"]))
    assert "wait: " in said
    assert "better pour now" == view(SCENES["choice-stuck"]).big


def test_the_choice_is_gone_once_the_window_is_open() -> None:
    """READY is an order; what was asked before does not cover it."""
    asked = SCENES["message-wait-or-pour"]
    ready, _ = machine.receive(asked.session, Event(Kind.ENTERED, 119.0))
    assert "ready" == view(replace(asked, session=ready)).name
    assert "tempering" == view(replace(asked, choice=None)).name


def test_tempering_says_that_there_is_a_choice() -> None:
    """Whoever does not know the press reads of it by turns."""
    asked = replace(SCENES["message-wait-or-pour"], message=None)
    assert "now: wait or pour?" in pages(asked)
    assert "now: wait or pour?" not in pages(replace(asked, choice=None))


def test_an_adjusted_step_says_for_which_temperature() -> None:
    """While pouring and while it runs."""
    assert "time for 20.9 °C" in pages(SCENES["pouring-adjusted"])
    assert "time for 20.9 °C" in pages(SCENES["running-adjusted"])
    assert "time for 20.9 °C" not in pages(SCENES["running"])


def _joined(shown: list[str]) -> str:
    """Pages as one text; a caution that is split over pages has dots where it was cut."""
    return " ".join(shown).replace("… …", " ")


def test_a_step_without_a_time_of_its_own_says_so_and_why() -> None:
    """The nominal time runs; the reason stands with it."""
    said = _joined(pages(SCENES["running-no-time"]))
    for words in ("no time for 27.3 °C", "the nominal time runs", "outside the useful range"):
        assert words in said


def test_a_short_time_is_warned_of_while_it_runs() -> None:
    """A law that calls 6:33 short: under 7:00 one pours evenly."""
    snapshot = SCENES["running-adjusted"]
    sheet = snapshot.session.sheet
    assert sheet is not None
    assert sheet.develop.development is not None
    law = sheet.develop.development.model_copy(update={"short_seconds": 420.0})
    develop = sheet.develop.model_copy(update={"development": law})
    changed = sheet.model_copy(update={"step": (sheet.temper, develop, *sheet.step[2:])})
    short = replace(snapshot, session=replace(snapshot.session, sheet=changed))
    assert "under 7:00: pour evenly" in pages(short)
    assert "under" not in " ".join(pages(snapshot))


def test_a_moved_end_is_said_and_counted_down_to() -> None:
    """12 s less of 7:10: the message names it, the screen says the whole and counts to it."""
    assert "0:12 shorter" in view(SCENES["message-end-moved"]).text()
    moved = SCENES["running-end-moved"]
    assert "end moved: 6:58 in all" in pages(moved)
    began = moved.session.began
    assert began is not None
    assert "6:58" == view(replace(moved, now=began)).big


def test_a_step_says_that_its_end_stays_where_the_room_is_not_known() -> None:
    """Only where the sheet asks for a moved end, and the tank stands in the room."""
    running = SCENES["running"]
    sheet = running.session.sheet
    assert sheet is not None
    assert sheet.develop.development is not None
    law = sheet.develop.development.model_copy(update={"may_adjust_end": True})
    develop = sheet.develop.model_copy(update={"development": law})
    warm = sheet.model_copy(update={"step": (sheet.temper, develop, *sheet.step[2:])})
    asked = replace(running, session=replace(running.session, sheet=warm))
    line = "room unset: end stays"
    assert line in pages(replace(asked, room_measured=False))
    assert line not in pages(asked)
    assert line not in pages(replace(running, room_measured=False))
    in_bath = warm.model_copy(update={"tank_stands": Stands.BATH})
    bathed = replace(running, session=replace(running.session, sheet=in_bath), room_measured=False)
    assert line not in pages(bathed)


def test_the_finished_screen_tells_what_development_amounted_to() -> None:
    """94 % of nominal, and its bounds, before the steps' times."""
    said = pages(SCENES["finished-effective"], 0)
    assert ["94 % of nominal", "between 92 and 96 %"] == said[:2]
    assert "% of nominal" not in " ".join(pages(SCENES["finished"], 0))


@pytest.mark.parametrize("name", ["idle-bell", "idle-bell-late", "running-bell"])
def test_bell_lines_take_their_turns(name: str) -> None:
    """Every line about the bell is seen, and so is what stands there without a bell."""
    snapshot = SCENES[name]
    assert snapshot.bell
    said = pages(snapshot, turns=24)
    assert [] == [line for line in snapshot.bell if line not in said]
    assert set(pages(replace(snapshot, bell=()), turns=24)) <= set(said)


def test_the_bell_is_spoken_of_while_tempering_ready_and_held() -> None:
    """Wherever there is time to read it."""
    for name in ("tempering-developer", "ready", "holding", "tempering-hot"):
        assert "bell at 10:50" in pages(replace(SCENES[name], bell=("bell at 10:50",)), turns=24)


def test_wide_steps_of_the_sheet_are_told_in_both_units() -> None:
    """8 degrees Celsius between the baths are 14.4 degrees Fahrenheit."""
    wide = SCENES["tempering-wide-step"]
    assert {"wash is 8.0 °C off fix", "the film may wrinkle"} <= set(pages(wide, turns=24))
    assert "wash is 14.4 °F off fix" in pages(replace(wide, fahrenheit=True), turns=24)


@pytest.mark.parametrize("name", [name for name in SCENES if "-bell" in name])
def test_every_line_about_the_bell_fits_one_line(name: str) -> None:
    """A time that is parted over two turns can be misread."""
    assert SCENES[name].bell
    assert [] == [line for line in SCENES[name].bell if width(line) > ROOM]
