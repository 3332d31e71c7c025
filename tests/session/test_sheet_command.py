"""``wetside sheet check`` and ``wetside sheet show``."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from wetside.commands.sheet import app
from wetside.session import sheet as sheets

SHIPPED = sheets.available([sheets.shipped_folder()])


def run(*arguments: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, arguments)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.exit_code, result.stdout, result.stderr


def test_good_sheets_are_summed_up() -> None:
    """Each is called ok with its title and whole time, and has a row for each step."""
    code, out, err = run("check", *map(str, SHIPPED))
    assert (0, "") == (code, err)
    for path in SHIPPED:
        sheet = sheets.load(path)
        assert f"{path}: ok: {sheet.title}" in out
    assert "note:" not in out
    assert 3 == out.count(" 30, ")


def test_bad_sheets_exit_with_2_and_the_good_ones_are_still_summed_up(
    tmp_path: Path, small_sheet_text: str
) -> None:
    """One line a problem on standard error: file, key, reason."""
    bad = tmp_path / "bad.toml"
    bad.write_text(small_sheet_text.replace("seconds = 180", "seconds = 1"), encoding="utf-8")
    code, out, err = run("check", str(bad), str(SHIPPED[0]), str(tmp_path / "none.toml"))
    assert 2 == code
    assert [
        f"{bad}: step[2].seconds: must be greater than or equal to 5, not 1",
        f"{tmp_path / 'none.toml'}: cannot be read: No such file or directory",
    ] == err.splitlines()
    assert f"{SHIPPED[0]}: ok: " in out


def test_a_name_that_the_display_cuts_off_is_noted(tmp_path: Path, small_sheet_text: str) -> None:
    """The sheet is good, but somebody may want a shorter name."""
    wide = tmp_path / "wide.toml"
    wide.write_text(small_sheet_text.replace('"fixer"', f'"{"M" * 21}"'), encoding="utf-8")
    code, out, _ = run("check", str(wide))
    assert 0 == code
    assert f"{wide}: step[4].solution: note: '{'M' * 21}' is " in out


@pytest.mark.parametrize("name", ["one reel 20", "ONE REEL 20", "one-reel-20", str(SHIPPED[0])])
def test_show_lists_every_cue_with_its_time(name: str) -> None:
    """Found by name, file or the file's stem; each cue of development is there to the second."""
    code, out, _ = run("show", name)
    assert 0 == code
    rows = [line.split() for line in out.splitlines()]
    assert ["1:00", "1:00", "develop", "agitate"] in rows
    assert ["7:00", "7:00", "develop", "pour", "out"] in rows
    assert ["7:20", "0:10", "stop", "agitate"] in rows


def test_show_of_an_unknown_name_tells_which_there_are() -> None:
    """Exit code 2 and the names."""
    code, _, err = run("show", "zzz")
    assert 2 == code
    assert "there are 'one reel 20', 'two reels 20', 'warm room 24'" in err


def test_show_of_a_misspelt_name_proposes_the_near_ones() -> None:
    """Exit code 2; the nearest comes first, and each sheet once."""
    code, _, err = run("show", "two rels 20")
    assert 2 == code
    assert "did you mean 'two reels 20'" in err
    assert 1 == err.count("'two reels 20'")
    assert "warm room 24" not in err


def test_list_names_every_sheet_and_what_is_wrong_with_the_rest(
    tmp_path: Path, small_sheet_text: str
) -> None:
    """Those that ship and the school's own, with file; a bad one makes the exit code 2."""
    code, out, err = run("list")
    assert (0, "") == (code, err)
    for path in SHIPPED:
        sheet = sheets.load(path)
        (row,) = (line for line in out.splitlines() if line.strip().startswith(sheet.name))
        assert str(sheet.reels) in row.split()
    (tmp_path / "own.toml").write_text(small_sheet_text, encoding="utf-8")
    (tmp_path / "bad.toml").write_text("format = 2", encoding="utf-8")
    code, out, err = run("list", "--folder", str(tmp_path))
    assert 2 == code
    assert any(line.strip().startswith("Small ") for line in out.splitlines())
    assert (
        f"{tmp_path / 'bad.toml'}: format: 2 is of a newer wetside than this one, which reads 1"
        in err
    )
    assert "same name" not in err
    (tmp_path / "twin.toml").write_text(small_sheet_text, encoding="utf-8")
    _, _, err = run("list", "--folder", str(tmp_path))
    assert f"{tmp_path / 'own.toml'}: name: note: twin.toml has the same name" in err
    code, out, _ = run("show", "own", "--folder", str(tmp_path))
    assert (0, True) == (code, "A short sheet of the tests" in out)
