"""Who did what, when: a list that only grows, pruned after two years."""

from __future__ import annotations

import time
from dataclasses import dataclass

from wetside_desk.store.database import Database

#: Older entries are removed by `prune`.
KEPT_SECONDS = 2 * 366 * 86400.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that was done."""

    at: float
    who: str
    action: str
    detail: str


def add(database: Database, who: str, action: str, detail: str = "") -> None:
    """Write an entry; labels of students never go into ``detail``."""
    with database.transaction() as connection:
        connection.execute(
            "INSERT INTO audit (at, who, action, detail) VALUES (?, ?, ?, ?)",
            (time.time(), who, action, detail),
        )


def latest(database: Database, limit: int = 100) -> list[Entry]:
    """The latest entries, latest first."""
    with database.read() as connection:
        found = connection.execute(
            "SELECT at, who, action, detail FROM audit ORDER BY number DESC LIMIT ?", (limit,)
        ).fetchall()
    return [Entry(*row) for row in found]


def prune(database: Database, now: float) -> None:
    """Remove what is older than `KEPT_SECONDS`; ``now`` is Unix time of a clock to be trusted.

    Entries stand in the order in which they were written: one that a wrong clock dated goes only
    where an entry after it is old, and none before that one is young.
    """
    with database.transaction() as connection:
        connection.execute(
            "DELETE FROM audit WHERE number <= (SELECT max(number) FROM audit WHERE at < ? "
            "AND number < coalesce((SELECT min(number) FROM audit WHERE at BETWEEN ? AND ?), "
            "number + 1))",
            (now - KEPT_SECONDS, now - KEPT_SECONDS, now),
        )
