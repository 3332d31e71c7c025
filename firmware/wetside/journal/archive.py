"""Everything of one station as one file.

A ZIP with these members, of which a station may lack some:

* ``wetside-backup.json``: format, version, moment, and size and SHA-256 of every other member;
* ``journal.sqlite`` and ``desk.sqlite3``: whole copies, made while both are written;
* ``containers.json``: what the station has learnt about its containers;
* ``settings/station.toml`` and ``settings/desk.env``, which says how an installed desk listens;
* below ``files/`` the shelf, the bells, the choices for the sink and the sheets, broken ones too,
  whatever `wetside.tomlfile.is_file_name` lets them be called.

`wetside.journal.unpacking` looks at such a file, `wetside.journal.putback` puts it back.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import time
import zipfile
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from wetside.errors import JournalError
from wetside.journal import backup
from wetside.tomlfile import is_file_name
from wetside.wholefile import sync

FORMAT = 4
MANIFEST, JOURNAL, DESK, CONTAINERS, STATION, DESK_ENV = (
    "wetside-backup.json",
    "journal.sqlite",
    "desk.sqlite3",
    "containers.json",
    "settings/station.toml",
    "settings/desk.env",
)
PIECE = 1 << 20


@dataclass(frozen=True, slots=True)
class Where:
    """Where the things of one station are; None = there is no such thing.

    ``containers`` is what was learnt about them, ``station`` the settings file, beside which
    ``desk.env`` may be, ``files`` the folder of shelf, bells and sheets.
    """

    journal: Path | None = None
    desk: Path | None = None
    containers: Path | None = None
    station: Path | None = None
    files: Path | None = None


def copy_database(source: Path, target: Path) -> None:
    """Copy one SQLite file while it is in use, and read the copy back.

    Raises
    ------
    JournalError
        The file or its copy is damaged, or the disk is full.
    """
    try:
        uri = f"{source.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(uri, uri=True, timeout=10)) as connection:
            connection.execute("VACUUM INTO ?", (str(target),))
        uri = f"{target.absolute().as_uri()}?mode=ro&immutable=1"
        with closing(sqlite3.connect(uri, uri=True)) as connection:
            answer = connection.execute("PRAGMA integrity_check").fetchone()[0]
    except sqlite3.Error as error:
        raise JournalError(f"{source} cannot be copied: {error}") from error
    if answer != "ok":
        raise JournalError(f"the copy of {source} is damaged: {answer}")


def is_member(name: str) -> bool:
    """Whether a backup may hold this member; no other can be written anywhere."""
    inside = name.removeprefix("files/")
    return name in {JOURNAL, DESK, CONTAINERS, STATION, DESK_ENV} or (
        inside != name and _is_paper(inside)
    )


def _is_paper(name: str) -> bool:
    """Whether shelf, bells, choices or a sheet may be called so, below their folder."""
    file = name.removeprefix("sheets/")
    return file.endswith(".toml") and is_file_name(file) and name != Path(STATION).name


def _there(folder: Path | None) -> dict[str, Path]:
    if folder is None:
        return {}
    there = sorted((*folder.glob("*.toml"), *folder.glob("sheets/*.toml")))
    return {path.relative_to(folder).as_posix(): path for path in there if path.is_file()}


def papers_of(folder: Path | None) -> dict[str, Path]:
    """Shelf, bells, choices and sheets of a folder, by their names in a backup."""
    return {name: path for name, path in _there(folder).items() if _is_paper(name)}


def left_out(folder: Path | None) -> list[Path]:
    """Files of the folder that a backup cannot hold because of their names."""
    settings = Path(STATION).name
    found = _there(folder).items()
    return [path for name, path in found if name != settings and not _is_paper(name)]


def make(where: Where, target: Path, version: str) -> Path:
    """Write a backup; station and desk may go on writing meanwhile.

    The file is made under another name and renamed when all of it is on the disk.

    Raises
    ------
    JournalError
        ``target`` exists, or something cannot be copied. No file is left behind.
    """
    if target.exists():
        raise JournalError(f"{target} exists; a backup never writes over another one")
    part = target.with_name(f"{target.name}.part")
    try:
        with TemporaryDirectory(prefix=".wetside-backup-", dir=target.parent) as name:
            members: dict[str, Path] = {}
            folder = Path(name)
            if where.journal is not None and where.journal.exists():
                members[JOURNAL] = backup.copy(where.journal, folder / JOURNAL).path
            if where.desk is not None and where.desk.exists():
                members[DESK] = folder / DESK
                copy_database(where.desk, members[DESK])
            env = None if where.station is None else where.station.with_name(Path(DESK_ENV).name)
            single = ((CONTAINERS, where.containers), (STATION, where.station), (DESK_ENV, env))
            members |= {name: path for name, path in single if path is not None and path.exists()}
            members |= {f"files/{name}": path for name, path in papers_of(where.files).items()}
            _pack(members, part, version)
        sync(part)
        part.rename(target)
        sync(target.parent)
    except OSError as error:
        raise JournalError(f"{target} cannot be written: {error.strerror or error}") from error
    finally:
        part.unlink(missing_ok=True)
    return target


def _pack(members: Mapping[str, Path], part: Path, version: str) -> None:
    entries = {}
    with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=3) as archive:
        for name, path in members.items():
            digest = hashlib.sha256()
            with path.open("rb") as source, archive.open(name, "w", force_zip64=True) as out:
                while piece := source.read(PIECE):
                    digest.update(piece)
                    out.write(piece)
                entries[name] = {"bytes": source.tell(), "sha256": digest.hexdigest()}
        manifest = {"format": FORMAT, "version": version, "made": time.time(), "members": entries}
        archive.writestr(MANIFEST, json.dumps(manifest, indent=1))
