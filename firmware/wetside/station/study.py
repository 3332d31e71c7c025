"""Finished runs are studied beside the station, in a process of their own.

The journal is the queue: whatever run it holds as finished and the ledger does not name yet is
studied, so a kill or a power cut only puts it off. Nothing of it happens in the loop but the
start of the process, and that only while no run is open.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path

from wetside.clock import Clock
from wetside.errors import RunUnreadable
from wetside.journal.reader import Reader
from wetside.journal.schema import EventRow, RunFilter, RunRow
from wetside.readings import Reading
from wetside.session import record
from wetside.session.events import Kind
from wetside.session.machine import OPEN_STATES
from wetside.session.run import Session, State
from wetside.station import containers
from wetside.station.containers import Container, Ledger, Studied, container_of
from wetside.thermal.learning import evidence_of

#: So many of the latest finished runs are looked at.
RUNS_LOOKED_AT = 40
#: A run's last rows are on the disk by then.
AFTER_SECONDS = 5.0
_AFTER_START_SECONDS = 30.0


def study(journal: Path, ledger: Path, station: str) -> int:
    """Study what is new in the journal; give the number of runs looked at.

    The ledger is written after each run.

    Raises
    ------
    JournalError
        The journal cannot be read.
    OSError
        The ledger cannot be written.
    """
    which = RunFilter(station=station, state=str(State.FINISHED))
    with Reader(journal) as reader:
        known = {one.run for one in containers.read(ledger)}
        rows = [row for row in reader.runs(which, limit=RUNS_LOOKED_AT).rows if row.id not in known]
        for row in reversed(rows):
            studied = _studied(reader, row)
            with containers.held(ledger):
                containers.write(ledger, (*_without(containers.read(ledger), row.id), studied))
    return len(rows)


def _without(ledger: Ledger, run: str) -> Ledger:
    return tuple(one for one in ledger if one.run != run)


def _studied(reader: Reader, row: RunRow) -> Studied:
    events = reader.events(row.id)
    day = time.strftime("%Y-%m-%d", time.localtime(row.listed_wall_seconds or 0.0))
    session = Session()
    with suppress(RunUnreadable):
        session = record.rebuild((event.kind, event.detail) for event in events)
    if session.sheet is None:
        return Studied(row.id, Container(), day, None)
    setup = session.sheet.setup()
    pour = next((event for event in events if event.kind == str(Kind.NOW)), None)
    readings = () if pour is None else _tempering(reader, row, pour)
    return Studied(row.id, container_of(setup), day, evidence_of(setup, readings))


def _tempering(reader: Reader, row: RunRow, pour: EventRow) -> Iterator[Reading]:
    """Readings before the developer was poured; none where the power was cut meanwhile."""
    boot, until = row.began.boot, pour.moment.seconds
    if pour.moment.boot != boot:
        return
    for sample in reader.samples(row.id):
        if sample.moment.boot != boot or sample.moment.seconds >= until:
            return
        yield Reading(
            sample.moment.seconds, sample.probe, sample.celsius, sample.place, sample.condition
        )


class StudyRoom:
    """Starts the process that studies, at the start of the station and after each finished run.

    Parameters
    ----------
    clock
        The station's.
    settings_file
        The station's settings, for the process.
    """

    def __init__(self, clock: Clock, settings_file: Path) -> None:
        self._clock = clock
        self._command: Sequence[str] = (
            *(sys.executable, "-m", "wetside", "containers", "study"),
            *("--settings", str(settings_file)),
        )
        self._state = ""
        self._due: float | None = clock.now() + _AFTER_START_SECONDS
        self._process: subprocess.Popen[bytes] | None = None

    def saw(self, state: str) -> None:
        """The loop has turned and the run stands in ``state``."""
        if state == State.FINISHED != self._state:
            self._due = self._clock.now() + AFTER_SECONDS
        self._state = state
        if self._due is None or state in OPEN_STATES or self._clock.now() < self._due:
            return
        if self._process is not None and self._process.poll() is None:
            return
        self._due = None
        with suppress(OSError):  # no memory for it: after the next run, then
            self._process = subprocess.Popen(  # noqa: S603  # words of our own
                self._command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL
            )

    def close(self) -> None:
        """Stop it; what it had not studied is studied another time."""
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()
            self._process.wait()
