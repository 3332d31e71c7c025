"""Checked copies of a station's journal, the desk's database, its containers and the settings.

Run by wetside-backup.service with the station's own Python; it may run while station and desk
write. Each backup is a folder ``NNNNNN-date-time`` under ``backups``; the number counts up, so a
clock that jumps cannot make an old backup look new. A folder without ``.part`` is complete.
``wetside restore FOLDER`` puts one back.
"""

from __future__ import annotations

import argparse
import re
import shutil
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from wetside.errors import SettingsError, WetsideError
from wetside.journal.archive import CONTAINERS, DESK_ENV, copy_database, left_out, papers_of
from wetside.journal.backup import copy
from wetside.settings import load
from wetside.tomlfile import FILE_NAME_WORDS
from wetside.wholefile import sync

DATA = Path("/var/lib/wetside")
SETTINGS = Path("/etc/wetside")
_NAME = re.compile(r"^(\d{6})-\d{4}-\d{2}-\d{2}T\d{6}$")


class BackupError(RuntimeError):
    """A backup could not be made; earlier ones are untouched."""


def finished(folder: Path) -> list[Path]:
    """Give the complete backups in a folder, oldest first."""
    found = (path for path in folder.iterdir() if path.is_dir() and _NAME.match(path.name))
    return sorted(found, key=lambda path: path.name)


def is_database(path: Path) -> bool:
    """Tell whether a file begins as an SQLite database does."""
    with path.open("rb") as file:
        return file.read(16) == b"SQLite format 3\x00"


def enough_room(data: Path, out: Path) -> None:
    """Refuse where the copy would leave the journal less than 64 MB to grow.

    Raises
    ------
    BackupError
        There is too little room.
    """
    held = out.resolve()
    size = sum(
        path.stat().st_size
        for path in data.rglob("*")
        if path.is_file() and held not in path.resolve().parents
    )
    free = shutil.disk_usage(out).free
    if free < size + 64_000_000:
        raise BackupError(f"{free / 1e6:.0f} MB free, {size / 1e6 + 64:.0f} MB needed: no backup")


def back_up(data: Path, settings: Path, out: Path, keep: int) -> Path:
    """Make one backup, then delete the oldest beyond ``keep``.

    Raises
    ------
    BackupError, WetsideError
        The backup could not be made. Nothing was deleted.
    """
    journal = data / "journal.sqlite"
    if not journal.exists():
        raise BackupError(f"no journal at {journal}: is this the station's data folder?")
    out.mkdir(mode=0o750, parents=True, exist_ok=True)
    for left in out.glob("*.part"):
        shutil.rmtree(left)
    enough_room(data, out)
    earlier = finished(out)
    number = int(earlier[-1].name[:6]) + 1 if earlier else 1
    name = f"{number:06d}-{time.strftime('%Y-%m-%dT%H%M%S', time.gmtime())}"
    part = out / f"{name}.part"
    part.mkdir(mode=0o750)
    copy(journal, part / "journal.sqlite")
    if (data / CONTAINERS).exists():
        shutil.copyfile(data / CONTAINERS, part / CONTAINERS)
    for source in sorted(data.glob("desk/*")):
        if source.is_file() and is_database(source) and ".replaced-" not in source.name:
            (part / "desk").mkdir(exist_ok=True)
            copy_database(source, part / "desk" / source.name)
    written = [*settings.rglob("*.toml"), *settings.glob(Path(DESK_ENV).name)]
    for source in sorted(written):
        target = part / "settings" / source.relative_to(settings)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, target)
    for paper, source in papers_of(data / "desk" / "files").items():
        target = part / "files" / paper
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, target)
    for path in (*part.rglob("*"), part):
        sync(path)
    done = part.rename(out / name)
    sync(out)
    for old in finished(out)[:-keep]:
        shutil.rmtree(old)
    return done


def data_of(folder: Path) -> Path:
    """Give the data folder that the settings name; the usual one where they do not load."""
    file = folder / "station.toml"
    try:
        return load(file).data_folder if file.exists() else DATA
    except SettingsError as error:
        print(f"{error}; taking {DATA}", file=sys.stderr)
        return DATA


def main(argv: Sequence[str] | None = None) -> int:
    """Make one backup; exit 1 with a reason where it fails."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, help="default: what the settings name")
    parser.add_argument("--settings", type=Path, default=SETTINGS)
    parser.add_argument("--out", type=Path, help="default: DATA/backups")
    parser.add_argument("--keep", type=int, default=14, help="how many to keep")
    chosen = parser.parse_args(argv)
    if chosen.keep < 1:
        parser.error("--keep must be at least 1")
    data = chosen.data or data_of(chosen.settings)
    out = chosen.out or data / "backups"
    try:
        done = back_up(data, chosen.settings, out, chosen.keep)
    except (BackupError, WetsideError, OSError) as error:
        print(f"backup failed: {error}", file=sys.stderr)
        return 1
    for path in (*left_out(chosen.settings), *left_out(data / "desk" / "files")):
        print(f"restore leaves out {str(path)!r}: {FILE_NAME_WORDS}", file=sys.stderr)
    print(
        f"backup {done.name}: {sum(f.stat().st_size for f in done.rglob('*') if f.is_file())} bytes"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
