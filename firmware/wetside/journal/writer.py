"""The one writer of a journal. Plain calls, durable on return; see `thread` for the queue."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from wetside.clock import Moment
from wetside.errors import JournalDamaged, JournalUnavailable
from wetside.journal import codec, files
from wetside.journal.closing import Closing
from wetside.journal.codec import ForecastCells, SampleCells
from wetside.journal.digest import Digest, run_of
from wetside.journal.opening import connect, is_damage, open_for_writing, plainly
from wetside.journal.schema import Json, RunRow
from wetside.outlook import Outlook
from wetside.readings import Reading

#: Samples and forecasts are committed together when the first of them is this old ...
BATCH_SECONDS = 10.0
#: ... or when there are this many of them.
BATCH_ROWS = 64
#: How long the check at start may take before the sink is kept waiting.
CHECK_SECONDS = 5.0

_JUMP_MS = 500  # wall against monotonic; a batch has one moment, so a jump ends it


@dataclass(slots=True)
class _Batch:
    """Samples and forecasts that share a run, a boot and a setting of the wall clock."""

    run: str | None
    first: Moment
    last: Moment
    samples: list[SampleCells] = field(default_factory=list)
    forecasts: list[ForecastCells] = field(default_factory=list)

    def fits(self, moment: Moment, run: str | None) -> bool:
        ms, wall_ms, trusted = codec.times(moment)
        first_ms, first_wall_ms, first_trusted = codec.times(self.first)
        drift = (wall_ms - ms) - (first_wall_ms - first_ms)
        same = (run, moment.boot, trusted) == (self.run, self.first.boot, first_trusted)
        return same and abs(drift) < _JUMP_MS

    @property
    def due(self) -> bool:
        """Whether it is time to commit."""
        rows = len(self.samples) + len(self.forecasts)
        return rows >= BATCH_ROWS or self.last.seconds - self.first.seconds >= BATCH_SECONDS


class Writer(Closing):
    """Writes a journal.

    Parameters
    ----------
    path
        The file; it is made, readable and writable for owner and group, where there is none.
        Its folder must exist.
    station
        Name of the station whose rows these are.
    check_seconds
        Longest time that the check for damage may take; None = no limit.

    Raises
    ------
    JournalError
        Another process writes to it, a newer wetside wrote it, or it is not a journal.
    JournalUnavailable
        The disk is full, read-only or gone.

    Notes
    -----
    ``opening`` tells what was found. A damaged file is renamed and a new one begun; the station
    should journal that fact with ``opening.detail()``.
    """

    def __init__(
        self, path: Path, station: str, *, check_seconds: float | None = CHECK_SECONDS
    ) -> None:
        self._path = path
        self._station = station
        self._waiting: list[_Batch] = []
        try:
            self._lock = files.WriterLock(path)
        except OSError as error:
            raise JournalUnavailable(f"{path} cannot be written: {error.strerror}") from error
        try:
            self._connection, self.opening, self._first_seq = open_for_writing(path, check_seconds)
        except BaseException:
            self._lock.close()
            raise
        self._digest = Digest(self._connection, station, self._first_seq)

    def append(
        self,
        moment: Moment,
        kind: str,
        detail: Mapping[str, Json],
        run: str | None = None,
        row: RunRow | None = None,
    ) -> int:
        """Journal one event, with the samples that wait and the new state of its run.

        ``run`` may be left out where ``row`` names it. When this returns, all of it is on the
        disk; when it raises, none of it is, and the samples still wait.

        Returns
        -------
        int
            The sequence number of the event.

        Raises
        ------
        ValueError
            ``kind`` or ``detail`` cannot be kept as they are, or ``row`` is of another station
            or run.
        JournalUnavailable
            The disk is full, read-only or gone. Trying again is safe.
        JournalDamaged
            The file turned out to be damaged; `start_afresh` sets it aside.
        """
        cells = (codec.kind_text(kind), codec.detail_text(detail))
        if row is not None:
            run = run_of(row, run, self._station)
        with self._transaction():
            self._write_waiting()
            if row is not None:
                self._digest.keep(row, moment)
            seq = self._digest.event(moment, run, *cells)
        self._waiting.clear()
        return seq

    def sample(self, moment: Moment, readings: Sequence[Reading], run: str | None = None) -> None:
        """Keep readings for the next commit, at most `BATCH_SECONDS` away.

        Raises
        ------
        JournalUnavailable
            The commit was due and failed; the readings still wait for the next one.
        """
        if readings:
            cells = [codec.sample_cells(reading) for reading in readings]
            self._batch(moment, run).samples.extend(cells)
            self._flush_due()

    def forecast(self, moment: Moment, outlook: Outlook, run: str | None = None) -> None:
        """Keep an outlook for the next commit; raises as `sample` does."""
        cells = codec.forecast_cells(outlook)
        self._batch(moment, run).forecasts.append(cells)
        self._flush_due()

    def flush(self) -> None:
        """Commit what waits.

        Raises
        ------
        JournalUnavailable
            The disk is full, read-only or gone; everything still waits.
        """
        if self._waiting:
            with self._transaction():
                self._write_waiting()
            self._waiting.clear()

    def reopen(self) -> None:
        """Open the file anew, as after the disk was gone; what waits still waits.

        Raises
        ------
        JournalUnavailable
            The file cannot be opened; a file that vanished is not made again.
        """
        self._connection.close()
        with plainly(self._path, "cannot be opened again"):
            self._connection = connect(self._path)
        self._digest = Digest(self._connection, self._station, self._first_seq)

    def start_afresh(self, problem: str) -> None:
        """Set the file aside because of ``problem`` and begin a new one; see ``opening``.

        Raises
        ------
        JournalUnavailable
            The disk does not allow it now.
        """
        with plainly(self._path, "cannot be set aside"):
            aside = files.set_aside(self._path)
        self._connection.close()
        self._connection, self.opening, self._first_seq = open_for_writing(
            self._path, None, replaced=(aside, problem)
        )
        self._digest = Digest(self._connection, self._station, self._first_seq)

    def close(self) -> None:
        """Commit what waits, fold the write-ahead log into the file and let it go.

        Raises
        ------
        JournalUnavailable
            What waits could not be committed. The journal is closed all the same.
        """
        try:
            self.flush()
            with suppress(sqlite3.OperationalError):  # a reader holds the log: it is kept
                self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        finally:
            self._connection.close()
            self._lock.close()

    def _batch(self, moment: Moment, run: str | None) -> _Batch:
        if not self._waiting or not self._waiting[-1].fits(moment, run):
            self._waiting.append(_Batch(run, moment, moment))
        batch = self._waiting[-1]
        batch.last = moment
        return batch

    def _flush_due(self) -> None:
        if len(self._waiting) > 1 or self._waiting[0].due:
            self.flush()

    def _write_waiting(self) -> None:
        for batch in self._waiting:
            self._digest.batch(batch.last, batch.run, batch.samples, batch.forecasts)

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """All or nothing, on the disk at the end."""
        try:
            self._connection.execute("BEGIN IMMEDIATE")
            yield
            self._connection.execute("COMMIT")
        except sqlite3.Error as error:
            self._undo()
            if is_damage(error):
                raise JournalDamaged(f"{self._path} is damaged: {error}") from error
            if not isinstance(error, sqlite3.OperationalError):
                raise
            raise JournalUnavailable(f"{self._path} cannot be written: {error}") from error
        except BaseException:
            self._undo()
            raise

    def _undo(self) -> None:
        with suppress(sqlite3.Error):
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
        self._digest.forget()
