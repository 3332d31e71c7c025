"""Each ended run counted once onto the bottles that it went through."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from wetside import tomlfile
from wetside.development import shelf
from wetside.development.bottles import Bottle, Holds, ShelfFile
from wetside.development.shelf import Need, Use
from wetside.errors import ShelfError
from wetside.journal.reader import Reader
from wetside.journal.schema import RunRow
from wetside.session.run import Session
from wetside.session.sheet import Sheet, Step, StepKind
from wetside.session.summary import hand_overs
from wetside_desk import formats
from wetside_desk.files import papers
from wetside_desk.review import OPEN_WORDS, review
from wetside_desk.store import uses
from wetside_desk.store.database import Database

#: Runs that one look counts at most, so that an old journal does not hold the desk up.
AT_ONCE = 25

#: How far back runs are looked for, and how many are read at a time.
FARTHEST = 1000
_PAGE = 50

_HOLDS: Mapping[StepKind, Holds] = {
    StepKind.DEVELOP: Holds.DEVELOPER,
    StepKind.STOP: Holds.STOP,
    StepKind.FIX: Holds.FIXER,
    StepKind.CLEAR: Holds.CLEARING,
    StepKind.WET: Holds.WETTING,
}


@dataclass(frozen=True, slots=True)
class Passage:
    """What a run took: rolls of 80 square inches, and the filling of each kind of bottle."""

    rolls: float
    needs: tuple[Need, ...]


def takes_bottle(step: Step) -> Holds | None:
    """The kind of bottle that a step draws from; None for water."""
    if step.solution is not None and "water" in step.solution.casefold():
        return None
    return _HOLDS.get(step.kind)


def needs_of(sheet: Sheet, steps: Sequence[Step]) -> Passage:
    """What these steps of a sheet take; two steps of one kind take their bottle once."""
    found: dict[Holds, float] = {}
    for step in steps:
        holds = takes_bottle(step)
        if holds is not None:
            found[holds] = max(found.get(holds, 0.0), sheet.filling_millilitres(step))
    return Passage(sheet.rolls, tuple(Need(*pair) for pair in found.items()))


def passage(session: Session) -> Passage | None:
    """What a run took, as far as it came; None if nothing was poured."""
    if session.sheet is None or len(session.steps) < 2:
        return None
    done = session.sheet.step[: len(session.steps)]
    return needs_of(session.sheet, done)


@dataclass(frozen=True, slots=True)
class Stood:
    """The bottles that a run may have gone through.

    ``doubtful`` are labels of those that were put there later by a clock that was not set.
    """

    shelf: ShelfFile
    doubtful: frozenset[str]


class Counter:
    """Looks for runs that ended and counts them; may be called from any thread."""

    def __init__(self, reader: Reader, database: Database, file: Path) -> None:
        self._reader = reader
        self._database = database
        self._file = file
        self._guard = threading.Lock()

    def count_ended(self, at_once: int = AT_ONCE) -> int:
        """Count what ended since, oldest first; gives how many. A broken shelf counts nothing.

        Raises
        ------
        JournalError
            The journal cannot be read now.
        """
        with self._guard:
            try:
                there = self._shelf()
            except ShelfError:
                return 0  # runs wait until the file is mended; nothing is lost
            now = time.time()
            known = uses.note_fillings(self._database, there, now)
            new = self._new()[-at_once:]
            for row in reversed(new):
                self._count(there, known, row, now)
            return len(new)

    def _shelf(self) -> ShelfFile:
        if not self._file.exists():
            return ShelfFile(format=1)
        text = tomlfile.read_text(self._file, ShelfError)
        return papers.parse_shelf(text, self._file.name)

    def _new(self) -> list[RunRow]:
        found: list[RunRow] = []
        for skip in range(0, FARTHEST, _PAGE):
            rows = self._reader.latest(_PAGE, skip)  # where a run stands in lists, its clock says
            ended = [row for row in rows if row.state not in OPEN_WORDS]
            done = uses.counted(self._database, [row.id for row in ended])
            fresh = [row for row in ended if row.id not in done]
            found += fresh
            if len(rows) < _PAGE or (not fresh and len(ended) == len(rows)):
                break
        return found

    def _count(self, there: ShelfFile, known: Mapping[str, float], row: RunRow, now: float) -> None:
        seen = review(row.began, self._reader.events(row.id))
        counted: tuple[Use, ...] = ()
        missing: tuple[str, ...] = ("not counted: " + seen.unread,) if seen.unread else ()
        took, then = passage(seen.session), stood(there, known, row, now)
        if took is not None and then.shelf.bottle:
            counted, missing = self._through(then, took, row)
        found = hand_overs(seen.session) if row.state == "finished" else ()
        gap = math.fsum(found) / len(found) if found else None
        uses.record(self._database, uses.Ended(row.id, ended_seconds(row), missing, gap), counted)

    def _through(
        self, then: Stood, took: Passage, row: RunRow
    ) -> tuple[tuple[Use, ...], tuple[str, ...]]:
        """What a run took from the bottles that stood there, and what is missing or in doubt."""
        kinds = {bottle.holds for bottle in then.shelf.bottle}
        counted, notices = shelf.count_run(
            then.shelf,
            uses.current(self._database),
            run=row.id,
            on=day_of(row),
            rolls=took.rolls,
            # a kind that the shelf does not keep at all is not missed with every run
            needs=[need for need in took.needs if need.holds in kinds],
        )
        missing = [notice.text for notice in notices]
        onto = [use.bottle for use in counted if use.bottle in then.doubtful]
        if onto:
            labels = ", ".join(onto)
            missing.append(
                f"its clock was not set: counted onto {labels}, put there later by that clock"
            )
        dated = (replace(use, on=day_at(row, then.shelf.named(use.bottle))) for use in counted)
        return tuple(dated), tuple(missing)


def stood(there: ShelfFile, known: Mapping[str, float], row: RunRow, now: float) -> Stood:
    """What stood there when a run ended; ``known`` since when by label, ``now`` of this look.

    Of a clock that was not set nobody knows which came first; rather a roll too many. What was
    met in this very look came after the run by any clock.
    """
    ended = ended_seconds(row)
    later = {label for label, since in known.items() if since > ended}
    doubtful = set() if _trusted(row) else {label for label in later if known[label] != now}
    bottles = tuple(one for one in there.bottle if one.label not in later - doubtful)
    return Stood(there.model_copy(update={"bottle": bottles}), frozenset(doubtful))


def _trusted(row: RunRow) -> bool:
    return (row.ended or row.began).trusted


def ended_seconds(row: RunRow) -> float:
    """Unix seconds of a run's end; by a clock that was not set, not before where it is listed."""
    ended = (row.ended or row.began).wall_seconds
    return ended if _trusted(row) else max(ended, row.listed_wall_seconds or ended)


def day_of(row: RunRow) -> date:
    """The local day that a run belongs to."""
    seconds = row.listed_wall_seconds
    return formats.local(row.began.wall_seconds if seconds is None else seconds).date()


def day_at(row: RunRow, bottle: Bottle) -> date:
    """The day on which a run went through a bottle; by an unset clock not before its mixing."""
    day = day_of(row)
    return day if _trusted(row) else max(day, bottle.mixed_on)
