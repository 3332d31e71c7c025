"""Taking a run up again after a kill or a power cut."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from wetside.clock import Moment
from wetside.errors import RunUnreadable
from wetside.journal.reader import Reader
from wetside.journal.schema import OpenRun
from wetside.journal.thread import WriterThread
from wetside.journal.writer import Writer
from wetside.session import machine, record
from wetside.session.events import Event, Kind
from wetside.session.run import Session, State
from wetside.session.sheet import Sheet
from wetside.station.recovery import take_up, take_up_or_end
from wetside.station.rows import run_row

WALL = 1_790_000_000.0


def _moment(seconds: float, boot: str = "one", *, trusted: bool = True) -> Moment:
    return Moment(seconds, WALL + seconds, trusted, boot)


def _cut_at_250(
    folder: Path, sheet: Sheet, *, trusted: bool = True, foreign: bool = False
) -> OpenRun:
    """A run whose power went 40 s into developing; ``foreign``: logged by another version."""
    events = [
        record.begin(100, "01RUN", sheet),
        Event(Kind.ENTERED, 200),
        Event(Kind.NOW, 210, {"developer_celsius": 20.0}),
        Event(Kind.FILLED, 220),
        Event(Kind.AGITATE, 220),
        Event(Kind.REST, 250),
    ]
    session = Session()
    with Writer(folder / "journal.sqlite", "sink-1") as writer:
        for event in events:
            session, _ = machine.receive(session, event)
            now = _moment(event.seconds, trusted=trusted)
            row = run_row(session, "sink-1", _moment(100, trusted=trusted), now)
            detail: dict[str, Any] = json.loads(json.dumps(record.encode(event)))
            if foreign and event.kind is Kind.BEGIN:
                detail["sheet"]["step"][1]["a_key_of_another_version"] = 1
            writer.append(now, str(event.kind), detail, "01RUN", row)
    with Reader(folder / "journal.sqlite") as reader:
        found = reader.open_run("sink-1")
    assert found is not None
    return found


def test_on_the_same_boot_the_run_goes_on_exactly(tmp_path: Path, small_sheet: Sheet) -> None:
    """After a kill nothing is asked: the session is what it was, and its clock went on."""
    found = take_up(_cut_at_250(tmp_path, small_sheet), _moment(262.5))
    assert found is not None
    assert found.meanwhile is None
    assert State.RUNNING is found.session.state
    assert (210.0, 270.0) == (found.session.began, machine.next_due(found.session))


def test_after_a_reboot_with_clocks_the_gap_is_known(tmp_path: Path, small_sheet: Sheet) -> None:
    """With a trusted clock at both ends, developing has gone on for the time the power was off."""
    now = Moment(30.0, WALL + 250 + 45, True, "two")  # 45 s after the cut
    found = take_up(_cut_at_250(tmp_path, small_sheet), now)
    assert found is not None
    assert found.meanwhile is not None
    assert "off for 0:45" == found.meanwhile.detail["gap"]
    session, cues = machine.receive(found.session, found.meanwhile)
    assert State.INTERRUPTED is session.state
    assert session.began is not None
    assert 85.0 == pytest.approx(now.seconds - session.began)  # 40 s before, 45 s of darkness
    assert cues[0].values["gap"]


def test_after_a_reboot_without_clocks_only_a_bound_is_said(
    tmp_path: Path, small_sheet: Sheet
) -> None:
    """Without a trusted clock the station says at least how long it was, and asks."""
    now = Moment(30.0, 1_000.0, False, "two")
    found = take_up(_cut_at_250(tmp_path, small_sheet, trusted=False), now)
    assert found is not None
    assert found.meanwhile is not None
    assert found.meanwhile.detail["gap_seconds"] is None
    assert found.meanwhile.detail["at_most_seconds"] is None
    assert 30.0 == found.meanwhile.detail["at_least_seconds"]
    assert "off 0:30 or longer" == found.meanwhile.detail["gap"]


def test_a_run_that_ended_is_not_taken_up(tmp_path: Path, small_sheet: Sheet) -> None:
    """A run given up before the cut stays given up."""
    open_run = _cut_at_250(tmp_path, small_sheet)
    with Writer(tmp_path / "journal.sqlite", "sink-1") as writer:
        session = record.rebuild((row.kind, row.detail) for row in open_run.events)
        session, _ = machine.receive(session, Event(Kind.ABANDON, 255))
        row = run_row(session, "sink-1", _moment(100), _moment(255))
        writer.append(_moment(255), "abandon", record.encode(Event(Kind.ABANDON, 255)), row=row)
    with Reader(tmp_path / "journal.sqlite") as reader:
        assert take_up(reader.open_run("sink-1"), _moment(260)) is None


def test_without_any_run_nothing_is_taken_up() -> None:
    """A fresh station begins idle."""
    assert take_up(None, _moment(5)) is None


def test_what_a_new_boot_journals_first_does_not_hide_the_cut(
    tmp_path: Path, small_sheet: Sheet
) -> None:
    """A station that writes of its start before it looks for the run still finds the reboot."""
    _cut_at_250(tmp_path, small_sheet)
    now = Moment(30.0, WALL + 250 + 45, True, "two")
    with Writer(tmp_path / "journal.sqlite", "sink-1") as writer:
        writer.append(now, "station-started", {"version": "0"})
    with Reader(tmp_path / "journal.sqlite") as reader:
        found = take_up(reader.open_run("sink-1"), now)
    assert found is not None
    assert found.meanwhile is not None
    assert found.meanwhile.detail["gap_seconds"] == pytest.approx(45.0)


def test_a_run_of_another_version_is_told_from_one_that_can_be_taken_up(
    tmp_path: Path, small_sheet: Sheet
) -> None:
    """The key that is not known is named, and the run can be ended where it stood."""
    found = _cut_at_250(tmp_path, small_sheet, foreign=True)
    with pytest.raises(RunUnreadable, match=r"step\[2\]\.a_key_of_another_version: .*not known"):
        take_up(found, _moment(262.5))


def test_a_run_whose_events_lead_nowhere_is_ended_where_it_stood(
    tmp_path: Path, small_sheet: Sheet
) -> None:
    """Where no event of a run is left there is nothing to go on with, and others can begin."""
    found = replace(_cut_at_250(tmp_path, small_sheet), events=())
    assert take_up(found, _moment(262.5)) is None
    with WriterThread(tmp_path / "journal.sqlite", "sink-1") as journal:
        assert take_up_or_end(found, _moment(262.5), journal) is None
    with Reader(tmp_path / "journal.sqlite") as reader:
        assert reader.open_run("sink-1") is None
        row, events = reader.run("01RUN"), reader.events("01RUN")
    assert row is not None
    assert ("abandoned", _moment(250)) == (row.state, row.ended)
    assert ("run-unreadable", {"why": "its events lead to no open run"}) == (
        events[-1].kind,
        events[-1].detail,
    )


def _started(tmp_path: Path) -> str:
    """Start the real station over the journal in ``data``, and give the state it shows."""
    settings = tmp_path / "station.toml"
    settings.write_text(
        f'data_folder = "{tmp_path / "data"}"\nlive_folder = "{tmp_path / "live"}"\n'
        f'w1_folder = "{tmp_path / "w1"}"\n',
        encoding="utf-8",
    )
    live = tmp_path / "live" / "live.json"
    words = ["--settings", str(settings), "--parts-from", str(tmp_path / "pins")]
    with subprocess.Popen([sys.executable, "-m", "wetside", "station", *words]) as process:
        deadline = time.monotonic() + 60
        while not live.exists() and time.monotonic() < deadline:
            time.sleep(0.1)
        state = json.loads(live.read_text(encoding="utf-8"))["state"]
        process.terminate()
    return str(state)


@pytest.mark.slow
def test_the_real_station_starts_over_a_run_of_another_version(
    tmp_path: Path, small_sheet: Sheet
) -> None:
    """It ends that run, says why in the journal, and is there for the next one."""
    (tmp_path / "data").mkdir()
    _cut_at_250(tmp_path / "data", small_sheet, foreign=True)
    assert "idle" == _started(tmp_path)
    with Reader(tmp_path / "data" / "journal.sqlite") as reader:
        assert reader.open_run("sink-1") is None
        row, events = reader.run("01RUN"), reader.events("01RUN")
    assert row is not None
    assert ("abandoned", "run-unreadable") == (row.state, events[-1].kind)


@pytest.mark.slow
def test_the_real_station_asks_after_a_reboot(tmp_path: Path, small_sheet: Sheet) -> None:
    """Started on another boot with a run open, the station's process stands at the question."""
    (tmp_path / "data").mkdir()
    _cut_at_250(tmp_path / "data", small_sheet)
    assert "interrupted" == _started(tmp_path)
    with Reader(tmp_path / "data" / "journal.sqlite") as reader:
        kinds = [row.kind for row in reader.events("01RUN")]
    assert ["power-lost", "run-taken-up"] == kinds[-2:]


