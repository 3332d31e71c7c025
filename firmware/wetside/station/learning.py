"""Hand-over times of this station's students, from the runs in its journal."""

from __future__ import annotations

from contextlib import suppress

from wetside.development.deadline import NEW_STUDENTS, Handover, learn
from wetside.errors import JournalError, RunUnreadable
from wetside.journal.reader import Reader
from wetside.journal.schema import RunFilter
from wetside.session import record
from wetside.session.machine import State
from wetside.session.summary import hand_overs

#: So many of the latest finished runs are looked at.
LATEST_RUNS = 12


def handover_of(reader: Reader, station: str) -> Handover:
    """What the latest finished runs of a station teach; without any, what is usual."""
    which = RunFilter(station=station, state=str(State.FINISHED))
    runs: list[tuple[float, ...]] = []
    try:
        for found in reader.runs(which, limit=LATEST_RUNS).rows:
            events = reader.events(found.id)
            with suppress(RunUnreadable):
                runs.append(hand_overs(record.rebuild((row.kind, row.detail) for row in events)))
    except JournalError:
        return NEW_STUDENTS
    return learn(runs)
