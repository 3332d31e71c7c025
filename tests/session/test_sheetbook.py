"""The sheets that are there, as one book."""

from __future__ import annotations

from pathlib import Path

import pytest

from wetside.commands import sheets
from wetside.errors import SheetError
from wetside.session import sheetbook
from wetside.session.sheet import shipped_folder


def test_a_file_of_the_school_hides_a_shipped_one_in_its_place(
    tmp_path: Path, small_sheet_text: str
) -> None:
    """Files stand by their names; the school's own is marked, and says what it hides."""
    (tmp_path / "two-reels-20.toml").write_text(small_sheet_text, encoding="utf-8")
    (tmp_path / "small.toml").write_text(small_sheet_text.replace("Small", "Other"), "utf-8")
    files = sheetbook.read(tmp_path).files
    assert [
        ("one-reel-20.toml", False, False),
        ("small.toml", True, False),
        ("two-reels-20.toml", True, True),
        ("warm-room-24.toml", False, False),
    ] == [(one.file, one.own, one.hides_shipped) for one in files]


def test_namesakes_know_each_other(tmp_path: Path) -> None:
    """Two files with one name, in whatever case, both say so; all others say nothing."""
    text = (shipped_folder() / "one-reel-20.toml").read_text(encoding="utf-8")
    (tmp_path / "twin.toml").write_text(text.replace('"one reel 20"', '"ONE reel 20"'), "utf-8")
    found = {one.file: one.namesakes for one in sheetbook.read(tmp_path).files if one.namesakes}
    assert {"twin.toml": ("one-reel-20.toml",), "one-reel-20.toml": ("twin.toml",)} == found


def test_namesakes_are_named_in_one_line(tmp_path: Path, small_sheet_text: str) -> None:
    """One other has the name, two others have it, and where there is none nothing is said."""
    for count, words in (
        (1, ""),
        (2, "b.toml has the same name: on the display nobody can tell them apart"),
        (3, "b.toml and c.toml have the same name: on the display nobody can tell them apart"),
    ):
        (tmp_path / f"{'abc'[count - 1]}.toml").write_text(small_sheet_text, encoding="utf-8")
        first = next(one for one in sheetbook.read(tmp_path).files if one.file == "a.toml")
        assert words == first.namesake_words


def test_two_sheets_with_one_content_are_two_offers(tmp_path: Path, small_sheet_text: str) -> None:
    """An offer is known by its file and its content, never by one of them alone."""
    for file in ("a.toml", "b.toml"):
        (tmp_path / file).write_text(small_sheet_text, encoding="utf-8")
    a, b = sheetbook.read(tmp_path).named("small")
    assert a.sheet == b.sheet
    assert a != b
    (tmp_path / "a.toml").write_text(
        small_sheet_text.replace("seconds = 180", "seconds = 240"), "utf-8"
    )
    assert a not in sheetbook.read(tmp_path).offers
    (tmp_path / "b.toml").write_text(f"# a comment\n{small_sheet_text}", encoding="utf-8")
    assert b in sheetbook.read(tmp_path).offers


@pytest.mark.parametrize("file", [".own.toml", "my\nsheet.toml", "back\\slash.toml"])
def test_a_name_that_no_backup_holds_is_left_out_with_its_reason(
    tmp_path: Path, small_sheet_text: str, file: str
) -> None:
    """Who names a file so is told to rename it, before a backup would miss it."""
    (tmp_path / file).write_text(small_sheet_text, encoding="utf-8")
    (problem,) = sheetbook.read(tmp_path).left_out
    assert file == Path(problem.file).name
    assert "must be renamed" in str(problem)


@pytest.mark.parametrize("file", ["my sheet.toml", "Größe.toml", "A.toml", "100 % & more?.toml"])
def test_a_name_as_people_give_it_is_a_sheet(
    tmp_path: Path, small_sheet_text: str, file: str
) -> None:
    """Spaces, capitals, umlauts and signs are fine in a file's name."""
    (tmp_path / file).write_text(small_sheet_text, encoding="utf-8")
    assert [file] == [one.file for one in sheetbook.read(tmp_path).named("Small")]


def test_a_name_that_several_sheets_have_finds_none(tmp_path: Path, small_sheet_text: str) -> None:
    """Asked by such a name, the command lists the files; a file's name finds its sheet."""
    for file in ("a.toml", "b.toml"):
        (tmp_path / file).write_text(small_sheet_text, encoding="utf-8")
    with pytest.raises(SheetError, match="several sheets have this name; say which file: a, b"):
        sheets.find("small", tmp_path)
    assert "Small" == sheets.find("b", tmp_path).name
