"""Connections that only read, whether the writer lives or is gone, whoever owns the files."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from wetside.errors import JournalDamaged, JournalMissing, JournalUnavailable
from wetside.journal.migrations import VERSION, version_of

_BUSY_SECONDS = 5.0
_KEPT = 4  # idle connections; a desk on two cores has few at a time


@dataclass(frozen=True, slots=True)
class _Identity:
    """Which file a connection was opened on; another one means that it was replaced."""

    device: int
    inode: int


@dataclass(slots=True)
class _Kept:
    connection: sqlite3.Connection
    identity: _Identity


class Readers:
    """Lends connections that only read; an idle one is used again while the file is the same.

    No transaction outlives a loan, so a slow client never holds the write-ahead log open.

    Notes
    -----
    SQLite needs its ``-wal`` and ``-shm`` files even to read. With ``mode=ro`` it opens them
    where they are and makes them where it may. Where it may not (other owner, read-only disk)
    and there is no log, no writer lives and the file alone is the whole journal: then it is
    opened as ``immutable``, and looked at again afterwards in case a writer came meanwhile.
    Where a file may be opened for writing and yet takes nothing, as on a disk whose file system
    was found damaged, ``readonly_shm`` keeps SQLite from trying.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._idle: list[_Kept] = []
        self._guard = threading.Lock()

    @contextmanager
    def lend(self) -> Iterator[sqlite3.Connection]:
        """A connection inside one read transaction.

        Raises
        ------
        JournalMissing
            There is no journal yet.
        JournalUnavailable
            It cannot be read now.
        JournalDamaged
            Its content is broken.
        JournalError
            A newer wetside or another program wrote it.
        """
        try:
            kept = self._take()
            if kept is None:
                with self._left_alone() as connection:
                    yield connection
                return
            try:
                kept.connection.execute("BEGIN")
                yield kept.connection
            finally:
                self._give_back(kept)
        except sqlite3.OperationalError as error:
            raise JournalUnavailable(f"{self.path} cannot be read now: {error}") from error
        except sqlite3.DatabaseError as error:
            raise JournalDamaged(
                f"{self.path} is damaged ({error}). The station sets it aside and begins a new "
                f"one when it starts; the newest backup has the earlier runs."
            ) from error

    def close(self) -> None:
        """Close the idle connections."""
        with self._guard:
            idle, self._idle = self._idle, []
        for kept in idle:
            kept.connection.close()

    def _identity(self) -> _Identity:
        try:
            status = self.path.stat()
        except FileNotFoundError as error:
            raise JournalMissing(
                f"there is no journal at {self.path} yet; the station makes it when it first starts"
            ) from error
        except OSError as error:
            raise JournalUnavailable(f"{self.path} cannot be read now: {error.strerror}") from error
        return _Identity(status.st_dev, status.st_ino)

    def _take(self) -> _Kept | None:
        identity = self._identity()
        while True:
            with self._guard:
                kept = self._idle.pop() if self._idle else None
            if kept is None:
                break
            if kept.identity == identity:
                return kept
            kept.connection.close()
        try:
            return _Kept(self._open("mode=ro"), identity)
        except sqlite3.OperationalError as error:
            if not self._log_exists():
                return None
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_IOERR:
                raise
        return _Kept(self._open("mode=ro&readonly_shm=1"), identity)

    def _give_back(self, kept: _Kept) -> None:
        if kept.connection.in_transaction:
            kept.connection.execute("ROLLBACK")
        with self._guard:
            if len(self._idle) < _KEPT:
                self._idle.append(kept)
                return
        kept.connection.close()

    @contextmanager
    def _left_alone(self) -> Iterator[sqlite3.Connection]:
        before = self.path.stat()
        connection = self._open("mode=ro&immutable=1")
        try:
            yield connection
        finally:
            connection.close()
        after = self.path.stat()
        same = (before.st_mtime_ns, before.st_size) == (after.st_mtime_ns, after.st_size)
        if not same or self._log_exists():
            raise JournalUnavailable(f"{self.path} was being written meanwhile; ask again")

    def _log_exists(self) -> bool:
        log = self.path.with_name(self.path.name + "-wal")
        return log.exists() and log.stat().st_size > 0

    def _open(self, query: str) -> sqlite3.Connection:
        connection = self._connect(query)
        try:
            self._check_version(connection)
        except BaseException:
            connection.close()
            raise
        return connection

    def _connect(self, query: str) -> sqlite3.Connection:
        return sqlite3.connect(
            f"{self.path.absolute().as_uri()}?{query}",
            uri=True,
            isolation_level=None,
            timeout=_BUSY_SECONDS,
            check_same_thread=False,
        )

    def _check_version(self, connection: sqlite3.Connection) -> None:
        version = version_of(connection, self.path)
        if version < VERSION:
            raise JournalUnavailable(
                f"{self.path} has journal version {version}, this program reads {VERSION}; "
                f"the station brings it up to date when it next starts"
            )
