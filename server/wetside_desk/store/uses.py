"""What went through each bottle, one row for each run and bottle, and what ended runs left.

A bottle is known by its label. Mixed anew it is another *filling*: the uses of the one before
stay on record and no longer count.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from sqlite3 import Connection

from wetside.development.bottles import ShelfFile
from wetside.development.deadline import HANDOVER_RUNS
from wetside.development.shelf import Use
from wetside_desk.store.database import Database


@dataclass(frozen=True, slots=True)
class Ended:
    """What an ended run left: ``missing`` names what found no bottle or is in doubt."""

    run: str
    ended: float
    missing: tuple[str, ...] = ()
    gap_seconds: float | None = None


def note_fillings(
    database: Database, shelf: ShelfFile, now: float | None = None
) -> dict[str, float]:
    """Take note of the bottles on the shelf; gives for each since when its runs count.

    A later day of mixing is a new filling. An earlier one mends a mistake, and uses stay. A label
    that is met anew begins above the fillings on record under it.
    """
    now = time.time() if now is None else now
    with database.transaction() as connection:
        rows = connection.execute("SELECT label, mixed_on, known FROM filling").fetchall()
        known = {label: (mixed_on, since) for label, mixed_on, since in rows}
        for bottle in shelf.bottle:
            mixed = bottle.mixed_on.isoformat()
            if bottle.label not in known:
                connection.execute(
                    "INSERT INTO filling (label, number, mixed_on, known) VALUES (?, ?, ?, ?)",
                    (bottle.label, _next_number(connection, bottle.label), mixed, now),
                )
                known[bottle.label] = (mixed, now)
            elif known[bottle.label][0] < mixed:
                connection.execute(
                    "UPDATE filling SET number = number + 1, mixed_on = ?, known = ? "
                    "WHERE label = ?",
                    (mixed, now, bottle.label),
                )
                known[bottle.label] = (mixed, now)
            elif known[bottle.label][0] > mixed:
                connection.execute(
                    "UPDATE filling SET mixed_on = ? WHERE label = ?", (mixed, bottle.label)
                )
    return {bottle.label: known[bottle.label][1] for bottle in shelf.bottle}


def mend(database: Database, now: float) -> None:
    """Runs count from the day of mixing where a clock that stood ahead said when a bottle came.

    ``now`` is Unix time of a clock to be trusted.
    """
    with database.read() as connection:
        ahead = connection.execute(
            "SELECT label, mixed_on FROM filling WHERE known > ?", (now,)
        ).fetchall()
    if not ahead:
        return  # nothing is written, as this is asked every few seconds
    with database.transaction() as connection:
        for label, mixed_on in ahead:
            since = min(now, datetime.fromisoformat(mixed_on).timestamp())
            connection.execute("UPDATE filling SET known = ? WHERE label = ?", (since, label))


def renew(database: Database, label: str, mixed_on: date) -> None:
    """The bottle was mixed anew, perhaps on the same day: what was counted counts no more."""
    with database.transaction() as connection:
        connection.execute(
            "UPDATE filling SET number = number + 1, mixed_on = ?, known = ? WHERE label = ?",
            (mixed_on.isoformat(), time.time(), label),
        )


def rename(database: Database, old: str, new: str) -> None:
    """The bottle got another label; the uses of its filling go with it.

    What a bottle taken away earlier has on record under that label stays there and does not count.
    Of a run that went through both, the one that stands on the shelf is kept.
    """
    with database.transaction() as connection:
        number = _next_number(connection, new)
        connection.execute("DELETE FROM filling WHERE label = ?", (new,))
        connection.execute(
            "UPDATE OR REPLACE bottle_use SET label = ?, number = ? WHERE label = ? AND number = "
            "(SELECT number FROM filling WHERE filling.label = ?)",
            (new, number, old, old),
        )
        connection.execute(
            "UPDATE filling SET label = ?, number = ? WHERE label = ?", (new, number, old)
        )


def _next_number(connection: Connection, label: str) -> int:
    """Number of a filling above every one that this label had."""
    (number,) = connection.execute(
        "SELECT 1 + COALESCE(MAX(number), 0) FROM (SELECT number FROM bottle_use WHERE label = ? "
        "UNION ALL SELECT number FROM filling WHERE label = ?)",
        (label, label),
    ).fetchone()
    return int(number)


def current(database: Database) -> list[Use]:
    """The uses of the fillings that stand on the shelf."""
    with database.read() as connection:
        rows = connection.execute(
            "SELECT u.run, u.label, u.day, u.rolls, u.drawn FROM bottle_use AS u "
            "JOIN filling AS f ON f.label = u.label AND f.number = u.number ORDER BY u.day, u.run"
        ).fetchall()
    return [
        Use(run, label, date.fromisoformat(day), rolls, drawn)
        for run, label, day, rolls, drawn in rows
    ]


def of_runs(database: Database, runs: Sequence[str]) -> dict[str, list[Use]]:
    """The uses of these runs, of earlier fillings too."""
    marks = ",".join("?" * len(runs))
    with database.read() as connection:
        rows = connection.execute(
            f"SELECT run, label, day, rolls, drawn FROM bottle_use WHERE run IN ({marks}) "  # noqa: S608  # question marks only
            "ORDER BY label",
            tuple(runs),
        ).fetchall()
    found: dict[str, list[Use]] = {run: [] for run in runs}
    for run, label, day, rolls, drawn in rows:
        found[run].append(Use(run, label, date.fromisoformat(day), rolls, drawn))
    return found


def record(database: Database, ended: Ended, uses: Iterable[Use]) -> bool:
    """Keep what a run came to, all or nothing; False when it was counted before."""
    with database.transaction() as connection:
        taken = connection.execute(
            "INSERT OR IGNORE INTO ended_run (run, ended, missing, gap_seconds) "
            "VALUES (?, ?, ?, ?)",
            (ended.run, ended.ended, "\n".join(ended.missing), ended.gap_seconds),
        ).rowcount
        if not taken:
            return False
        for use in uses:
            connection.execute(
                "INSERT OR IGNORE INTO bottle_use (run, label, number, day, rolls, drawn) "
                "SELECT ?, label, number, ?, ?, ? FROM filling WHERE label = ?",
                (use.run, use.on.isoformat(), use.rolls, use.drawn_millilitres, use.bottle),
            )
    return True


def move(database: Database, run: str, old: str, use: Use | None) -> None:
    """The teacher says that a run went through another bottle, or (None) through none.

    With ``old`` empty nothing is taken away.
    """
    with database.transaction() as connection:
        connection.execute("DELETE FROM bottle_use WHERE run = ? AND label = ?", (run, old))
        if use is not None:
            connection.execute(
                "INSERT OR REPLACE INTO bottle_use (run, label, number, day, rolls, drawn) "
                "SELECT ?, label, number, ?, ?, ? FROM filling WHERE label = ?",
                (run, use.on.isoformat(), use.rolls, use.drawn_millilitres, use.bottle),
            )


def counted(database: Database, runs: Sequence[str]) -> set[str]:
    """Which of these runs were counted."""
    marks = ",".join("?" * len(runs))
    with database.read() as connection:
        found = connection.execute(
            f"SELECT run FROM ended_run WHERE run IN ({marks})",  # noqa: S608  # question marks only
            tuple(runs),
        ).fetchall()
    return {row[0] for row in found}


def settle(database: Database, run: str, beginning: str) -> None:
    """What begins so is no more to be looked at in that run."""
    with database.transaction() as connection:
        for (missing,) in connection.execute(
            "SELECT missing FROM ended_run WHERE run = ?", (run,)
        ).fetchall():
            left = [line for line in missing.split("\n") if not line.startswith(beginning)]
            connection.execute(
                "UPDATE ended_run SET missing = ? WHERE run = ?", ("\n".join(left), run)
            )


def missing_of(database: Database, run: str) -> tuple[str, ...]:
    """What found no bottle in a run, or is in doubt."""
    with database.read() as connection:
        found = connection.execute("SELECT missing FROM ended_run WHERE run = ?", (run,)).fetchone()
    return tuple(found[0].split("\n")) if found and found[0] else ()


def latest_ended(database: Database, number: int) -> list[Ended]:
    """The runs that ended last, latest first."""
    with database.read() as connection:
        rows = connection.execute(
            "SELECT run, ended, missing, gap_seconds FROM ended_run "
            "ORDER BY ended DESC, run DESC LIMIT ?",
            (number,),
        ).fetchall()
    return [
        Ended(run, ended, tuple(missing.split("\n")) if missing else (), gap)
        for run, ended, missing, gap in rows
    ]


def gaps(database: Database) -> list[float]:
    """Mean hand-over of each of the latest runs that tell one, seconds, latest first."""
    with database.read() as connection:
        rows = connection.execute(
            "SELECT gap_seconds FROM ended_run WHERE gap_seconds IS NOT NULL "
            "ORDER BY ended DESC LIMIT ?",
            (HANDOVER_RUNS,),
        ).fetchall()
    return [row[0] for row in rows]
