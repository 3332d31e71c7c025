"""What a backup holds put back where it belongs; what stood there is kept beside it."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import closing
from enum import StrEnum
from pathlib import Path

from wetside.errors import ArchiveRefused, SettingsError
from wetside.journal import archive, backup, files
from wetside.journal.archive import Where
from wetside.journal.own_paths import Fitted, fitted
from wetside.journal.unpacking import Found
from wetside.wholefile import hand_over, make_folder, replace, sync


class Part(StrEnum):
    """What can be put back by itself, in the order in which it is."""

    JOURNAL = "journal"
    DESK = "desk"
    CONTAINERS = "containers"
    FILES = "files"
    SETTINGS = "settings"


def held(found: Found) -> frozenset[Part]:
    """The parts that a backup holds."""
    there = {
        Part.JOURNAL: found.journal,
        Part.DESK: found.desk,
        Part.CONTAINERS: found.containers,
        Part.FILES: found.files,
        Part.SETTINGS: found.station,
    }
    return frozenset(part for part, one in there.items() if one)


def asked(found: Found, only: Collection[Part]) -> frozenset[Part]:
    """The parts to put back: those of ``only``, and without it all, among which the runs must be.

    Raises
    ------
    ArchiveRefused
        The backup lacks one of them.
    """
    there = held(found)
    missing = [part for part in Part if part not in there and part in (only or {Part.JOURNAL})]
    if missing:
        raise ArchiveRefused(
            f"not in this backup: {', '.join(missing)}. Nothing was changed; "
            f"{_only(there)} takes what is"
        )
    return frozenset(only) or there


def _only(parts: Collection[Part]) -> str:
    return " ".join(f"--only {part}" for part in Part if part in parts)


def fitted_settings(found: Found, where: Where) -> Fitted | None:
    """The settings that will be put back, with the paths of this machine; None where none are.

    Raises
    ------
    ArchiveRefused
        No station starts with them.
    """
    if found.station is None or where.station is None:
        return None
    try:
        return fitted(found.station, where.station)
    except SettingsError as problem:
        raise ArchiveRefused(
            f"the settings in this backup are wrong: {'; '.join(problem.lines())}. "
            f"Nothing was changed; {_only(held(found) - {Part.SETTINGS})} takes the rest"
        ) from problem


def put_back(
    found: Found,
    where: Where,
    parts: frozenset[Part],
    told: Callable[[Part, Path | None], object] = lambda _part, _aside: None,
) -> list[tuple[Part, Path | None]]:
    """Put parts of an opened backup back; station and desk must be stopped for theirs.

    ``told`` hears of each as soon as it is put back; a later one may still be refused.

    Returns
    -------
    list of (Part, Path or None)
        Each part that was put back, and where what stood there went.

    Raises
    ------
    JournalError
        The station still runs.
    ArchiveRefused
        The desk still runs, no station starts with the settings, or a place cannot be written.
        Nothing was changed.
    """
    allowed(found, where, parts)
    settings = fitted_settings(found, where) if Part.SETTINGS in parts else None
    done: list[tuple[Part, Path | None]] = []

    def put(part: Part, aside: Path | None) -> None:
        done.append((part, aside))
        told(part, aside)

    if Part.DESK in parts and found.desk is not None and where.desk is not None:
        unused(where.desk)
    if Part.JOURNAL in parts and found.journal is not None and where.journal is not None:
        make_folder(where.journal.parent)
        put(Part.JOURNAL, backup.restore(found.journal, where.journal))
    if Part.DESK in parts and found.desk is not None and where.desk is not None:
        put(Part.DESK, desk(found.desk, where.desk))
    if Part.CONTAINERS in parts and found.containers is not None and where.containers is not None:
        put(Part.CONTAINERS, some_files({where.containers: found.containers.read_bytes()}))
    if Part.FILES in parts and found.files and where.files is not None:
        put(Part.FILES, papers(found.files, where.files))
    if settings is not None and where.station is not None:
        content = {where.station: settings.text.encode()}
        if found.desk_env is not None:
            env = where.station.with_name(Path(archive.DESK_ENV).name)
            content[env] = found.desk_env.read_bytes()
        put(Part.SETTINGS, some_files(content))
    return done


def allowed(found: Found, where: Where, parts: frozenset[Part]) -> None:
    """Make sure that these parts can be put there, and what is there be kept.

    Raises
    ------
    ArchiveRefused
        A folder that one goes into, or is made in, cannot be written, or what is there not read.
    """
    for target in _targets(found, where, parts):
        folder = target.parent
        while not folder.exists():
            folder = folder.parent
        if not os.access(folder, os.W_OK | os.X_OK, effective_ids=True):
            raise ArchiveRefused(f"{folder} cannot be written, so nothing was changed")
        if target.exists() and not os.access(target, os.R_OK, effective_ids=True):
            raise ArchiveRefused(f"{target} cannot be read, so nothing was changed")


def _targets(found: Found, where: Where, parts: frozenset[Part]) -> Iterator[Path]:
    """The files that these parts are put into, and those that are set aside for them."""
    one_each = {
        Part.JOURNAL: where.journal,
        Part.DESK: where.desk,
        Part.CONTAINERS: where.containers,
        Part.SETTINGS: where.station,
    }
    yield from (path for part, path in one_each.items() if part in parts and path is not None)
    if Part.SETTINGS in parts and where.station is not None and found.desk_env is not None:
        yield where.station.with_name(Path(archive.DESK_ENV).name)
    if Part.FILES in parts and where.files is not None:
        yield where.files / "replaced-1"
        yield from archive.papers_of(where.files).values()
        yield from (where.files / name for name in found.files)


def unused(database: Path) -> None:
    """Make sure that no process has the desk's database open.

    Leaving WAL mode needs the file for oneself, and brings all that was written into it.

    Raises
    ------
    ArchiveRefused
        Somebody has.
    """
    if not database.exists():
        return
    try:
        with closing(sqlite3.connect(database, isolation_level=None, timeout=0)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.OperationalError as error:
        raise ArchiveRefused(f"{database} is in use: stop the desk first ({error})") from error
    except sqlite3.DatabaseError:
        return  # a damaged one is set aside as it is


def desk(source: Path, target: Path) -> Path | None:
    """Put the desk's database back; nobody may have it open. Sessions and links do not come back.

    Returns
    -------
    Path or None
        Where the database that was there went.
    """
    make_folder(target.parent)
    part = target.with_name(f"{target.name}.part")
    try:
        shutil.copyfile(source, part)
        part.chmod(0o600)
        hand_over(part)
        with closing(sqlite3.connect(part, isolation_level=None)) as connection:
            for table in ("session", "link"):
                connection.execute(f"DELETE FROM {table}")  # noqa: S608  # two names, above
        sync(part)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    aside = files.set_aside(target, "replaced") if target.exists() else None
    part.rename(target)
    sync(target.parent)
    return aside


def papers(found: Mapping[str, Path], folder: Path) -> Path | None:
    """Put shelf, bells, choices and sheets back as they were, and no others.

    All that was there is kept first, so that a disk that fills up meanwhile takes nothing away.

    Returns
    -------
    Path or None
        The folder that what was there went to.
    """
    there = archive.papers_of(folder)
    aside = _next_folder(folder) if there else None
    if aside is not None:
        for name, path in there.items():
            _keep(path, aside / name)
    for name, source in found.items():
        _write(source.read_bytes(), folder / name)
    for name in there.keys() - found.keys():
        there[name].unlink()
    return aside


def some_files(contents: Mapping[Path, bytes]) -> Path | None:
    """Put files of one folder back: the settings, or what was learnt about containers.

    Returns
    -------
    Path or None
        The folder that what was there went to.
    """
    there = [target for target in contents if target.exists()]
    aside = _next_folder(there[0].parent) if there else None
    if aside is not None:
        for target in there:
            _keep(target, aside / target.name)
    for target, content in contents.items():
        _write(content, target)
    return aside


def _next_folder(folder: Path) -> Path:
    """A folder beside, by number and not by date: the wall clock may be wrong."""
    numbers = [
        int(path.name.removeprefix("replaced-"))
        for path in folder.glob("replaced-*")
        if path.name.removeprefix("replaced-").isdecimal()
    ]
    return folder / f"replaced-{max(numbers, default=0) + 1}"


def _keep(path: Path, aside: Path) -> None:
    make_folder(aside.parent)
    shutil.copyfile(path, aside)
    hand_over(aside)
    sync(aside)


def _write(content: bytes, target: Path) -> None:
    make_folder(target.parent)
    replace(target, content, None if target.exists() else 0o640)
