"""``wetside backup`` and ``wetside restore``: everything of this station as one file, and back."""

import time
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from wetside import __version__
from wetside.commands.endings import not_half_way, reason
from wetside.commands.options import DENIED, USUAL_SETTINGS, SettingsFile, settings_of
from wetside.errors import WetsideError
from wetside.journal import archive, putback, unpacking
from wetside.journal.archive import Where
from wetside.journal.putback import Part
from wetside.settings import StationSettings
from wetside.station import containers
from wetside.station.files import journal_path
from wetside.tomlfile import FILE_NAME_WORDS

#: What to do where the file's place is not this user's.
_STICK = "a stick is mounted for the user of the station (docs/install.md, Backups)"


def files_folder(loaded: StationSettings) -> Path:
    """The folder of shelf, bells and sheets: beside the sheets that the station reads."""
    folder = loaded.sheets_folder
    if folder is not None and folder.name == "sheets":
        return folder.parent
    return loaded.data_folder / "desk" / "files"


def _where(loaded: StationSettings, settings_file: Path) -> Where:
    return Where(
        journal=journal_path(loaded),
        desk=loaded.data_folder / "desk" / "desk.sqlite3",
        containers=containers.path_of(loaded),
        station=settings_file,
        files=files_folder(loaded),
    )


def backup(
    file: Annotated[
        Path, typer.Argument(readable=False, help="The file to write, such as /media/stick/a.zip.")
    ],
    settings_file: SettingsFile = USUAL_SETTINGS,
) -> None:
    """Write everything of this station into one file; nothing has to be stopped.

    Exit codes: 0 written and read back, 1 it could not be, 2 the settings are wrong.

    Example: wetside backup /media/stick/darkroom.zip
    """
    where = _where(settings_of(settings_file), settings_file)
    made: Path | None = None
    try:
        made = archive.make(where, file, __version__)
        with unpacking.opened(made, __version__) as found:
            kinds = (found.journal, found.desk, found.containers, found.station, found.desk_env)
            many = sum(one is not None for one in kinds) + len(found.files)
    except (WetsideError, OSError) as problem:
        written = "" if made is None else f"{made} is written, but cannot be read back: "
        denied = isinstance(problem.__cause__, PermissionError)
        hint = f"; {_STICK}" if denied else ""
        typer.echo(f"wetside backup: {written}{reason(problem)}{hint}", err=True)
        raise typer.Exit(1) from None
    if found.journal is None:
        typer.echo(f"wetside backup: there is no journal yet: {where.journal}", err=True)
    for path in archive.left_out(where.files):
        typer.echo(f"left out: {str(path)!r}: {FILE_NAME_WORDS}", err=True)
    typer.echo(f"{file}: {many} parts, {file.stat().st_size / 1e6:.1f} MB")


def _room(data_folder: Path) -> Path:
    """Where a backup is unpacked: never beside it, as a stick may be full or read-only.

    On the disk that the data go to, in their folder or, before there is one, the next above it.
    """
    return next(one for one in (data_folder, *data_folder.absolute().parents) if one.is_dir())


def _tell(part: Part, aside: Path | None) -> None:
    # the output may be full or gone, which must not leave the rest undone
    with suppress(OSError):
        typer.echo(f"{part} put back" + (f"; what was there: {aside}" if aside else ""))


def restore(
    file: Annotated[
        Path, typer.Argument(readable=False, help="A backup: one file, or a folder of backups/.")
    ],
    settings_file: SettingsFile = USUAL_SETTINGS,
    only: Annotated[
        list[Part] | None, typer.Option(help="Put back only this; may be repeated.")
    ] = None,
) -> None:
    """Put a backup back: journal, desk, containers, the teacher's files, the settings.

    Stop station and desk first. All of the backup is looked at before anything is changed,
    and what stood there is kept beside it. A backup without a journal is refused, unless --only
    asks for parts that it has. Restored settings keep this machine's paths.

    Exit codes: 0 put back, 1 refused, 2 the settings are wrong.

    \b
    Examples:
      sudo systemctl stop wetside-station wetside-desk
      sudo -u wetside wetside restore /media/stick/darkroom.zip
      sudo systemctl start wetside-station wetside-desk
    """  # noqa: D301  # \b keeps the lines of the help as they are
    loaded = settings_of(settings_file)
    where = _where(loaded, settings_file)
    try:
        with unpacking.opened(file, __version__, _room(loaded.data_folder)) as found:
            parts = putback.asked(found, only or ())
            fit = putback.fitted_settings(found, where) if Part.SETTINGS in parts else None
            if found.made is not None:
                typer.echo(f"as of {time.strftime('%Y-%m-%d %H:%M', time.localtime(found.made))}")
            with not_half_way():
                putback.put_back(found, where, parts, _tell)
    except (WetsideError, OSError) as problem:
        hint = f"; {DENIED}" if isinstance(problem, PermissionError) else ""
        typer.echo(f"wetside restore: {reason(problem)}{hint}", err=True)
        raise typer.Exit(1) from None
    if fit is not None and fit.stayed:
        told = "settings: as on this machine and not as in the backup: "
        typer.echo(f"{told}{', '.join(fit.stayed)}")
    for part in Part:
        if not only and part not in parts:
            typer.echo(f"{part}: not in this backup, what is here stays")
