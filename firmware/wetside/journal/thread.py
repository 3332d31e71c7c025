"""The journal behind a queue, so that a slow or failing card never delays a cue."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from wetside.clock import Moment
from wetside.errors import JournalDamaged, JournalError, JournalUnavailable
from wetside.journal import codec
from wetside.journal.closing import Closing
from wetside.journal.digest import run_of
from wetside.journal.opening import Opening
from wetside.journal.schema import Json, RunRow
from wetside.journal.waiting import Entry, Waiting
from wetside.journal.writer import CHECK_SECONDS, Writer
from wetside.outlook import Outlook
from wetside.readings import Reading

#: Kinds of event that the journal adds about itself.
BACK = "journal-back"
SET_ASIDE = "journal-set-aside"
REFUSED = "journal-refused"

#: Entries kept while the disk does not take them: about three hours of two probes.
BOUND = 20_000
_STALLED_SECONDS = 10.0
_TRIES = 3


class WriterThread(Closing):
    """The methods of `Writer`, none of which waits for the disk.

    Calls are carried out in their order by one thread. A call that the disk does not take stays
    in memory and is tried again every ``retry_seconds``; ``failure`` says so in words
    meanwhile, and an event ``journal-back`` is journaled afterwards. Beyond ``bound`` waiting
    calls the oldest samples are let go, and counted in that event; events are let go last.

    Parameters
    ----------
    path, station, check_seconds
        As for `Writer`. A disk that is full or read-only at the start is no error here.
    bound
        Number of calls kept in memory.
    retry_seconds
        Time between tries.
    writer
        Makes the writer; tests give their own.

    Raises
    ------
    JournalError
        Another process writes to it, a newer wetside wrote it, or it is not a journal.
    """

    def __init__(
        self,
        path: Path,
        station: str,
        *,
        check_seconds: float | None = CHECK_SECONDS,
        bound: int = BOUND,
        retry_seconds: float = 1.0,
        writer: Callable[..., Writer] = Writer,
    ) -> None:
        self._path = path
        self._station = station
        self._check_seconds = check_seconds
        self._class = writer
        self._retry_seconds = retry_seconds
        self._waiting = Waiting(bound)
        self._changed = threading.Condition()
        self._closing = False
        self._busy_since: float | None = None
        self._failed = False
        self._damage: str | None = None
        self._set_aside = 0
        self._writer: Writer | None = None
        try:
            self._writer = self._make()
        except JournalUnavailable as error:
            self._waiting.note(str(error))
        self._thread = threading.Thread(target=self._work, name="journal", daemon=True)
        self._thread.start()

    @property
    def opening(self) -> Opening | None:
        """What was found when the file was opened; None while it could not be."""
        return None if self._writer is None else self._writer.opening

    @property
    def failure(self) -> str | None:
        """What keeps the journal from the disk now, for people; None = all is well."""
        with self._changed:
            trouble, busy = self._waiting.trouble, self._busy_since
            waiting = len(self._waiting.entries)
        if trouble is not None:
            lost = trouble.samples_let_go + trouble.events_let_go
            rest = f", {lost} let go" if lost else ""
            return f"{trouble.reason} ({waiting} entries wait in memory{rest})"
        if busy is not None and time.monotonic() - busy > _STALLED_SECONDS:
            return (
                f"the disk has not answered for {time.monotonic() - busy:.0f} s "
                f"({waiting} entries wait in memory)"
            )
        return None

    def append(
        self,
        moment: Moment,
        kind: str,
        detail: Mapping[str, Json],
        run: str | None = None,
        row: RunRow | None = None,
    ) -> None:
        """Queue one event; see `Writer.append`.

        Raises
        ------
        ValueError
            As `Writer.append`, at once.
        """
        kind = codec.kind_text(kind)
        copied: dict[str, Json] = json.loads(codec.detail_text(detail))
        if row is not None:
            run = run_of(row, run, self._station)
        self._put(
            Entry(kind, moment, lambda to: to.append(moment, kind, copied, run, row), event=True)
        )

    def sample(self, moment: Moment, readings: Sequence[Reading], run: str | None = None) -> None:
        """Queue readings; see `Writer.sample`."""
        taken = tuple(readings)
        if taken:
            self._put(Entry("sample", moment, lambda to: to.sample(moment, taken, run)))

    def forecast(self, moment: Moment, outlook: Outlook, run: str | None = None) -> None:
        """Queue an outlook; see `Writer.forecast`."""
        self._put(Entry("forecast", moment, lambda to: to.forecast(moment, outlook, run)))

    def flush(self) -> None:
        """Queue a commit of what waits for one."""
        self._put(Entry("flush", None, lambda to: to.flush(), event=True))

    def set_aside(self, problem: str) -> None:
        """Queue that the file is set aside and a new one begun.

        For what a reader met and the check at the start, which has its time, did not reach.
        """
        self._put(Entry("set-aside", None, lambda to: self._begin_afresh(to, problem), event=True))

    def settled(self, timeout: float | None = None) -> bool:
        """Wait until everything queued is carried out; False where ``timeout`` was too short.

        Events are then on the disk, and so are samples if `flush` was called after them.
        """
        with self._changed:
            return self._changed.wait_for(
                lambda: (
                    not self._waiting.entries
                    and self._busy_since is None
                    and self._waiting.trouble is None
                ),
                timeout,
            )

    def close(self, timeout: float = 30.0) -> None:
        """Carry out what waits, close the file and end the thread.

        Raises
        ------
        JournalUnavailable
            The disk did not take everything within ``timeout`` seconds.
        """
        with self._changed:
            self._closing = True
            self._changed.notify_all()
        self._thread.join(timeout)
        if self._thread.is_alive() or self._waiting.trouble is not None:
            reason = self.failure or "the disk is too slow"
            raise JournalUnavailable(f"not everything was journaled: {reason}")

    def _put(self, entry: Entry) -> None:
        with self._changed:
            if self._closing:
                raise ValueError("the journal is closed")
            self._waiting.put(entry)
            self._changed.notify_all()

    def _work(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._waiting.entries or self._closing)
                if not self._waiting.entries:
                    break
                entry = self._waiting.entries.popleft()
                self._busy_since = time.monotonic()
            done = self._carry_out(entry)
            with self._changed:
                if not done:
                    self._waiting.entries.appendleft(entry)
                self._busy_since = None
                self._changed.notify_all()
                if not done:
                    break
        if self._writer is not None:
            self._finish(self._writer)

    def _carry_out(self, entry: Entry) -> bool:
        """Try until it is done; False where the thread is to end with the disk still failing."""
        tries = 0
        while True:
            last_try = self._closing
            begun = False
            try:
                writer = self._ready()
                begun = True
                if entry.taken:
                    writer.flush()
                else:
                    entry.act(writer)
            except JournalError as error:
                entry.taken = entry.taken or (begun and not entry.event)
                if isinstance(error, JournalDamaged) and self._set_aside < _TRIES:
                    self._damage = str(error)
                self._note(str(error))
            except Exception as error:  # noqa: BLE001  # one bad entry must not end the journal
                tries += 1
                self._note(f"an entry ({entry.name}) cannot be journaled: {error!r}")
                if tries == _TRIES:
                    self._refuse(entry, error)
                    return True
            else:
                self._good()
                return True
            if last_try:
                return False
            with self._changed:
                self._changed.wait_for(lambda: self._closing, self._retry_seconds)

    def _ready(self) -> Writer:
        """The writer, opened (again) if the last try failed."""
        writer = self._writer
        if writer is None:
            writer = self._writer = self._make()
        elif self._damage is not None:
            self._begin_afresh(writer, self._damage)
            self._damage = None
        elif self._failed:
            writer.reopen()
        self._failed = False
        return writer

    def _begin_afresh(self, writer: Writer, problem: str) -> None:
        writer.start_afresh(problem)
        self._set_aside += 1
        self._tell(SET_ASIDE, writer.opening.detail())

    def _make(self) -> Writer:
        return self._class(self._path, self._station, check_seconds=self._check_seconds)

    def _note(self, reason: str) -> None:
        self._failed = True
        with self._changed:
            self._waiting.note(reason)

    def _good(self) -> None:
        with self._changed:
            trouble = self._waiting.relieved()
        if trouble is not None:
            self._tell(
                BACK,
                {
                    "reason": trouble.reason,
                    "seconds": round(time.monotonic() - trouble.since, 1),
                    "samples_let_go": trouble.samples_let_go,
                    "events_let_go": trouble.events_let_go,
                },
            )

    def _refuse(self, entry: Entry, error: Exception) -> None:
        if entry.name != REFUSED:
            self._tell(REFUSED, {"entry": entry.name, "reason": repr(error)})

    def _tell(self, kind: str, detail: dict[str, Json]) -> None:
        """Queue an event about the journal itself, at the latest moment that it was told of."""
        with self._changed:
            moment = self._waiting.last
            if moment is not None:
                told = moment
                self._waiting.put(
                    Entry(kind, told, lambda to: to.append(told, kind, detail), event=True)
                )

    def _finish(self, writer: Writer) -> None:
        try:
            writer.close()
        except JournalError as error:
            self._note(str(error))
