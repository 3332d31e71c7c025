"""In which period each run was: read from the bells when the run was, or written by hand.

A run keeps its period when the bell table changes: last term's runs were in last term's
periods. Only a run that was outside every period is looked at again with another table.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from wetside_desk.store.database import Database

#: As long as the name of a period in a bell table may be.
LONGEST_PERIOD = 12

#: Stands in place of the bell table's tag where somebody wrote the period.
_HAND = "hand"


@dataclass(frozen=True, slots=True)
class RunPeriod:
    """A period's name, and whether somebody wrote it."""

    name: str
    by_hand: bool = False


def checked(period: str) -> str:
    """A period as it may be kept.

    Raises
    ------
    ValueError
        Longer than a bell table allows, or with characters that are not shown.
    """
    period = period.strip()
    if len(period) > LONGEST_PERIOD or not period.isprintable():
        raise ValueError(f"a period is up to {LONGEST_PERIOD} letters, digits and signs")
    return period


def of_runs(database: Database, runs: Sequence[str]) -> dict[str, RunPeriod]:
    """The periods of these runs, without those that were in none."""
    marks = ",".join("?" * len(runs))
    with database.read() as connection:
        found = connection.execute(
            f"SELECT run, period, by = ? FROM run_period WHERE period <> '' AND run IN ({marks})",  # noqa: S608  # question marks only
            (_HAND, *runs),
        ).fetchall()
    return {run: RunPeriod(period, bool(by_hand)) for run, period, by_hand in found}


def settled(database: Database, runs: Sequence[str], table: str) -> set[str]:
    """Which of these runs need no look at the bell table with this tag."""
    marks = ",".join("?" * len(runs))
    with database.read() as connection:
        found = connection.execute(
            f"SELECT run FROM run_period WHERE (period <> '' OR by = ?) AND run IN ({marks})",  # noqa: S608  # question marks only
            (table, *runs),
        ).fetchall()
    return {row[0] for row in found}


def runs_in(database: Database, period: str) -> tuple[str, ...]:
    """Ids of the runs in this period, in whatever letters it is written."""
    with database.read() as connection:
        found = connection.execute(
            "SELECT run FROM run_period WHERE period = ? COLLATE NOCASE", (period.strip(),)
        ).fetchall()
    return tuple(row[0] for row in found)


def keep(database: Database, found: Mapping[str, str], table: str) -> None:
    """Keep what the bell table with this tag says of runs, empty = none; a hand stands above it."""
    with database.transaction() as connection:
        connection.executemany(
            "INSERT INTO run_period (run, period, by) VALUES (?, ?, ?) ON CONFLICT (run) DO UPDATE "
            "SET period = excluded.period, by = excluded.by WHERE run_period.period = ''",
            [(run, period, table) for run, period in found.items()],
        )


def write(database: Database, run: str, period: str) -> None:
    """Somebody says in which period a run was; empty = as the bells have it."""
    with database.transaction() as connection:
        connection.execute("DELETE FROM run_period WHERE run = ?", (run,))
        if period:
            connection.execute(
                "INSERT INTO run_period (run, period, by) VALUES (?, ?, ?)", (run, period, _HAND)
            )
