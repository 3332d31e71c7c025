"""A copy of the journal in one file while it is written, and back again."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from wetside.errors import JournalDamaged, JournalError, JournalUnavailable
from wetside.journal import files
from wetside.journal.migrations import version_of
from wetside.journal.opening import GENERATION, first_free_seq, is_damage
from wetside.wholefile import hand_over, sync


@dataclass(frozen=True, slots=True)
class Copy:
    """A copy that has been checked from its first page to its last.

    ``events`` and ``runs`` are counts; ``last_seq`` is the highest number of any station.
    """

    path: Path
    runs: int
    events: int
    last_seq: int


def inspect(path: Path) -> Copy:
    """Read a whole copy, check it for damage and count what is in it.

    Raises
    ------
    JournalDamaged
        Its content is broken.
    JournalError
        It is no journal, of a newer wetside, or cannot be read.
    """
    if not path.is_file():
        raise JournalUnavailable(f"there is no file {path}")
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True, isolation_level=None
    )
    try:
        if version_of(connection, path) == 0:
            raise JournalError(f"{path} is empty, not a copy of a journal")
        one = connection.execute
        problems = [row[0] for row in one("PRAGMA integrity_check") if row[0] != "ok"]
        problems += [f"row without its {row[2]}" for row in one("PRAGMA foreign_key_check")]
        if problems:
            raise JournalDamaged(f"{path} is damaged: {'; '.join(problems[:3])}")
        runs, events, last_event, last_batch = one(
            "SELECT (SELECT count(*) FROM run), (SELECT count(*) FROM event), "
            "(SELECT max(seq) FROM event), (SELECT max(seq) FROM batch)"
        ).fetchone()
    except sqlite3.DatabaseError as error:
        kind = JournalDamaged if is_damage(error) else JournalUnavailable
        raise kind(f"{path} cannot be read: {error}") from error
    finally:
        connection.close()
    last = max(last_event or 0, last_batch or 0)
    return Copy(path, runs, events, last)


def copy(journal: Path, target: Path) -> Copy:
    """Copy a journal, also while it is written, and check the copy.

    The copy is one file as of one moment, made under another name and renamed when it is on
    the disk and has been read back, so a file called ``target`` is always a good copy.

    Raises
    ------
    JournalError
        ``target`` exists, the journal is missing or damaged, or the disk is full.
    """
    if target.exists():
        raise JournalError(f"{target} exists; a copy never writes over another one")
    part = target.with_name(target.name + ".part")
    part.unlink(missing_ok=True)
    try:
        connection = sqlite3.connect(
            f"{journal.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None
        )
        try:
            version_of(connection, journal)
            connection.execute("VACUUM INTO ?", (str(part),))
        finally:
            connection.close()
        with suppress(PermissionError):  # a stick with FAT or exFAT has no rights to change
            part.chmod(files.MODE)
        sync(part)
        found = inspect(part)
        part.rename(target)
        sync(target.parent)
    except sqlite3.DatabaseError as error:
        part.unlink(missing_ok=True)
        kind = JournalDamaged if is_damage(error) else JournalUnavailable
        raise kind(f"{journal} cannot be copied to {target}: {error}") from error
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return replace(found, path=target)


def restore(source: Path, journal: Path) -> Path | None:
    """Put a copy in the place of the journal; the station must be stopped.

    Returns
    -------
    Path or None
        Where the journal that was there went; it is renamed, not deleted.

    Raises
    ------
    JournalError
        The station still writes, or the copy is damaged or of a newer wetside.
    """
    found = inspect(source)
    with files.WriterLock(journal):
        part = journal.with_name(journal.name + ".part")
        there = journal if journal.exists() else None
        try:
            shutil.copyfile(source, part)
            part.chmod(files.MODE)
            hand_over(part)
            # one generation more for the journal that is replaced, which may not be readable
            first = first_free_seq(journal, there) + (0 if there is None else GENERATION)
            _count_on(part, max(first, found.last_seq + 1))
            sync(part)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
        # only now: until the new one is whole, the old one stands in its place
        aside = None if there is None else files.set_aside(journal, "replaced")
        part.rename(journal)
        sync(journal.parent)
    return aside


def _count_on(part: Path, first_seq: int) -> None:
    """Let every station go on above the numbers of the journal that is replaced."""
    connection = sqlite3.connect(part, isolation_level=None)
    try:
        connection.execute("UPDATE station SET first_seq = ?", (first_seq,))
    finally:
        connection.close()
