"""Everything as one file for the teacher, and the desk's part of it back again.

The file is the one that ``wetside backup`` makes. From the page come back what the desk keeps
and the teacher's files; journal, containers and station settings are put back by
``wetside restore`` with the station stopped, as the desk never writes where the station writes.
"""

from __future__ import annotations

from pathlib import Path
from shutil import disk_usage, rmtree
from tempfile import TemporaryDirectory, gettempdir
from typing import BinaryIO

from wetside.errors import ArchiveRefused
from wetside.journal import archive, putback, unpacking
from wetside.journal.archive import Where
from wetside.journal.putback import Part
from wetside_desk import __version__
from wetside_desk.problems import ProblemError
from wetside_desk.settings import DeskSettings
from wetside_desk.store import database

#: Room that the disk keeps beside a backup that is taken.
_SPARE_BYTES = 64_000_000


def where(settings: DeskSettings, ours: database.Database) -> Where:
    """Where the things of this desk's station are, as far as the desk knows."""
    folder = settings.files_folder
    containers = settings.journal.with_name(archive.CONTAINERS)
    return Where(
        journal=settings.journal,
        desk=ours.path,
        containers=containers,
        station=settings.station_file,
        files=folder,
    )


def unfinished(settings: DeskSettings) -> Path:
    """Folder of what is being made or looked at; a start of the desk empties it.

    Whatever ends the desk in the middle, no labels and notes are left lying about.
    """
    folder = settings.data / "unfinished"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def clear_unfinished(settings: DeskSettings) -> None:
    """Remove what an earlier desk left when its power went."""
    rmtree(settings.data / "unfinished", ignore_errors=True)


def taken(settings: DeskSettings, ours: database.Database) -> BinaryIO:
    """A backup to be read; it has no name any more, and is gone as soon as it is closed.

    Raises
    ------
    JournalError
        Something cannot be copied.
    """
    with ours.read():  # the file is there, and in its newest version
        pass
    with TemporaryDirectory(dir=unfinished(settings)) as folder:
        made = archive.make(where(settings, ours), Path(folder) / "backup.zip", __version__)
        return made.open("rb")


def check_room(length: int, settings: DeskSettings) -> None:
    """Whether a backup of so many bytes can be taken: it lies twice while it is looked at.

    Raises
    ------
    ProblemError
        ``disk-full``: there is too little room for that.
    """
    need: dict[int, tuple[Path, int]] = {}
    for folder in (Path(gettempdir()), settings.data):
        device = folder.stat().st_dev
        need[device] = (folder, need.get(device, (folder, _SPARE_BYTES))[1] + length)
    for folder, size in need.values():
        free = disk_usage(folder).free
        if free < size:
            raise ProblemError(
                "disk-full", f"{free / 1e6:.0f} MB are free and {size / 1e6:.0f} MB needed."
            )


def restore(file: Path, settings: DeskSettings, ours: database.Database) -> bool:
    """Put back the desk's own database and the teacher's files; gives whether it held the files.

    What stood there is kept beside it. Sessions do not come back: everybody signs in again.

    Raises
    ------
    ArchiveRefused
        Not a backup, damaged or newer, or a folder cannot be written; nothing was changed.
    """
    with unpacking.opened(file, __version__, unfinished(settings)) as found:
        if found.desk is None:
            raise ArchiveRefused("This backup holds nothing of a desk.")
        with ours.standing_still() as path:
            place = Where(desk=path, files=settings.files_folder)
            putback.allowed(found, place, frozenset({Part.DESK, Part.FILES}))
            putback.unused(path)
            putback.desk(found.desk, path)
        if found.files:
            putback.papers(found.files, settings.files_folder)
        return bool(found.files)
