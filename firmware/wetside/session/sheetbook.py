"""The sheets that are there, as one book: the school's files and the shipped ones, by file name.

Station, commands and desk all ask this book, so that they mean the same sheets, in the same
order. A sheet is known by its file: two may carry one name, and on the display nobody can tell
those apart.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from wetside import tomlfile
from wetside.errors import SheetError
from wetside.session import sheet as sheets
from wetside.session.sheet import Sheet
from wetside.session.sheet_edit import Checked, check


@dataclass(frozen=True, slots=True)
class Offer:
    """A sheet that can be begun, with its file; the same one has the same file and content."""

    file: str
    sheet: Sheet


@dataclass(frozen=True, slots=True)
class SheetFile:
    """A file of the book: what is in it, what is wrong with it, who else has its name.

    ``hides_shipped`` says that it stands in the place of a shipped file; ``namesakes`` are
    other files whose sheets are called the same.
    """

    path: Path
    own: bool
    hides_shipped: bool
    text: str
    checked: Checked
    namesakes: tuple[str, ...] = ()

    @property
    def file(self) -> str:
        """The file's name, which no other of the book has."""
        return self.path.name

    @property
    def namesake_words(self) -> str:
        """What is said of namesakes, as one line; empty where there are none."""
        if not self.namesakes:
            return ""
        others = " and ".join(self.namesakes)
        has = "has" if len(self.namesakes) == 1 else "have"
        return f"{others} {has} the same name: on the display nobody can tell them apart"


@dataclass(frozen=True, slots=True)
class SheetBook:
    """Every sheet file, by its name, also those that cannot be used."""

    files: tuple[SheetFile, ...]

    @property
    def offers(self) -> list[Offer]:
        """What can be begun."""
        pairs = ((one.file, one.checked.sheet) for one in self.files)
        return [Offer(file, sheet) for file, sheet in pairs if sheet is not None]

    @property
    def left_out(self) -> list[SheetError]:
        """What is wrong with the files that cannot be used."""
        return [
            SheetError(one.path, one.checked.problems)
            for one in self.files
            if one.checked.sheet is None
        ]

    def named(self, name: str) -> list[Offer]:
        """The sheets that people call so; more than one are namesakes."""
        return [one for one in self.offers if one.sheet.name.casefold() == name.casefold()]

    def called(self, file: str) -> str | None:
        """The name of the sheet in a file; None where there is none to be used."""
        return next((one.sheet.name for one in self.offers if one.file == file), None)


def read(folder: Path | None) -> SheetBook:
    """The book of the school's ``folder`` and the shipped sheets, as the files are now."""
    shipped = sheets.shipped_folder()
    hidden = {path.name for path in shipped.glob("*.toml")}
    there = [
        _look(path, own=path.parent != shipped, hides=path.name in hidden)
        for path in sheets.available([*([] if folder is None else [folder]), shipped])
    ]
    book = SheetBook(tuple(there))
    return SheetBook(tuple(replace(one, namesakes=_namesakes(book, one)) for one in there))


def _look(path: Path, *, own: bool, hides: bool) -> SheetFile:
    text = ""
    if tomlfile.is_file_name(path.name):
        try:
            text = tomlfile.read_text(path, SheetError)
            checked = check(text, path.name)
        except SheetError as error:
            checked = Checked(None, error.problems)
    else:
        checked = Checked(None, (("", f"must be renamed: {tomlfile.FILE_NAME_WORDS}"),))
    return SheetFile(path, own, own and hides, text, checked)


def _namesakes(book: SheetBook, one: SheetFile) -> tuple[str, ...]:
    if one.checked.sheet is None:
        return ()
    called = book.named(one.checked.sheet.name)
    return tuple(other.file for other in called if other.file != one.file)
