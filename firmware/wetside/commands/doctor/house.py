"""Checks of the machine: settings, folders, journal, sheets, clock, disk."""

from __future__ import annotations

import os
import platform
import shutil
import sys
from pathlib import Path

from wetside.clock import wall_is_trusted
from wetside.commands.doctor.findings import Finding, State
from wetside.errors import JournalError, JournalUnavailable
from wetside.journal.reader import Reader
from wetside.session import sheetbook
from wetside.settings import StationSettings
from wetside.station.choices import Choices
from wetside.station.files import journal_path

_ENOUGH_BYTES = 200e6
_MODEL = Path("/proc/device-tree/model")  # what the board's firmware says of itself


def board(model_file: Path = _MODEL) -> Finding:
    """Which Raspberry Pi this is, or that it is none."""
    try:
        model = model_file.read_text(encoding="utf-8", errors="replace").strip("\0\n ")
    except OSError:
        model = ""  # as on every PC
    if "Raspberry Pi" in model:
        return Finding("board", State.FINE, model)
    kind = model or f"{platform.machine()} computer"
    mend = (
        "Pins, probes and display can only be missing here. To try wetside without them: "
        "wetside bench. The station needs a Raspberry Pi (docs/build.md)."
    )
    return Finding("board", State.MISSING, f"{kind}: this is not a Raspberry Pi", mend)


def python() -> Finding:
    """The interpreter."""
    version = ".".join(str(part) for part in sys.version_info[:3])
    return Finding("Python", State.FINE, version)


def folders(settings: StationSettings) -> list[Finding]:
    """Whether the station can write where it must."""
    found = []
    for name, folder in (
        ("data folder", settings.data_folder),
        ("live folder", settings.live_folder),
    ):
        if not folder.is_dir():
            mend = f"The installer makes it; or: sudo install -d -o wetside -g wetside {folder}"
            found.append(Finding(name, State.MISSING, f"no folder {folder}", mend))
        elif not os.access(folder, os.W_OK):
            found.append(_not_writable(name, folder))
        else:
            found.append(Finding(name, State.FINE, str(folder)))
    return found


def _not_writable(name: str, folder: Path) -> Finding:
    mend = f"Run as the user wetside, or: sudo chown wetside {folder}"
    return Finding(name, State.LOOK, f"{folder} cannot be written", mend)


def disk(folder: Path) -> Finding:
    """Room on the disk of the journal."""
    existing = folder
    while not existing.exists():
        existing = existing.parent
    free = shutil.disk_usage(existing).free
    text = f"{free / 1e9:.1f} GB free"
    if free < _ENOUGH_BYTES:
        return Finding("disk", State.LOOK, text, "Copy old backups away and delete them.")
    return Finding("disk", State.FINE, text)


def journal(settings: StationSettings) -> Finding:
    """Whether the journal can be read, and is whole."""
    path = journal_path(settings)
    if not path.exists():
        return Finding("journal", State.LOOK, f"no {path} yet", "The station makes it.")
    try:
        with Reader(path) as reader:
            health = reader.health(check=True)
    except (JournalError, JournalUnavailable) as problem:
        return Finding("journal", State.LOOK, str(problem), "See docs/journal.md.")
    if health.problems:
        mend = "Keep the file, restore the latest backup (docs/journal.md)."
        return Finding("journal", State.LOOK, "; ".join(health.problems[:2]), mend)
    return Finding("journal", State.FINE, f"{health.runs} runs, {health.size_bytes / 1e6:.1f} MB")


def sheets_there(settings: StationSettings) -> list[Finding]:
    """The sheets, and what is wrong with any."""
    book = sheetbook.read(settings.sheets_folder)
    names = ", ".join(one.sheet.name for one in book.offers)
    found = [Finding("sheets", State.FINE, names)]
    if not book.offers:
        found = [Finding("sheets", State.MISSING, "none", "Put a sheet into sheets_folder.")]
    folder = settings.sheets_folder
    if folder is not None and folder.name != "sheets":
        told = f"{folder} is not called sheets: desk and backups do not look there"
        found.append(Finding("sheets", State.LOOK, told, "Rename it, and set sheets_folder anew."))
    if folder is not None and folder.is_dir() and not os.access(folder, os.W_OK):
        found.append(_not_writable("sheets", folder))
    found += [
        Finding("sheets", State.LOOK, f"{place or 'file'}: {reason}", f"Mend {problem.file}.")
        for problem in book.left_out
        for place, reason in problem.problems
    ]
    found += [
        Finding(
            "sheets",
            State.LOOK,
            f"{one.file}: name: {one.namesake_words}",
            f"Give {one.path} another name.",
        )
        for one in book.files
        if one.namesakes
    ]
    return found


def choices(settings: StationSettings) -> list[Finding]:
    """What the teacher chose for the sink, where it cannot be read."""
    file = settings.choices_file
    problem = Choices(file).problem
    if problem is None:
        return []
    return [Finding("tones", State.LOOK, problem, f"Mend {file}; until then every tone sounds.")]


def clock() -> Finding:
    """Whether the time of day can be believed."""
    if wall_is_trusted():
        return Finding("clock", State.FINE, "set")
    mend = "Connect the network once, or fit a clock chip with a battery (docs/build.md)."
    return Finding("clock", State.LOOK, "not set; runs are dated when it is", mend)
