"""From any older journal to the present one: named functions, one transaction each."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from pathlib import Path

from wetside.errors import JournalError
from wetside.journal import schema
from wetside.wholefile import sync

#: One step; it runs inside a transaction that also counts ``user_version`` up.
Migration = Callable[[sqlite3.Connection], None]


def create_tables(connection: sqlite3.Connection) -> None:
    """Version 1: the first tables."""
    for statement in schema.TABLES:
        connection.execute(statement)
    connection.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")


#: In order; the n-th (from one) makes version n. Never change one that has shipped.
MIGRATIONS: tuple[Migration, ...] = (create_tables,)

VERSION = len(MIGRATIONS)


def _pragma(connection: sqlite3.Connection, name: str) -> int:
    value = connection.execute(f"PRAGMA {name}").fetchone()[0]
    return int(value)


def version_of(connection: sqlite3.Connection, path: Path, newest: int = VERSION) -> int:
    """Version of the journal; 0 for a file that holds nothing yet.

    Raises
    ------
    JournalError
        The file is another program's database, or a newer wetside made it.
    """
    version = _pragma(connection, "user_version")
    filled = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] > 0
    if filled and _pragma(connection, "application_id") != schema.APPLICATION_ID:
        raise JournalError(
            f"{path} is a database of some other program, not a journal; "
            f"it was left as it is. Name another data folder in the station settings."
        )
    if version > newest:
        raise JournalError(
            f"{path} was written by a newer wetside (journal version {version}; this one "
            f"knows up to {newest}). It was left as it is. Install that version again, or set "
            f"the file aside by hand to begin a new journal."
        )
    return version


def migrate(
    connection: sqlite3.Connection, path: Path, migrations: Sequence[Migration] = MIGRATIONS
) -> tuple[int, Path | None]:
    """Bring the journal to the last of ``migrations``.

    Before anything is changed in a file that holds something, it is copied beside itself.

    Returns
    -------
    version
        The version found.
    copy
        The copy made before the change, None where none was needed.

    Raises
    ------
    JournalError
        See `version_of`.
    """
    version = version_of(connection, path, len(migrations))
    copy: Path | None = None
    if 0 < version < len(migrations):
        copy = path.with_name(f"{path.stem}.version-{version}{path.suffix}")
        part = copy.with_name(copy.name + ".part")
        part.unlink(missing_ok=True)
        connection.execute("VACUUM INTO ?", (str(part),))
        sync(part)
        part.replace(copy)
        sync(copy.parent)
    for number in range(version, len(migrations)):
        connection.execute("BEGIN IMMEDIATE")
        try:
            migrations[number](connection)
            connection.execute(f"PRAGMA user_version = {number + 1}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
    return version, copy
