"""Opening a journal for writing: lock, create, check, set aside what is damaged, migrate."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from wetside.errors import JournalError, JournalUnavailable
from wetside.journal import files
from wetside.journal.migrations import MIGRATIONS, Migration, migrate, version_of
from wetside.journal.schema import Json

#: Tables in the order in which the start looks at them: what a run is resumed from comes first.
_CHECKED = ("run", "run_flag", "boot", "station", "probe", "event", "batch", "forecast", "sample")

#: Distance between the first sequence numbers of a journal and of the one that replaces it.
GENERATION = 1_000_000_000

#: Small pages, because a commit touches four or five of them and each goes to the card whole;
#: the log is folded in every 4 MB of them (docs/decisions/0302-small-pages.md).
_PRAGMAS = (
    "page_size=1024",
    "journal_mode=WAL",
    "synchronous=FULL",
    "wal_autocheckpoint=4000",
    "journal_size_limit=8388608",
)

_BUSY_SECONDS = 10.0
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


@dataclass(frozen=True, slots=True)
class Opening:
    """What was found when the journal was opened.

    ``check_complete`` is False where the time for the check ran out, which only says that the
    rest was not looked at; the nightly backup looks at all of it. ``set_aside`` is where a
    damaged journal went, ``problem`` what was wrong with it. ``copy`` is the copy made before
    a migration from ``version_found`` (0 = a new file).
    """

    version_found: int
    check_seconds: float
    check_complete: bool
    set_aside: Path | None = None
    problem: str | None = None
    copy: Path | None = None

    def detail(self) -> dict[str, Json]:
        """The same as the detail of an event, so that the station can journal it."""
        return {
            "version_found": self.version_found,
            "check_seconds": round(self.check_seconds, 3),
            "check_complete": self.check_complete,
            "set_aside": None if self.set_aside is None else self.set_aside.name,
            "problem": self.problem,
            "copy": None if self.copy is None else self.copy.name,
        }


def is_damage(error: sqlite3.Error) -> bool:
    """Whether an error says that the file itself is damaged."""
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in _DAMAGED


@contextmanager
def plainly(path: Path, doing: str) -> Iterator[None]:
    """Turn errors of SQLite and the disk into `JournalUnavailable`, damage excepted."""
    try:
        yield
    except sqlite3.OperationalError as error:
        raise JournalUnavailable(f"{path} {doing}: {error}") from error
    except OSError as error:
        raise JournalUnavailable(f"{path} {doing}: {error.strerror or error}") from error


def connect(path: Path) -> sqlite3.Connection:
    """A connection of the writer's: every commit is on the disk when it returns.

    In WAL mode ``synchronous=NORMAL`` loses acknowledged commits when the plug is pulled, so it
    is FULL (docs/journal.md).
    """
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=rw",
        uri=True,
        isolation_level=None,
        timeout=_BUSY_SECONDS,
        check_same_thread=False,
    )
    try:
        for pragma in _PRAGMAS:
            connection.execute(f"PRAGMA {pragma}").fetchall()
    except BaseException:
        connection.close()
        raise
    return connection


def check(connection: sqlite3.Connection, seconds: float | None) -> tuple[list[str], bool]:
    """Look for damage for at most ``seconds`` (None = as long as it takes).

    ``quick_check`` reads every page of a table once and checks that the pages hang together;
    it leaves out the comparison of each index with its table, which ``integrity_check`` makes
    and which costs several times as much. The tables a run is resumed from come first.

    Returns
    -------
    problems
        Lines of SQLite, none = no damage seen.
    complete
        Whether all tables were looked at.
    """
    present = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    until = None if seconds is None else time.monotonic() + seconds
    for table in _CHECKED:
        if table not in present:
            continue
        try:
            with _interrupted_at(connection, until):
                rows = [row[0] for row in connection.execute(f"PRAGMA quick_check({table})")]
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode == sqlite3.SQLITE_INTERRUPT:
                return [], False
            raise
        problems = [line for row in rows if row != "ok" for line in row.splitlines()]
        over = until is not None and time.monotonic() >= until
        if over:  # what an interrupted check reports may only be what it had not read yet
            return [], False
        if problems:
            return problems, True
    return [], True


@contextmanager
def _interrupted_at(connection: sqlite3.Connection, until: float | None) -> Iterator[None]:
    """Interrupt what the connection does in the block when the time is over."""
    if until is None:
        yield
        return
    done = threading.Event()

    def watch() -> None:
        wait = max(0.0, until - time.monotonic())
        while not done.wait(wait):
            connection.interrupt()  # again and again: before the statement began it is no use
            wait = 0.01

    watcher = threading.Thread(target=watch, name="journal-check", daemon=True)
    watcher.start()
    try:
        yield
    finally:
        done.set()
        watcher.join()


def first_free_seq(path: Path, aside: Path | None) -> int:
    """Where numbering begins in a new file, so that no number is ever used twice.

    A fresh journal after damage begins a whole `GENERATION` above everything that the damaged
    ones can have used, readable or not.
    """
    number = max(files.aside_names(path), default=0)
    if aside is not None:
        uri = f"{aside.absolute().as_uri()}?mode=ro"
        try:
            old = sqlite3.connect(uri, uri=True)
            try:
                for table in ("event", "batch"):
                    last = old.execute(f"SELECT max(seq) FROM {table}").fetchone()[0]  # noqa: S608  # names from the line above
                    number = max(number, (last or 0) // GENERATION + 1)
            finally:
                old.close()
        except sqlite3.Error:
            pass
    return number * GENERATION + 1


def open_for_writing(
    path: Path,
    check_seconds: float | None,
    migrations: Sequence[Migration] = MIGRATIONS,
    replaced: tuple[Path, str] | None = None,
) -> tuple[sqlite3.Connection, Opening, int]:
    """Open, check and migrate; the caller holds the lock.

    ``replaced`` is a damaged journal just set aside and what was wrong with it.

    Returns
    -------
    connection, opening, first_seq
        ``first_seq`` is where a station not yet in the file begins to count.

    Raises
    ------
    JournalError
        Another program's database, or a newer journal.
    JournalUnavailable
        The disk is full, read-only or gone.
    """
    aside, problem = replaced or (None, None)
    while True:
        with plainly(path, "cannot be opened for writing"):
            files.create(path)
            begun = time.monotonic()
            connection: sqlite3.Connection | None = None
            try:
                connection = connect(path)
                version_of(connection, path, len(migrations))
                problems, complete = check(connection, check_seconds)
            except sqlite3.DatabaseError as error:
                if not is_damage(error):
                    if connection is not None:
                        connection.close()
                    raise
                problems, complete = [str(error)], True
            except JournalError:
                if connection is not None:
                    connection.close()
                raise
            took = time.monotonic() - begun
            if problems:
                problem = "; ".join(problems[:3])
                aside = files.set_aside(path)  # before close, which would fold the log in
                if connection is not None:
                    connection.close()
                continue
            assert connection is not None  # noqa: S101  # it is None only beside a problem
            try:
                version, copy = migrate(connection, path, migrations)
            except BaseException:
                connection.close()
                raise
        opening = Opening(version, took, complete, aside, problem, copy)
        return connection, opening, first_free_seq(path, aside)
