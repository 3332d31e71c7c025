"""What stands in the way of a start: damage that the check of the journal did not reach."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from wetside.clock import Moment
from wetside.commands.station import _earlier
from wetside.development.deadline import NEW_STUDENTS
from wetside.journal.reader import Reader
from wetside.journal.schema import RunRow
from wetside.journal.thread import WriterThread
from wetside.settings import StationSettings


def _with_a_broken_leaf(path: Path, now: Moment, row: RunRow) -> None:
    """A journal whose open run can be found, but not all of its events."""
    thread = WriterThread(path, "sink-1")
    thread.append(now, "begin", {}, row.id, row)
    for _ in range(300):
        thread.append(now, "agitate", {"filling": "x" * 100}, row.id)
    thread.close()
    connection = sqlite3.connect(path)
    size = connection.execute("PRAGMA page_size").fetchone()[0]
    page = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'event'").fetchone()[
        0
    ]
    connection.close()
    content = bytearray(path.read_bytes())
    while content[(page - 1) * size] in {2, 5}:  # inner pages, by SQLite's file format
        first_cell = (page - 1) * size + 12
        cell = (page - 1) * size + int.from_bytes(content[first_cell : first_cell + 2], "big")
        page = int.from_bytes(content[cell : cell + 4], "big")
    content[(page - 1) * size] = 0x07  # no page is of this kind
    path.write_bytes(bytes(content))


def test_a_station_starts_over_damage_that_the_check_did_not_reach(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The file is set aside when the open run cannot be read, and a new one is written to."""
    settings = StationSettings(station="sink-1", data_folder=tmp_path)
    path, now = tmp_path / "journal.sqlite", Moment(1.0, 1_790_000_000.0, True, "one")
    row = RunRow("01RUN", "sink-1", "small", "Small", now, "tempering")
    _with_a_broken_leaf(path, now, row)
    thread = WriterThread(path, "sink-1", check_seconds=0.0)
    thread.append(now, "station-started", {})
    assert (None, NEW_STUDENTS) == _earlier(thread, settings)
    assert "damaged" in capsys.readouterr().err
    thread.append(now, "on-it-goes", {})
    assert thread.settled(10.0)
    thread.close()
    assert (tmp_path / "journal.damaged-1.sqlite").exists()
    with Reader(path) as reader:
        assert "on-it-goes" in {event.kind for event in reader.latest_events("sink-1")}