def test_an_adjusted_step_is_taken_up_with_its_own_time(tmp_path: Path, small_sheet: Sheet) -> None:
    """Killed 10 s after the end was moved, the run ends developing at the moved time."""
    events = [
        record.begin(100, "01RUN", small_sheet),
        Event(Kind.NOW, 210, {"developer_celsius": 22.0, "develop_seconds": 150.0}),
        Event(Kind.FILLED, 220),
        Event(Kind.AGITATE, 220),
        Event(Kind.REST, 250),
        Event(Kind.END_MOVED, 255, {"develop_seconds": 142.0}),
    ]
    session = Session()
    with Writer(tmp_path / "journal.sqlite", "sink-1") as writer:
        for event in events:
            session, _ = machine.receive(session, event)
            now = _moment(event.seconds)
            row = run_row(session, "sink-1", _moment(100), now)
            writer.append(now, str(event.kind), record.encode(event), "01RUN", row)
    with Reader(tmp_path / "journal.sqlite") as reader:
        found = take_up(reader.open_run("sink-1"), _moment(265.0))
        row = reader.run("01RUN")
    assert found is not None
    assert session == found.session
    ends = [
        event.seconds
        for event in _rest_of(found.session)
        if event.kind in {Kind.DRAIN_DUE, Kind.END_DUE}
    ]
    assert [342.0, 352.0] == ends  # 210 + 142, ten seconds of draining before
    assert row is not None
    assert 142.0 == row.planned_develop_seconds


def _rest_of(session: Session) -> list[Event]:
    events = []
    while (event := machine.due(session, 10_000.0)) is not None:
        session, _ = machine.receive(session, event)
        events.append(event)
    return events
