"""The desk's own database. One connection, one lock, every change a transaction on the disk."""

from __future__ import annotations

import logging
import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from wetside.errors import JournalError, JournalUnavailable
from wetside.journal.schema import DESK_APPLICATION_ID
from wetside.wholefile import hand_over, make_folder

_log = logging.getLogger("wetside_desk")


class DiskFull(JournalUnavailable):
    """There is no room for what the desk was to keep; nothing of it was kept."""


class Unusable(JournalUnavailable):
    """The desk's own file cannot be read or written: damaged, held by somebody, a broken card."""


#: One entry for each version, in order. Never change one that has shipped.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """
        CREATE TABLE secret (
            name  TEXT PRIMARY KEY,
            value TEXT NOT NULL
        ) STRICT
        """,
        """
        CREATE TABLE session (
            digest  TEXT PRIMARY KEY,   -- SHA-256 of the token; the token itself is not kept
            kind    TEXT NOT NULL,      -- 'teacher' or 'key'
            name    TEXT NOT NULL,
            form    TEXT NOT NULL,      -- token that forms of this session carry
            created REAL NOT NULL,
            seen    REAL NOT NULL,
            expires REAL NOT NULL
        ) STRICT
        """,
        """
        CREATE TABLE audit (
            number INTEGER PRIMARY KEY,
            at     REAL NOT NULL,
            who    TEXT NOT NULL,
            action TEXT NOT NULL,
            detail TEXT NOT NULL
        ) STRICT
        """,
        """
        CREATE TABLE note (
            run     TEXT PRIMARY KEY,
            outcome TEXT NOT NULL,
            note    TEXT NOT NULL,
            version INTEGER NOT NULL,
            changed REAL NOT NULL
        ) STRICT
        """,
        "CREATE INDEX note_by_outcome ON note (outcome) WHERE outcome <> ''",
        """
        CREATE TABLE label (
            run    TEXT PRIMARY KEY,
            label  TEXT NOT NULL,
            period TEXT NOT NULL,
            given  REAL NOT NULL
        ) STRICT
        """,
        "CREATE INDEX label_by_label ON label (label)",
        "CREATE INDEX label_by_period ON label (period)",
        "CREATE INDEX label_by_age ON label (given)",
        """
        CREATE TABLE link (
            digest  TEXT PRIMARY KEY,   -- SHA-256 of the token
            run     TEXT NOT NULL,
            expires REAL NOT NULL
        ) STRICT
        """,
        "CREATE TABLE preference (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT",
    ),
    (
        """
        CREATE TABLE version (
            kind   TEXT NOT NULL,       -- 'shelf', 'bells', 'sink' or 'sheet'
            name   TEXT NOT NULL,
            number INTEGER NOT NULL,
            at     REAL NOT NULL,
            who    TEXT NOT NULL,
            text   TEXT NOT NULL,
            PRIMARY KEY (kind, name, number)
        ) STRICT
        """,
        """
        CREATE TABLE filling (
            label    TEXT PRIMARY KEY,
            number   INTEGER NOT NULL,  -- counts up when the bottle is mixed anew
            mixed_on TEXT NOT NULL,
            known    REAL NOT NULL      -- runs that ended before this do not count
        ) STRICT
        """,
        """
        CREATE TABLE bottle_use (
            run    TEXT NOT NULL,
            label  TEXT NOT NULL,
            number INTEGER NOT NULL,    -- the filling
            day    TEXT NOT NULL,
            rolls  REAL NOT NULL,
            drawn  REAL NOT NULL,       -- millilitres that did not come back
            PRIMARY KEY (run, label)
        ) STRICT
        """,
        "CREATE INDEX bottle_use_by_filling ON bottle_use (label, number)",
        """
        CREATE TABLE ended_run (
            run         TEXT PRIMARY KEY,
            ended       REAL NOT NULL,
            missing     TEXT NOT NULL,  -- what found no bottle or is in doubt, one a line
            gap_seconds REAL            -- mean hand-over; null where none can be told
        ) STRICT
        """,
        "CREATE INDEX ended_run_by_age ON ended_run (ended)",
    ),
    (
        """
        CREATE TABLE run_period (
            run    TEXT PRIMARY KEY,
            period TEXT NOT NULL,       -- empty: the run was outside every period
            by     TEXT NOT NULL        -- 'hand', or the tag of the bell table
        ) STRICT
        """,
        "INSERT INTO run_period SELECT run, period, 'hand' FROM label WHERE period <> ''",
        "DROP INDEX label_by_period",
        "ALTER TABLE label DROP COLUMN period",
        "CREATE INDEX run_period_by_period ON run_period (period COLLATE NOCASE)",
    ),
)


class Database:
    """The desk's file, opened when it is first asked for and readable by its owner only.

    Parameters
    ----------
    path
        The file; it and its folder are made where there are none.

    Raises
    ------
    JournalError
        By `transaction` and `read`: the file is another program's or a newer wetside's.
    DiskFull
        By `transaction`.
    Unusable
        By both: the file is damaged, or cannot be opened or written now.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._guard = threading.RLock()
        self._connection: sqlite3.Connection | None = None

    @contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """All or nothing; on the disk when the block ends."""
        with self._guard:
            connection = self._opened()
            with _told(self.path, "cannot be written now"):
                connection.execute("BEGIN IMMEDIATE")
            with _whole(connection, self.path):
                yield connection

    @contextmanager
    def read(self) -> Iterator[sqlite3.Connection]:
        """For questions only."""
        with self._guard:
            connection = self._opened()
            with _told(self.path):
                yield connection

    def change_set_aside(self, change: Callable[[sqlite3.Connection], object]) -> None:
        """Change what a restore set aside beside the file; a broken one is left as it is."""
        for path in sorted(self.path.parent.glob(f"{self.path.stem}.*-*{self.path.suffix}")):
            try:
                with closing(sqlite3.connect(path, isolation_level=None, timeout=5)) as connection:
                    connection.execute("PRAGMA secure_delete = ON")
                    change(connection)
            except sqlite3.Error as error:
                _log.warning("%s is left as it is: %s", path, error)

    def wipe(self) -> None:
        """Overwrite what was deleted in the log of changes too; deleted rows are zeros already."""
        with self.read() as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    @contextmanager
    def standing_still(self) -> Iterator[Path]:
        """The file while the desk lets go of it; questions wait until the block ends."""
        with self._guard:
            self.close()
            yield self.path

    def close(self) -> None:
        """Let the file go; a later question opens it again."""
        with self._guard:
            if self._connection is not None:
                self._connection.close()
                self._connection = None

    def _opened(self) -> sqlite3.Connection:
        if self._connection is not None:
            return self._connection
        with _told(self.path):
            try:
                make_folder(self.path.parent)
                os.close(os.open(self.path, os.O_CREAT | os.O_RDWR, 0o600))
                hand_over(self.path)
            except OSError as error:
                reason = error.strerror or error
                raise Unusable(
                    f"The desk's file {self.path.name} cannot be used: {reason}."
                ) from error
            connection = sqlite3.connect(
                self.path, isolation_level=None, check_same_thread=False, timeout=5
            )
            try:
                connection.execute("PRAGMA journal_mode = WAL")
                connection.execute("PRAGMA synchronous = FULL")
                connection.execute("PRAGMA secure_delete = ON")
                # lower() of SQLite knows the letters of ASCII only
                connection.create_function("casefold", 1, _casefold, deterministic=True)
                migrate(connection, self.path)
            except BaseException:
                connection.close()
                raise
            self._connection = connection
            return connection


