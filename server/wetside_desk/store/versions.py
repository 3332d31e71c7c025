"""Every text that shelf, bells and sheets ever had, so that an earlier one can be put back."""

from __future__ import annotations

import time
from dataclasses import dataclass

from wetside_desk.store.database import Database

#: The largest number of a version that is looked for.
LAST = 1_000_000


@dataclass(frozen=True, slots=True)
class Version:
    """One text; ``number`` counts from one for each file. ``who`` wrote it, ``at`` in Unix time."""

    number: int
    at: float
    who: str
    text: str


def keep(database: Database, kind: str, name: str, text: str, who: str) -> int:
    """Keep a text unless the latest version is the same; gives its number."""
    with database.transaction() as connection:
        latest = connection.execute(
            "SELECT number, text FROM version WHERE kind = ? AND name = ? "
            "ORDER BY number DESC LIMIT 1",
            (kind, name),
        ).fetchone()
        if latest is not None and latest[1] == text:
            return int(latest[0])
        number = 1 + (latest[0] if latest is not None else 0)
        connection.execute(
            "INSERT INTO version (kind, name, number, at, who, text) VALUES (?, ?, ?, ?, ?, ?)",
            (kind, name, number, time.time(), who, text),
        )
        return int(number)


def of(database: Database, kind: str, name: str) -> list[Version]:
    """All versions of a file, latest first."""
    with database.read() as connection:
        found = connection.execute(
            "SELECT number, at, who, text FROM version WHERE kind = ? AND name = ? "
            "ORDER BY number DESC",
            (kind, name),
        ).fetchall()
    return [Version(*row) for row in found]


def latest(database: Database, kind: str) -> dict[str, Version]:
    """The latest version of every file of a kind that was ever kept here, by the file's name."""
    with database.read() as connection:
        found = connection.execute(
            # SQLite takes the other columns from the row of the greatest number
            "SELECT name, MAX(number), at, who, text FROM version WHERE kind = ? GROUP BY name",
            (kind,),
        ).fetchall()
    return {name: Version(*row) for name, *row in found}


def one(database: Database, kind: str, name: str, number: int) -> Version | None:
    """One version of a file."""
    with database.read() as connection:
        row = connection.execute(
            "SELECT number, at, who, text FROM version WHERE kind = ? AND name = ? AND number = ?",
            (kind, name, number),
        ).fetchone()
    return None if row is None else Version(*row)
