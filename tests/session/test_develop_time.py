"""What a sheet's developing time leaves to be doubted."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from wetside.commands.sheet import app
from wetside.session import develop_time
from wetside.session import sheet as sheets

SHIPPED = sheets.available([sheets.shipped_folder()])
LAW = """[step.development]
nominal_celsius = 18
lowest_celsius = 16
highest_celsius = 25
source = "Kodak F-32"
table = [["20C", "{time}"], ["24C", "4:00"]]
outside_celsius = 2
"""


def noted(text: str) -> list[tuple[str, str]]:
    return list(develop_time.notes(sheets.parse(text, "my.toml")))


@pytest.mark.parametrize(("seconds", "short"), [(309, True), (310, False)])
def test_a_time_under_five_minutes_is_noted(
    small_sheet_text: str, seconds: int, short: bool
) -> None:
    """From the full tank, as film makers' data sheets count (from memory)."""
    sheet = sheets.parse(small_sheet_text, "my.toml")
    text = small_sheet_text.replace(f"seconds = {sheet.develop.seconds:g}", f"seconds = {seconds}")
    found = noted(text)
    assert short is bool(found)
    if short:
        assert "step[2].seconds" == found[0][0]
        assert found[0][1].startswith("4:59 is under 5:00: ")
        assert found[0][1].endswith("(film makers' data sheets, from memory)")


def test_a_target_outside_the_printed_table_is_noted() -> None:
    """At 18 degC two degrees below the first row: the slope of the table was carried on."""
    text = SHIPPED[0].read_text(encoding="utf-8")
    cut, end = text.index("[step.development]"), text.index('[[step]]\nkind = "stop"')
    text = text[:cut] + LAW.format(time="5:00") + text[end:]
    text = text.replace("celsius = 20.0", "celsius = 18.0", 2)
    law = 'source = "Kodak F-32"'
    # 5:00 at 20 and 4:00 at 24 degC are 5:36 at 18 by the logarithm of the time
    text = text.replace("seconds = 430", "seconds = 346")
    ((key, said),) = noted(text)
    assert "step[2].development.nominal_celsius" == key
    assert "2.0 degrees outside the table of Kodak F-32, as the teacher allowed" == said
    within = text.replace(law, f"short_seconds = 360\n{law}")
    assert ["step[2].seconds", "step[2].development.nominal_celsius"] == [
        key for key, _ in noted(within)
    ]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_sheets_need_no_note_of_their_time(path: Path) -> None:
    """Their times are over five minutes and stand in their tables."""
    assert () == develop_time.notes(sheets.load(path))


def test_check_tells_of_a_short_time(tmp_path: Path, small_sheet_text: str) -> None:
    """The command for sheets says it as it says what steps and temperatures leave to be doubted."""
    sheet = sheets.parse(small_sheet_text, "my.toml")
    path = tmp_path / "short.toml"
    text = small_sheet_text.replace(f"seconds = {sheet.develop.seconds:g}", "seconds = 200")
    path.write_text(text, encoding="utf-8")
    result = CliRunner().invoke(app, ["check", str(path)])
    assert 0 == result.exit_code
    assert f"{path}: step[2].seconds: note: 3:10 is under 5:00" in result.output
