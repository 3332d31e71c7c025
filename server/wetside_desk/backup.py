"""Everything as one file, and back again.

A backup is a ZIP with the journal (a whole copy made while the station writes), the desk's own
database and a small manifest. Restoring brings back what the desk keeps. The journal in it is
given to the station by hand, with the station stopped (docs/desk.md): the desk never writes
where the station writes.
"""

from __future__ import annotations

import json
import sqlite3
import time
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from wetside_desk import __version__
from wetside_desk.store import database

_MANIFEST, _JOURNAL, _DESK = "wetside-backup.json", "journal.sqlite3", "desk.sqlite3"
FORMAT = 1


class NotABackup(ValueError):  # what the file is not
    """The file is no backup, or one that this version cannot read."""


@contextmanager
def made(journal: Path, ours: database.Database) -> Iterator[Path]:
    """A backup in a file that goes when the block ends."""
    with TemporaryDirectory(prefix="wetside-backup-", dir=ours.path.parent) as folder:
        place = Path(folder)
        manifest = {"format": FORMAT, "version": __version__, "made": time.time()}
        ours.copy_to(place / _DESK)
        if journal.exists():
            uri = f"{journal.absolute().as_uri()}?mode=ro"
            with closing(sqlite3.connect(uri, uri=True, timeout=5)) as connection:
                connection.execute("VACUUM INTO ?", (str(place / _JOURNAL),))
        target = place / "backup.zip"
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=3) as archive:
            archive.writestr(_MANIFEST, json.dumps(manifest))
            for name in (_DESK, _JOURNAL):
                if (place / name).exists():
                    archive.write(place / name, name)
        yield target


def restore(file: Path, ours: database.Database) -> None:
    """Put back the desk's own database out of a backup; the one replaced is kept beside it.

    Sessions do not come back: everybody signs in again.

    Raises
    ------
    NotABackup
        Not a backup; nothing was changed.
    """
    with TemporaryDirectory(prefix="wetside-restore-", dir=ours.path.parent) as folder:
        found = Path(folder) / _DESK
        _take_out(file, found)
        _check(found)
        kept = ours.path.with_name(f"{ours.path.stem}.before-restore{ours.path.suffix}")
        kept.unlink(missing_ok=True)
        ours.copy_to(kept)
        ours.close()
        for end in ("-wal", "-shm"):
            ours.path.with_name(ours.path.name + end).unlink(missing_ok=True)
        found.chmod(0o600)
        found.replace(ours.path)


def _take_out(file: Path, target: Path) -> None:
    try:
        with zipfile.ZipFile(file) as archive:
            manifest = json.loads(archive.read(_MANIFEST))
            if manifest.get("format") != FORMAT:
                raise NotABackup(f"This backup has format {manifest.get('format')!r}.")
            with archive.open(_DESK) as source, target.open("wb") as out:
                while piece := source.read(1 << 20):
                    out.write(piece)
    except (zipfile.BadZipFile, KeyError, ValueError, OSError) as error:
        if isinstance(error, NotABackup):
            raise
        raise NotABackup("This file is not a backup of a wetside desk.") from error


def _check(found: Path) -> None:
    with closing(sqlite3.connect(found, isolation_level=None)) as connection:
        try:
            whole = connection.execute("PRAGMA integrity_check").fetchone()[0]
            owner = connection.execute("PRAGMA application_id").fetchone()[0]
            version = connection.execute("PRAGMA user_version").fetchone()[0]
            if whole != "ok" or owner != database.APPLICATION_ID:
                raise NotABackup("The desk's part of this backup is damaged.")
            if version > len(database.MIGRATIONS):
                raise NotABackup("This backup was made by a newer wetside.")
            connection.execute("DELETE FROM session")
            connection.execute("DELETE FROM link")
        except sqlite3.DatabaseError as error:
            raise NotABackup("The desk's part of this backup is damaged.") from error
