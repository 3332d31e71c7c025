"""The bell table at the station: whose clock, whose file, and what the log teaches."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from wetside.clock import Moment
from wetside.development.deadline import NEW_STUDENTS, Handover, learn
from wetside.journal.reader import Reader
from wetside.journal.writer import Writer
from wetside.session import machine, record
from wetside.session.events import Event, Kind
from wetside.session.machine import due
from wetside.session.run import Session, State
from wetside.session.sheet import Sheet
from wetside.session.summary import hand_overs
from wetside.station.bells import BellClock, local
from wetside.station.learning import handover_of
from wetside.station.rows import run_row
from wetside_desk.shelf.counting import Counter
from wetside_desk.store import uses
from wetside_desk.store.database import Database

TABLE = """
format = 1
clear_up_minutes = 5
[[period]]
name = "3"
days = ["monday"]
starts = 09:30:00
ends = 10:50:00
"""


def moment(clock: str, *, trusted: bool = True) -> Moment:
    """A moment of Monday, 6 October 2031 in the time zone of whoever runs this."""
    wall = datetime.fromisoformat(f"2031-10-06T{clock}").astimezone().timestamp()
    return Moment(500.0, wall, trusted, "boot")


@pytest.fixture
def table(tmp_path: Path) -> Path:
    """The file of the school."""
    path = tmp_path / "bells.toml"
    path.write_text(TABLE, encoding="utf-8")
    return path


def test_local_time_is_the_wall_clock_of_the_device() -> None:
    """Without zone, as a bell table is written."""
    assert datetime.fromisoformat("2031-10-06T10:00:00") == local(moment("10:00:00").wall_seconds)


def test_a_trusted_clock_gives_the_latest_start(table: Path, small_sheet: Sheet) -> None:
    """180+30+120+60 s, four hand-overs of 20 s, 5 min: 12:50 before the bell is 10:37:10."""
    bells = BellClock(table, Handover(20.0, 0.0))
    said = bells.look(moment("10:00:00"), Session(), small_sheet, None)
    assert said is not None
    assert ("start by 10:37 to hang", "bell at 10:50") == said.lines
    assert "2031-10-06T10:37:10" == said.values["start_by"]


def test_a_clock_that_is_not_trusted_says_nothing_and_why(table: Path, small_sheet: Sheet) -> None:
    """Nothing on the display; the live file carries the reason."""
    said = BellClock(table).look(moment("10:00:00", trusted=False), Session(), small_sheet, None)
    assert said is not None
    assert () == said.lines
    assert {
        "known": False,
        "why": "the clock is not trusted: no network and no clock chip has set it",
    } == said.values


def test_without_a_table_there_is_no_bell(small_sheet: Sheet) -> None:
    """A school that keeps none hears of none."""
    assert BellClock(None).look(moment("10:00:00"), Session(), small_sheet, None) is None


def test_a_bad_table_is_told_by_file_key_and_reason(table: Path, small_sheet: Sheet) -> None:
    """The station goes on; the live file says what is wrong, and a mended table counts again."""
    bells = BellClock(table)
    table.write_text(TABLE.replace("10:50:00", "09:00:00"), encoding="utf-8")
    bells.reload()
    said = bells.look(moment("10:00:00"), Session(), small_sheet, None)
    assert said is not None
    why = "period[1].ends: 09:00 is not after 09:30, when it starts"
    assert f"{table}: {why}" == said.values["why"]
    table.write_text(TABLE, encoding="utf-8")
    bells.reload()
    mended = bells.look(moment("10:00:00"), Session(), small_sheet, None)
    assert mended is not None
    assert mended.lines


def _run(sheet: Sheet, name: str, late: float) -> list[Event]:
    """A whole run whose every press comes so long after it was due."""
    events = [record.begin(0.0, name, sheet), Event(Kind.ENTERED, 5.0), Event(Kind.NOW, 10.0)]
    session = machine.fold(events)
    while session.state is not State.FINISHED:
        while (event := due(session, 100_000.0)) is not None and event.kind is not Kind.LATE_DUE:
            session, _ = machine.receive(session, event)
            events.append(event)
        events.append(Event(Kind.NOW, events[-1].seconds + late))
        session, _ = machine.receive(session, events[-1])
    return events


def test_gaps_are_what_each_step_lasted_too_long(small_sheet: Sheet) -> None:
    """Four timed steps, each 7 s late."""
    assert (7.0,) * 4 == hand_overs(machine.fold(_run(small_sheet, "01A", 7.0)))


def test_a_step_ended_early_or_left_standing_tells_no_hand_over(small_sheet: Sheet) -> None:
    """Of 400 s after each step nothing is learnt: the film was left standing."""
    assert () == hand_overs(machine.fold(_run(small_sheet, "01A", 400.0)))


def test_a_run_that_was_held_tells_no_hand_over(small_sheet: Sheet) -> None:
    """How long the student took is not told from the hold."""
    held = replace(machine.fold(_run(small_sheet, "01A", 7.0)), flags=("held",))
    assert () == hand_overs(held)


def test_handovers_are_learnt_from_the_stations_own_finished_runs(
    tmp_path: Path, small_sheet: Sheet
) -> None:
    """Two runs with 6 and 12 s: with the four runs' weight of the usual 20 s that is 16.3 s."""
    path = tmp_path / "journal.sqlite"
    with Reader(path) as reader:
        assert NEW_STUDENTS == handover_of(reader, "sink-1")
    with Writer(path, "sink-1") as writer:
        for name, late in (("01A", 6.0), ("01B", 12.0)):
            session = Session()
            for event in _run(small_sheet, name, late):
                session, _ = machine.receive(session, event)
                now = Moment(event.seconds, 1_790_000_000.0 + event.seconds, True, "one")
                row = run_row(session, "sink-1", now, now)
                writer.append(now, str(event.kind), record.encode(event), name, row)
    with Reader(path) as reader:
        learnt = handover_of(reader, "sink-1")
        assert NEW_STUDENTS == handover_of(reader, "another")
    # (4 x 20 + 6 + 12) / 6
    assert pytest.approx(98 / 6) == learnt.mean_seconds


def test_station_and_desk_learn_from_the_same_runs(tmp_path: Path, small_sheet: Sheet) -> None:
    """Twelve runs that tell a hand-over count, whatever ended between them; older ones do not."""
    path = tmp_path / "journal.sqlite"
    database = Database(tmp_path / "desk.sqlite3")
    lates = [290.0, *(float(late) for late in range(1, 13)), 400.0, 400.0]  # 400 s tell nothing
    with Writer(path, "sink-1") as writer:
        for number, late in enumerate(lates):
            session, name = Session(), f"01{number:02}"
            for event in _run(small_sheet, name, late):
                session, _ = machine.receive(session, event)
                seconds = 10_000.0 * number + event.seconds
                now = Moment(seconds, 1_790_000_000.0 + seconds, True, "one")
                row = run_row(session, "sink-1", now, now)
                writer.append(now, str(event.kind), record.encode(event), name, row)
    with Reader(path) as reader:
        at_sink = handover_of(reader, "sink-1")
        Counter(reader, database, tmp_path / "shelf.toml").count_ended()
    assert [pytest.approx(late) for late in range(12, 0, -1)] == uses.gaps(database)
    assert learn([[gap] for gap in uses.gaps(database)]) == at_sink
    database.close()
