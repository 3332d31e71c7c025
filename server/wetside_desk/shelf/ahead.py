"""The class that the shelf is looked at for: what is left of the one that is on, or the next."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta

from wetside.development import deadline
from wetside.development.bells import Bells
from wetside.development.deadline import Handover
from wetside.errors import JournalError
from wetside.journal.reader import Reader
from wetside.journal.schema import RunFilter
from wetside.session.bell import timings
from wetside.session.sheet import Sheet
from wetside_desk.bells import timing
from wetside_desk.bells.periods import EARLY
from wetside_desk.bells.timing import Coming
from wetside_desk.review import OPEN_WORDS
from wetside_desk.shelf import lessons
from wetside_desk.store.class_plan import ClassPlan

#: No class has more runs at one sink.
_MOST_RUNS = 200


@dataclass(frozen=True, slots=True)
class Ahead:
    """A class: ``tanks`` of it are still to be counted, ``done`` were counted already."""

    coming: Coming
    tanks: int
    done: int = 0


def ahead(
    table: Bells,
    now: datetime,
    sheet: Sheet | None,
    handover: Handover,
    plan: ClassPlan,
    reader: Reader,
) -> Ahead | None:
    """The class that is on, until nothing begun in it would hang by its bell; then the next.

    Of the one that is on the runs that ended are counted, so they are not to come once more.
    """
    coming = timing.next_class(table, now)
    if coming is not None and coming.starts <= now:
        tanks = lessons.tanks_of(coming.period.students, plan)
        done = _ended(coming, now, reader)
        if done < tanks and now <= _last_start(table, coming, sheet, handover):
            return Ahead(coming, tanks - done, done)
        coming = timing.next_class(table, coming.ends)
    if coming is None:
        return None
    return Ahead(coming, lessons.tanks_of(coming.period.students, plan))


def _last_start(table: Bells, coming: Coming, sheet: Sheet | None, handover: Handover) -> datetime:
    """The latest likely start of developing that hangs the film by the bell of a class."""
    if sheet is None:
        return coming.ends
    run = deadline.takes(timings(sheet), handover).likely
    return table.hang_by(coming.ends) - timedelta(seconds=run)


def _ended(coming: Coming, now: datetime, reader: Reader) -> int:
    """Runs of a class that is on that came to the developer and ended."""
    since = (coming.starts - EARLY).timestamp()
    with suppress(JournalError):
        found = reader.runs(RunFilter(since=since, before=now.timestamp()), limit=_MOST_RUNS)
        return sum(row.state not in OPEN_WORDS and row.window_hit is not None for row in found.rows)
    return 0
