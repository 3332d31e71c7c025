"""A backup looked at from begin to end, before anything of it is put back.

A file that `wetside.journal.archive` made, one of the format before, or a folder that the
nightly backup made.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import sqlite3
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from wetside.errors import ArchiveRefused, JournalError
from wetside.journal import backup
from wetside.journal.archive import (
    CONTAINERS,
    DESK,
    DESK_ENV,
    FORMAT,
    JOURNAL,
    MANIFEST,
    PIECE,
    STATION,
    is_member,
    papers_of,
)
from wetside.journal.schema import DESK_APPLICATION_ID, DESK_VERSION

#: What members of the first format are called today.
_FIRST = {"journal.sqlite3": JOURNAL, "desk.sqlite3": DESK}
#: Formats with the files of the teacher in them; the second has no containers, the third no
#: ``desk.env``.
_WHOLE = (2, 3, FORMAT)

#: What libraries raise over a file that is no backup, or a manifest of another shape.
_UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    AttributeError,
    EOFError,
    LookupError,
    RuntimeError,
    TypeError,
    ValueError,
)

#: Room that the disk keeps beside what is written.
_SPARE_BYTES = 64_000_000


@dataclass(frozen=True, slots=True)
class Found:
    """A backup that was looked at from begin to end; the paths hold while it is open.

    ``files`` maps names such as ``sheets/one.toml`` to copies. ``made`` is Unix time, None
    where it is not told.
    """

    made: float | None = None
    journal: Path | None = None
    desk: Path | None = None
    containers: Path | None = None
    station: Path | None = None
    files: Mapping[str, Path] = field(default_factory=dict)
    desk_env: Path | None = None


@contextmanager
def opened(path: Path, version: str, room: Path | None = None) -> Iterator[Found]:
    """Look at all of a backup, a file or a folder; nothing is put back yet.

    Parameters
    ----------
    path
        The file, or a folder of the nightly backup.
    version
        This wetside's version; a newer backup is refused.
    room
        Folder for what is unpacked; beside ``path`` if None.

    Raises
    ------
    ArchiveRefused
        No backup, damaged, or of a newer wetside.
    """
    if path.is_dir():
        found = _of_folder(path)
        _check(found)
        yield found
        return
    with TemporaryDirectory(prefix=".wetside-restore-", dir=room or path.parent) as name:
        found = _unpacked(path, Path(name), version)
        _check(found)
        yield found


def _of_folder(folder: Path) -> Found:
    if folder.resolve().name.endswith(".part"):
        raise ArchiveRefused(
            f"{folder} is half a backup: what made it was interrupted. Take a folder without .part"
        )

    def there(path: Path) -> Path | None:
        return path if path.is_file() else None

    found = Found(
        journal=there(folder / JOURNAL),
        desk=there(folder / "desk" / DESK),
        containers=there(folder / CONTAINERS),
        station=there(folder / STATION),
        files=papers_of(folder / "settings") | papers_of(folder / "files"),
        desk_env=there(folder / DESK_ENV),
    )
    if not any((found.journal, found.desk, found.containers, found.station, found.files)):
        raise ArchiveRefused(f"{folder} is no backup: nothing of a station is in it")
    return found


def _unpacked(path: Path, folder: Path, version: str) -> Found:
    try:
        with zipfile.ZipFile(path) as archive:
            manifest = json.loads(archive.read(MANIFEST))
            members = _members(archive, manifest, version)
            _enough_room(folder, sum(archive.getinfo(old).file_size for old in members))
            for old, new in members.items():
                _take_out(archive, old, folder / new, manifest.get("members", {}).get(old))
    except ArchiveRefused:
        raise
    except OSError as error:
        raise ArchiveRefused(f"{path} cannot be unpacked: {error.strerror}") from error
    except _UNREADABLE as error:
        raise ArchiveRefused("This file is not a backup of wetside, or it is cut off.") from error
    names = set(members.values())

    def at(name: str) -> Path | None:
        return folder / name if name in names else None

    return Found(
        manifest.get("made") if isinstance(manifest.get("made"), float) else None,
        at(JOURNAL),
        at(DESK),
        at(CONTAINERS),
        at(STATION),
        {name.removeprefix("files/"): folder / name for name in names if name.startswith("files/")},
        at(DESK_ENV),
    )


def _enough_room(folder: Path, need: int) -> None:
    free = shutil.disk_usage(folder).free
    if free < need + _SPARE_BYTES:
        raise ArchiveRefused(
            f"{free / 1e6:.0f} MB are free and {(need + _SPARE_BYTES) / 1e6:.0f} MB needed"
        )


def _members(archive: zipfile.ZipFile, manifest: dict[str, Any], version: str) -> dict[str, str]:
    """Members of the archive, and what each is called today."""
    there = [name for name in archive.namelist() if name != MANIFEST]
    if manifest["format"] == 1:
        return {name: _FIRST[name] for name in there}
    if manifest["format"] not in _WHOLE:
        raise ArchiveRefused(f"This backup has format {manifest['format']!r}.")
    if numbers(str(manifest["version"])) > numbers(version):
        raise ArchiveRefused(f"This backup was made by a newer wetside, {manifest['version']}.")
    if sorted(there) != sorted(manifest["members"]):
        raise ArchiveRefused("This backup is damaged: it does not hold what its list names.")
    for name in there:
        if not is_member(name):
            raise ArchiveRefused(f"This backup holds {name!r}, which is nothing of wetside.")
    return {name: name for name in there}


def numbers(version: str) -> tuple[int, ...]:
    """The numbers of a version such as 0.1.0, to be compared."""
    return tuple(int(part) for part in re.findall(r"\d+", version)[:3])


def _take_out(
    archive: zipfile.ZipFile, name: str, target: Path, entry: Mapping[str, Any] | None
) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with archive.open(name) as source, target.open("wb") as out:
        while piece := source.read(PIECE):
            digest.update(piece)
            out.write(piece)
    if entry is not None and digest.hexdigest() != entry["sha256"]:
        raise ArchiveRefused(f"This backup is damaged: {name} is not what was put in.")


def _check(found: Found) -> None:
    """Read both databases from their first page to their last."""
    if found.journal is not None:
        try:
            backup.inspect(found.journal)
        except JournalError as error:
            raise ArchiveRefused(f"The journal in this backup cannot be used: {error}") from error
    if found.desk is not None:
        try:
            uri = f"{found.desk.absolute().as_uri()}?mode=ro&immutable=1"
            with closing(sqlite3.connect(uri, uri=True)) as connection:
                answer = connection.execute("PRAGMA integrity_check").fetchone()[0]
                owner = connection.execute("PRAGMA application_id").fetchone()[0]
                desk_version = connection.execute("PRAGMA user_version").fetchone()[0]
        except sqlite3.DatabaseError as error:
            raise ArchiveRefused("The desk's part of this backup is damaged.") from error
        if answer != "ok" or owner != DESK_APPLICATION_ID:
            raise ArchiveRefused("The desk's part of this backup is damaged.")
        if desk_version > DESK_VERSION:
            raise ArchiveRefused("The desk's part of this backup was made by a newer wetside.")
