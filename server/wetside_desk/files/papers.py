"""Shelf, bells and sheets as files: read, checked, replaced as a whole, every version kept.

A paper is written in three steps: the text is checked, the version that stood there is kept
(also when somebody changed the file by hand), and the file is replaced by renaming, so that the
station reads the old one or the new one and never a half. The new version is kept between writing
and renaming: what finds no room as a file is no version, and what cannot be kept does not get into
the file.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from wetside import tomlfile, wholefile
from wetside.development import bells, bottles
from wetside.development.bells import Bells
from wetside.development.bottles import ShelfFile
from wetside.errors import BellsError, FileProblem, SettingsError, SheetError, ShelfError
from wetside.session import sheet as sheets
from wetside.session import sheetbook, sinkfile
from wetside.session.sheet import Sheet
from wetside.session.sheetbook import SheetBook
from wetside_desk.store import versions
from wetside_desk.store.database import Database

#: Largest paper, in bytes; the largest sheet that ships has 5 KB.
LARGEST_BYTES = 48 * 1024

#: Days that a paper may speak of. Sums of days stay inside what a date can hold.
FIRST_DAY, LAST_DAY = date(1970, 1, 1), date(2200, 12, 31)

#: What an address may ask for as a sheet's file; `sheet` has the last word.
SHEET_FILE = r"^[^./\\][^/\\]*\.toml$"

_guard = threading.RLock()


class Stale(Exception):
    """The paper is not what the writer saw."""


@dataclass(frozen=True, slots=True)
class Paper:
    """One file: ``kind`` is shelf, bells, sink or sheet, ``name`` its file's name."""

    kind: str
    name: str
    path: Path
    check: Callable[[str, str], object]
    problem: type[FileProblem]


@dataclass(frozen=True, slots=True)
class Written:
    """What stands in a paper; ``tag`` names this text and no other. No file is an empty text.

    ``wrong`` says that the file is no UTF-8 text, and ``text`` has marks in place of what cannot
    be read; empty for a good one.
    """

    text: str
    tag: str
    there: bool
    wrong: str = ""


def _days(days: Iterable[tuple[str, date | None]], name: str, problem: type[FileProblem]) -> None:
    wrong = [
        (place, f"{day} is outside {FIRST_DAY.year} to {LAST_DAY.year}")
        for place, day in days
        if day is not None and not FIRST_DAY <= day <= LAST_DAY
    ]
    if wrong:
        raise problem(name, wrong)


def parse_shelf(text: str, name: str) -> ShelfFile:
    """As ``bottles.parse``, for days of these centuries.

    Raises
    ------
    ShelfError
        Names the file, every wrong key and the reason.
    """
    there = bottles.parse(text, name)
    found: list[tuple[str, date | None]] = []
    for place, bottle in enumerate(there.bottle, start=1):
        found += [
            (f"bottle[{place}].mixed_on", bottle.mixed_on),
            (f"bottle[{place}].opened_on", bottle.opened_on),
            (f"bottle[{place}].moved_up_on", bottle.moved_up_on),
        ]
        found += [
            (f"bottle[{place}].check[{number}].on", check.on)
            for number, check in enumerate(bottle.check, start=1)
        ]
    _days(found, name, ShelfError)
    return there


def parse_bells(text: str, name: str) -> Bells:
    """As ``bells.parse``, for days of these centuries.

    Raises
    ------
    BellsError
        Names the file, every wrong key and the reason.
    """
    table = bells.parse(text, name)
    found = [(f"closed[{place}]", day) for place, day in enumerate(table.closed, start=1)]
    if table.weeks is not None:
        found.append(("weeks.first_week_of", table.weeks.first_week_of))
    _days(found, name, BellsError)
    return table


def shelf(folder: Path) -> Paper:
    """The bottles in use."""
    return Paper("shelf", "shelf.toml", folder / "shelf.toml", parse_shelf, ShelfError)


def bell_table(folder: Path) -> Paper:
    """The periods of the school."""
    return Paper("bells", "bells.toml", folder / "bells.toml", parse_bells, BellsError)


def sink(folder: Path) -> Paper:
    """What was chosen for the sink: its tones, the unit of its display."""
    return Paper("sink", "sink.toml", folder / "sink.toml", sinkfile.parse, SettingsError)


def book(folder: Path) -> SheetBook:
    """Every sheet that the station would find, and those it would leave out."""
    return sheetbook.read(folder / "sheets")


