"""What the teacher says of a run: an outcome and a note."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

from wetside_desk.store.database import Database

#: Outcomes a teacher can choose; the first words are what the lists show.
OUTCOMES = {
    "good": "good",
    "thin": "thin (too little density)",
    "dense": "dense (too much density)",
    "uneven": "uneven",
    "streaks": "streaks from the sprocket holes or edges",
    "blank": "blank",
    "fogged": "fogged",
    "milky": "milky or pink",
    "stained": "stained or drying marks",
    "wrinkled": "wrinkled or grainy like leather",
    "scratched": "scratched",
    "stuck": "film touched itself on the reel",
    "other": "something else",
}

#: The outcome that is no trouble, and what stands in searches for every other one.
GOOD, NOT_GOOD = "good", "not-good"

#: Longest note, in characters.
LONGEST_NOTE = 2000


class Conflict(Exception):
    """Somebody else changed the note meanwhile."""


@dataclass(frozen=True, slots=True)
class Note:
    """``outcome`` is a key of `OUTCOMES` or empty; ``version`` counts changes from one."""

    outcome: str = ""
    note: str = ""
    version: int = 0
    changed: float = 0.0


def of_run(database: Database, run: str) -> Note:
    """The note of a run; an empty one where there is none."""
    return of_runs(database, [run]).get(run, Note())


def of_runs(database: Database, runs: Sequence[str]) -> dict[str, Note]:
    """The notes of these runs, without those that have none."""
    marks = ",".join("?" * len(runs))
    with database.read() as connection:
        found = connection.execute(
            f"SELECT run, outcome, note, version, changed FROM note WHERE run IN ({marks})",  # noqa: S608  # question marks only
            tuple(runs),
        ).fetchall()
    return {row[0]: Note(*row[1:]) for row in found}


def write(database: Database, run: str, outcome: str, note: str, version: int) -> Note:
    """Replace the note of a run; ``version`` is the one that the writer saw.

    Raises
    ------
    Conflict
        The note has another version by now.
    ValueError
        No such outcome, or the note is too long.
    """
    if outcome and outcome not in OUTCOMES:
        raise ValueError(f"{outcome!r} is not an outcome; choose one of {', '.join(OUTCOMES)}")
    if len(note) > LONGEST_NOTE:
        raise ValueError(f"a note has at most {LONGEST_NOTE} characters, not {len(note)}")
    made = Note(outcome, note.strip(), version + 1, time.time())
    with database.transaction() as connection:
        row = connection.execute("SELECT version FROM note WHERE run = ?", (run,)).fetchone()
        if (row[0] if row else 0) != version:
            raise Conflict
        connection.execute(
            "INSERT OR REPLACE INTO note (run, outcome, note, version, changed) "
            "VALUES (?, ?, ?, ?, ?)",
            (run, made.outcome, made.note, made.version, made.changed),
        )
    return made


def runs_with(database: Database, outcome: str | None, text: str | None) -> tuple[str, ...]:
    """Ids of runs with this outcome, or `NOT_GOOD`, whose note holds this text; None = any."""
    with database.read() as connection:
        found = connection.execute(
            "SELECT run FROM note WHERE "
            "(?1 IS NULL OR outcome = ?1 OR (?1 = ?3 AND outcome NOT IN ('', ?4))) "
            "AND (?2 IS NULL OR instr(casefold(note), casefold(?2)) > 0)",
            (outcome, text, NOT_GOOD, GOOD),
        ).fetchall()
    return tuple(row[0] for row in found)


def outcomes_of(database: Database) -> dict[str, str]:
    """Run id to outcome, for all runs that have one."""
    with database.read() as connection:
        found = connection.execute("SELECT run, outcome FROM note WHERE outcome <> ''").fetchall()
    return dict(found)
