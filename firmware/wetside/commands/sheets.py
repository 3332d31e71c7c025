"""Which sheets there are, and finding one by what people call it."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from pathlib import Path

from wetside.errors import SheetError
from wetside.session import sheet as sheets
from wetside.session.sheet import Sheet


def load_files(folder: Path | None) -> tuple[dict[Path, Sheet], list[SheetError]]:
    """Every sheet of the school's folder and those that ship, and what is wrong with the rest."""
    folders = [folder] if folder is not None else []
    good: dict[Path, Sheet] = {}
    bad = []
    for path in sheets.available([*folders, sheets.shipped_folder()]):
        try:
            good[path] = sheets.load(path)
        except SheetError as problem:
            bad.append(problem)
    return good, bad


def load_all(folder: Path | None) -> tuple[list[Sheet], list[SheetError]]:
    """As `load_files`, the sheets without their files."""
    good, bad = load_files(folder)
    return list(good.values()), bad


def find(text: str, folder: Path | None = None) -> Sheet:
    """The sheet that ``text`` names: a file, or a sheet that is there by its name or its file's.

    Raises
    ------
    SheetError
        No such sheet; the message lists the near ones, or all where none is near.
    """
    if text.endswith(".toml") or Path(text).is_file():
        return sheets.load(Path(text))
    good, _ = load_files(folder)
    wanted = text.casefold()
    called = {path.stem.casefold(): sheet for path, sheet in good.items()}
    called |= {sheet.name.casefold(): sheet for sheet in good.values()}
    if wanted in called:
        return called[wanted]
    near = [called[name].name for name in get_close_matches(wanted, called, n=6, cutoff=0.5)]
    names = near or [sheet.name for sheet in good.values()]
    listed = ", ".join(repr(name) for name in dict.fromkeys(names))
    told = f"did you mean {listed}?" if near else f"there are {listed}"
    raise SheetError(text, [("", f"no sheet file, and no sheet of that name; {told}")])


def first(sheets_there: Sequence[Sheet], wanted: Sheet | None) -> list[Sheet]:
    """The sheets with ``wanted`` offered first."""
    if wanted is None:
        return list(sheets_there)
    return [wanted, *(sheet for sheet in sheets_there if sheet != wanted)]