def sheet(folder: Path, file: str) -> Paper:
    """A sheet of the school; its text is refused with a name that another sheet has already.

    Raises
    ------
    ValueError
        Not the name of a sheet's file.
    """
    if not tomlfile.is_file_name(file):
        raise ValueError(f"{file!r} cannot be a sheet's file: {tomlfile.FILE_NAME_WORDS}")
    if not file.endswith(".toml"):
        raise ValueError(f"{file!r} cannot be a sheet's file: its name ends in .toml")

    def check(text: str, name: str) -> Sheet:
        made = sheets.parse(text, name)
        _refuse_namesake(book(folder), file, made, name)
        return made

    return Paper("sheet", file, folder / "sheets" / file, check, SheetError)


def _refuse_namesake(there: SheetBook, file: str, made: Sheet, name: str) -> None:
    """Refuse a name that is new to this file and that another file has.

    A sheet that has a namesake from of old can be changed, so that nothing else has to wait.
    """
    others = [one.file for one in there.named(made.name) if one.file != file]
    had = there.called(file)
    if others and (had is None or had.casefold() != made.name.casefold()):
        raise SheetError(name, [("name", f"{others[0]} has this name already")])


def tag_of(text: str) -> str:
    """A name for a text: 24 hex digits."""
    return hashlib.sha256(text.encode()).hexdigest()[:24]


def read(paper: Paper) -> Written:
    """What stands there now.

    Raises
    ------
    FileProblem
        There is a file, and it cannot be read as text.
    """
    if not paper.path.exists():
        return Written("", tag_of(""), there=False)
    text = tomlfile.read_text(paper.path, paper.problem)
    return Written(text, tag_of(text), there=True)


def shown(paper: Paper) -> Written:
    """As `read`, with marks in place of what is not UTF-8, so that somebody can mend it.

    Raises
    ------
    FileProblem
        There is a file, and it cannot be read at all.
    """
    try:
        return read(paper)
    except FileProblem as error:
        try:
            content = paper.path.read_bytes()
            content.decode()
        except UnicodeDecodeError:
            wrong = "; ".join(f"{paper.name} {reason}" for _, reason in error.problems)
            tag = hashlib.sha256(content).hexdigest()[:24]
            return Written(content.decode(errors="replace"), tag, there=True, wrong=wrong)
        except OSError:
            pass
        raise


def _standing(paper: Paper, seen: str) -> Written:
    """What is to be replaced; a file that is no text only by somebody who was shown it."""
    now = shown(paper)
    if now.wrong and now.tag != seen:
        return read(paper)
    return now


def write(database: Database, paper: Paper, text: str, seen: str, who: str) -> Written:
    """Replace a paper; ``seen`` is the tag of the text that the writer saw.

    Raises
    ------
    FileProblem
        The text is wrong, or the file cannot be written; it is as it was.
    DiskFull
        The version cannot be kept. Nothing was changed.
    Stale
        Somebody else changed it meanwhile. Nothing was changed.
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if not text.endswith("\n"):
        text += "\n"
    if len(text.encode()) > LARGEST_BYTES:
        raise paper.problem(paper.name, [("", f"is larger than {LARGEST_BYTES // 1024} KiB")])
    with _guard:
        paper.check(text, paper.name)
        now = _standing(paper, seen)
        if now.tag != seen:
            raise Stale
        if now.there:  # a hand may have changed it since the desk last wrote
            versions.keep(database, paper.kind, paper.name, now.text, "found in the folder")
        try:
            paper.path.parent.mkdir(parents=True, exist_ok=True)
            # readable by the group, as the station may run as another user of it
            wholefile.replace(
                paper.path,
                text,
                0o640,
                when_written=lambda: versions.keep(database, paper.kind, paper.name, text, who),
            )
        except OSError as error:
            reason = f"cannot be written: {error.strerror}"
            raise paper.problem(paper.name, [("", reason)]) from None
    return Written(text, tag_of(text), there=True)


def remove(database: Database, paper: Paper, seen: str) -> None:
    """Take a paper away; its versions stay.

    Raises
    ------
    FileProblem
        The file cannot be removed.
    Stale
        Somebody else changed it meanwhile.
    """
    with _guard:
        now = read(paper)
        if now.tag != seen or not now.there:
            raise Stale
        versions.keep(database, paper.kind, paper.name, now.text, "found in the folder")
        try:
            paper.path.unlink()
        except OSError as error:
            reason = f"cannot be removed: {error.strerror}"
            raise paper.problem(paper.name, [("", reason)]) from None
