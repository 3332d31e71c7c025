"""Hand-over times of this station's students, from the runs in its journal."""

from __future__ import annotations

from contextlib import suppress

from wetside.development.deadline import HANDOVER_RUNS, NEW_STUDENTS, Handover, learn
from wetside.errors import JournalError, RunUnreadable
from wetside.journal.reader import Reader
from wetside.journal.schema import RunFilter
from wetside.session import record
from wetside.session.run import State
from wetside.session.summary import hand_overs

#: So many of the latest finished runs are looked at: those held or cut short tell nothing.
RUNS_LOOKED_AT = 40


def handover_of(reader: Reader, station: str) -> Handover:
    """What the latest finished runs of a station teach that tell one; else what is usual."""
    which = RunFilter(station=station, state=str(State.FINISHED))
    runs: list[tuple[float, ...]] = []
    try:
        for found in reader.runs(which, limit=RUNS_LOOKED_AT).rows:
            if len(runs) == HANDOVER_RUNS:
                break
            events = reader.events(found.id)
            with suppress(RunUnreadable):
                told = hand_overs(record.rebuild((row.kind, row.detail) for row in events))
                runs.extend([told] if told else [])
    except JournalError:
        return NEW_STUDENTS
    return learn(runs)
