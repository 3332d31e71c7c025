"""Short labels of students, the one-time links that give them, and their removal."""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

from wetside_desk.store.database import Database

#: Letters and digits that are not mistaken for one another (Crockford's base 32).
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

#: A link can be used for this long.
LINK_SECONDS = 1800.0
#: 60 bits: guessing one within its half hour is hopeless even without the rate limit.
_LINK_CHARACTERS = 12

LONGEST_LABEL = 8


class Conflict(Exception):
    """Somebody else gave or removed the label meanwhile."""


@dataclass(frozen=True, slots=True)
class Label:
    """A label of letters and digits, and when it was given."""

    label: str
    given: float = 0.0


def checked(label: str) -> Label:
    """A label as it may be kept: capitals, letters and digits.

    Raises
    ------
    ValueError
        Something else than letters and digits, or too long.
    """
    label = _capitals(label)
    if not label.isalnum() or len(label) > LONGEST_LABEL:
        raise ValueError(f"a label is 1 to {LONGEST_LABEL} letters or digits, without spaces")
    return Label(label, time.time())


def _capitals(label: str) -> str:
    return label.strip().upper()


def of_run(database: Database, run: str) -> Label | None:
    """The label of a run."""
    return of_runs(database, [run]).get(run)


def of_runs(database: Database, runs: Sequence[str]) -> dict[str, Label]:
    """The labels of these runs, without those that have none."""
    marks = ",".join("?" * len(runs))
    with database.read() as connection:
        found = connection.execute(
            f"SELECT run, label, given FROM label WHERE run IN ({marks})",  # noqa: S608  # question marks only
            tuple(runs),
        ).fetchall()
    return {row[0]: Label(*row[1:]) for row in found}


def runs_with(database: Database, label: str) -> tuple[str, ...]:
    """Ids of runs with this label."""
    with database.read() as connection:
        found = connection.execute(
            "SELECT run FROM label WHERE label = ?", (_capitals(label),)
        ).fetchall()
    return tuple(row[0] for row in found)


def give(database: Database, run: str, label: Label | None, seen: str = "") -> None:
    """Give a run its label, None = remove it; ``seen`` is the one that the writer saw.

    Raises
    ------
    Conflict
        The run has another label by now.
    """
    with database.transaction() as connection:
        row = connection.execute("SELECT label FROM label WHERE run = ?", (run,)).fetchone()
        if (row[0] if row else "") != seen:
            raise Conflict
        if label is None:
            connection.execute("DELETE FROM label WHERE run = ?", (run,))
        else:
            _put(connection, run, label)


def _put(connection: sqlite3.Connection, run: str, label: Label) -> None:
    connection.execute(
        "INSERT OR REPLACE INTO label (run, label, given) VALUES (?, ?, ?)",
        (run, label.label, label.given),
    )


def forget(database: Database, label: str) -> int:
    """Remove a student: the label from all runs, with the notes on those runs.

    What a restore set aside forgets too. Gives the number of runs that carried it, here or there.
    """
    with database.transaction() as connection:
        found = _forget(connection, label)
    database.wipe()
    database.change_set_aside(lambda copy: found.update(_forget(copy, label)))
    return len(found)


def _forget(connection: sqlite3.Connection, label: str) -> set[str]:
    given = (_capitals(label),)
    found = {run for (run,) in connection.execute("SELECT run FROM label WHERE label = ?", given)}
    connection.execute(
        "DELETE FROM note WHERE run IN (SELECT run FROM label WHERE label = ?)", given
    )
    connection.execute("DELETE FROM label WHERE label = ?", given)
    return found


def expire(database: Database, before: float, made: Callable[[str, float], float]) -> int:
    """Remove labels of runs before this Unix time, set aside or not; gives how many were in use.

    ``made`` tells from a run, and from when its label was given, how old the label is, Unix time.
    """
    known = cache(made)

    def old_labels(connection: sqlite3.Connection) -> int:
        found = connection.execute("SELECT run, given FROM label").fetchall()
        old = [(run,) for run, given in found if known(run, given) < before]
        connection.executemany("DELETE FROM label WHERE run = ?", old)
        return len(old)

    with database.read() as connection:
        there = connection.execute("SELECT run, given FROM label").fetchall()
    for run, given in there:
        known(run, given)  # many questions to the journal, while nobody has to wait for this file

    with database.transaction() as connection:
        connection.execute("DELETE FROM link WHERE expires < ?", (time.time(),))
        found = old_labels(connection)
    if found:
        database.wipe()
    database.change_set_aside(old_labels)
    return found


#: A link that gives a label: it puts none in place of one that the teacher gave meanwhile.
_IN_FORCE = "digest = ? AND expires > ? AND expires < ? AND run NOT IN (SELECT run FROM label)"


def _span(now: float) -> tuple[float, float]:
    """Between which moments a link ends that is good now.

    One that ends later was made by a clock that stood ahead and was put right since.
    """
    return now, now + 2 * LINK_SECONDS


def in_time(expires: float, now: float) -> bool:
    """Whether a link that ends then is good now."""
    first, last = _span(now)
    return first < expires < last


def _digest(token: str) -> str:
    return hashlib.sha256(f"link:{token.upper()}".encode()).hexdigest()


def new_link(database: Database, run: str, now: float | None = None) -> tuple[str, float]:
    """A link token for one run and when it expires; earlier links of that run end."""
    token = "".join(secrets.choice(ALPHABET) for _ in range(_LINK_CHARACTERS))
    expires = (time.time() if now is None else now) + LINK_SECONDS
    with database.transaction() as connection:
        connection.execute("DELETE FROM link WHERE run = ?", (run,))
        connection.execute(
            "INSERT INTO link (digest, run, expires) VALUES (?, ?, ?)",
            (_digest(token), run, expires),
        )
    return token, expires


def run_of_link(database: Database, token: str) -> str | None:
    """The run that a link is for; None when it is unknown, used or expired, or has a label."""
    with database.read() as connection:
        row = connection.execute(
            f"SELECT run FROM link WHERE {_IN_FORCE}",  # noqa: S608  # words of ours
            (_digest(token), *_span(time.time())),
        ).fetchone()
    return None if row is None else str(row[0])


def use_link(database: Database, token: str, label: Label) -> str | None:
    """Give the link's run its label and end the link; the run, or None as by `run_of_link`."""
    with database.transaction() as connection:
        row = connection.execute(
            f"DELETE FROM link WHERE {_IN_FORCE} RETURNING run",  # noqa: S608  # words of ours
            (_digest(token), *_span(time.time())),
        ).fetchone()
        if row is None:
            return None
        _put(connection, row[0], label)
        return str(row[0])