def _casefold(text: str | None) -> str | None:
    return None if text is None else text.casefold()


@contextmanager
def _told(path: Path, what: str = "cannot be used") -> Iterator[None]:
    """Say of what is wrong with the file in which file it is."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        raise Unusable(f"The desk's file {path.name} {what}: {error}.") from error


@contextmanager
def _whole(connection: sqlite3.Connection, path: Path) -> Iterator[None]:
    """End a transaction that was begun: all of it, or nothing."""
    try:
        yield
        connection.execute("COMMIT")
    except BaseException as error:
        if connection.in_transaction:  # on a full disk SQLite has ended it by itself
            with suppress(sqlite3.DatabaseError):
                connection.execute("ROLLBACK")
        if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL:
            raise DiskFull(f"The disk is full: {path} cannot grow. Nothing was kept.") from error
        with _told(path):
            raise


def _version(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def migrate(connection: sqlite3.Connection, path: Path) -> None:
    """Bring the file to the newest version, one transaction a version.

    Raises
    ------
    JournalError
        The file is another program's or a newer wetside's.
    """
    version = _version(connection)
    owner = int(connection.execute("PRAGMA application_id").fetchone()[0])
    filled = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] > 0
    if filled and owner != DESK_APPLICATION_ID:
        raise JournalError(f"{path} is a database of some other program; it was left as it is.")
    if version > len(MIGRATIONS):
        raise JournalError(
            f"{path} was written by a newer wetside (version {version}; this one knows up to "
            f"{len(MIGRATIONS)}). It was left as it is. Install that version again."
        )
    for number in range(version, len(MIGRATIONS)):
        connection.execute("BEGIN IMMEDIATE")
        with _whole(connection, path):
            if _version(connection) > number:
                continue  # another process opened it at the same moment and was first
            for statement in MIGRATIONS[number]:
                connection.execute(statement)
            connection.execute(f"PRAGMA application_id = {DESK_APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {number + 1}")
