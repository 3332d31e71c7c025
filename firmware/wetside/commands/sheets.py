"""Which sheets there are, and finding one by what people call it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wetside.errors import SheetError
from wetside.session import sheet as sheets
from wetside.session.sheet import Sheet


def load_all(folder: Path | None) -> tuple[list[Sheet], list[SheetError]]:
    """Every sheet of the school's folder and those that ship, and what is wrong with the rest."""
    folders = [folder] if folder is not None else []
    good, bad = [], []
    for path in sheets.available([*folders, sheets.shipped_folder()]):
        try:
            good.append(sheets.load(path))
        except SheetError as problem:
            bad.append(problem)
    return good, bad


def find(text: str, folder: Path | None = None) -> Sheet:
    """The sheet that ``text`` names: a file, or the name of a sheet that is there.

    Raises
    ------
    SheetError
        No such sheet; the message lists those that are there.
    """
    if text.endswith(".toml") or Path(text).is_file():
        return sheets.load(Path(text))
    good, _ = load_all(folder)
    for sheet in good:
        if sheet.name.casefold() == text.casefold():
            return sheet
    there = ", ".join(sheet.name for sheet in good)
    raise SheetError(text, [("", f"no sheet file, and no sheet of that name; there are {there}")])


def first(sheets_there: Sequence[Sheet], wanted: Sheet | None) -> list[Sheet]:
    """The sheets with ``wanted`` offered first."""
    if wanted is None:
        return list(sheets_there)
    return [wanted, *(sheet for sheet in sheets_there if sheet != wanted)]
