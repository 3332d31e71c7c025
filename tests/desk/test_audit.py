"""The list of what was done: how long its entries stay."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING
from unittest import mock

from wetside_desk.store import audit
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from pathlib import Path

DAY = 86400.0


def added(database: Database, action: str, at: float) -> None:
    """An entry written while the clock said so."""
    with mock.patch("time.time", return_value=at):
        audit.add(database, "teacher", action)


def test_entries_go_after_two_years(tmp_path: Path) -> None:
    """What is older than two years is removed, what is younger stays."""
    database, now = Database(tmp_path / "desk.sqlite3"), time.time()
    added(database, "old", now - audit.KEPT_SECONDS - DAY)
    added(database, "young", now - audit.KEPT_SECONDS + DAY)
    audit.prune(database, now)
    assert ["young"] == [entry.action for entry in audit.latest(database)]
    database.close()


def test_an_entry_of_a_wrong_clock_goes_with_its_neighbours(tmp_path: Path) -> None:
    """Written after younger ones, it is as young as they are; before them, a future date is old."""
    database, now = Database(tmp_path / "desk.sqlite3"), time.time()
    added(database, "ahead", now + 900 * DAY)
    added(database, "old", now - audit.KEPT_SECONDS - DAY)
    added(database, "young", now - DAY)
    added(database, "behind", 0.0)
    audit.prune(database, now)
    assert ["behind", "young"] == [entry.action for entry in audit.latest(database)]
    database.close()


def test_a_future_date_with_nothing_old_after_it_stays(tmp_path: Path) -> None:
    """Two entries of a clock four years ahead stay until what was written after them is old."""
    database, now = Database(tmp_path / "desk.sqlite3"), time.time()
    for action in ("ahead", "ahead too"):
        added(database, action, now + 4 * 366 * DAY)
    added(database, "right", now)
    audit.prune(database, now)
    assert ["right", "ahead too", "ahead"] == [entry.action for entry in audit.latest(database)]
    audit.prune(database, now + audit.KEPT_SECONDS + DAY)
    assert [] == audit.latest(database)
    database.close()
