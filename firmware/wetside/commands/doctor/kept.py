"""Checks of what people and programs keep beside the journal: bells, shelf, containers, desk."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from wetside.commands.backup import files_folder
from wetside.commands.doctor.findings import Finding, State
from wetside.development import bells, problems
from wetside.development.bottles import ShelfFile
from wetside.errors import FileProblem, ShelfError
from wetside.journal.schema import DESK_APPLICATION_ID, DESK_VERSION
from wetside.settings import StationSettings
from wetside.station import containers

_NEWEST = "or put the newest backup of it back (docs/install.md)."


def kept(settings: StationSettings) -> list[Finding]:
    """One line for each."""
    folder = files_folder(settings)
    return [
        _written("bells", settings.bells_file or folder / "bells.toml", bells.load),
        _written("shelf", folder / "shelf.toml", _load_shelf),
        _containers(containers.path_of(settings)),
        _desk(settings.data_folder / "desk" / "desk.sqlite3"),
    ]


def _load_shelf(file: Path) -> ShelfFile:
    return problems.load(file, ShelfFile, ShelfError)


def _written(part: str, file: Path, load: Callable[[Path], object]) -> Finding:
    if not file.exists():
        return Finding(part, State.FINE, "none yet")
    try:
        load(file)
    except FileProblem as problem:
        return Finding(part, State.LOOK, problem.lines()[0], f"Mend {file} at the desk, {_NEWEST}")
    return Finding(part, State.FINE, str(file))


def _containers(file: Path) -> Finding:
    if containers.is_broken(file):
        mend = f"The study after the next run begins anew, {_NEWEST}"
        return Finding("containers", State.LOOK, f"{file} cannot be used", mend)
    known = {one.container for one in containers.read(file)}
    return Finding("containers", State.FINE, f"{len(known)} met")


def _desk(file: Path) -> Finding:
    if not file.exists():
        return Finding("desk", State.FINE, "none yet")
    try:
        uri = f"{file.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(uri, uri=True, timeout=5)) as connection:
            owner, version, checked = (
                connection.execute(f"PRAGMA {name}").fetchone()[0]
                for name in ("application_id", "user_version", "quick_check")
            )
    except sqlite3.DatabaseError as error:
        checked, owner, version = str(error), DESK_APPLICATION_ID, 0
    if checked == "ok" and owner == DESK_APPLICATION_ID and version <= DESK_VERSION:
        return Finding("desk", State.FINE, f"{file.stat().st_size / 1e6:.1f} MB")
    newer = "written by a newer wetside" if version > DESK_VERSION else "another program's"
    mend = f"Keep the file, {_NEWEST}"
    return Finding("desk", State.LOOK, f"{file}: {newer if checked == 'ok' else checked}", mend)
