"""Which sheets there are, and finding one by what people call it."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from pathlib import Path

from wetside.errors import SheetError
from wetside.session import sheet as sheets
from wetside.session import sheetbook
from wetside.session.sheet import Sheet
from wetside.session.sheetbook import Offer


def find(text: str, folder: Path | None = None) -> Sheet:
    """The sheet that ``text`` names: a file, or a sheet that is there by its name or its file's.

    Raises
    ------
    SheetError
        No such sheet, and the message lists the near ones, or all where none is near; or
        several of that name, and it lists their files.
    """
    if text.endswith(".toml") or Path(text).is_file():
        return sheets.load(Path(text))
    book = sheetbook.read(folder)
    wanted = text.casefold()
    named = book.named(text)
    if len(named) > 1:
        files = ", ".join(Path(one.file).stem for one in named)
        raise SheetError(text, [("", f"several sheets have this name; say which file: {files}")])
    called = {Path(one.file).stem.casefold(): one.sheet for one in book.offers}
    called |= {one.sheet.name.casefold(): one.sheet for one in book.offers}
    if wanted in called:
        return called[wanted]
    near = [called[name].name for name in get_close_matches(wanted, called, n=6, cutoff=0.5)]
    names = near or [one.sheet.name for one in book.offers]
    listed = ", ".join(repr(name) for name in dict.fromkeys(names))
    told = f"did you mean {listed}?" if near else f"there are {listed}"
    raise SheetError(text, [("", f"no sheet file, and no sheet of that name; {told}")])


def first(offers: Sequence[Offer], wanted: Sheet) -> list[Offer]:
    """What is there with ``wanted`` offered first; it may be in no file of the book."""
    found = next((one for one in offers if one.sheet == wanted), Offer("", wanted))
    return [found, *(one for one in offers if one != found)]
