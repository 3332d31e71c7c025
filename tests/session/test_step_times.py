"""What a sheet leaves out, and what it times too short or too long."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from wetside.commands.sheet import app
from wetside.session import sheet as sheets
from wetside.session import step_times

STOP = 'kind = "stop"\nsolution = "stop bath"'
CLEAR = '[[step]]\nkind = "clear"\nsolution = "clearing bath"\nseconds = 120\n\n'


def sound(text: str) -> str:
    """The small sheet with a wash of twenty minutes."""
    return text.replace("seconds = 60\ncan_wait", "seconds = 1200\ncan_wait")


def noted(text: str) -> list[tuple[str, str]]:
    return list(step_times.notes(sheets.parse(text, "my.toml")))


def test_a_sheet_with_every_step_needs_no_note(small_sheet_text: str) -> None:
    """Stop, two minutes of fixer and twenty of washing."""
    assert [] == noted(sound(small_sheet_text))


@pytest.mark.parametrize("seconds", [21, 119])
def test_short_fixing_is_noted(small_sheet_text: str, seconds: int) -> None:
    """Makers' rapid fixer sheets: two to five minutes (from memory)."""
    text = sound(small_sheet_text).replace("seconds = 120\n", f"seconds = {seconds}\n")
    ((key, said),) = noted(text)
    assert "step[4].seconds" == key
    assert "less than 2:00" in said


def test_long_fixing_is_noted_of_all_fixers_together(small_sheet_text: str) -> None:
    """Over 15 minutes (T.O. 33B-1-1 p. 6-77): two baths of 7:31, or one of two hours."""
    text = sound(small_sheet_text)
    one = '[[step]]\nkind = "fix"\nsolution = "fixer"\nseconds = 120\n'
    two = one.replace("120", "451")
    ((key, said),) = noted(text.replace(one, f"{two}\n{two}"))
    assert ("step[4].seconds", True) == (key, "T.O. 33B-1-1 p. 6-77" in said)
    ((_, said),) = noted(text.replace("seconds = 120\n", "seconds = 7200\n"))
    assert "more than 15:00" in said


@pytest.mark.parametrize(
    ("seconds", "cleared", "said"),
    [
        (1199, False, "less than 20:00"),
        (1200, False, ""),
        (299, True, "less than 5:00"),
        (300, True, ""),
    ],
)
def test_a_wash_is_held_against_its_least(
    small_sheet_text: str, seconds: int, cleared: bool, said: str
) -> None:
    """20 min without a clearing bath (NAVEDTRA p. 10-8), 5 after one (US Army SS0509-8 p. 18)."""
    text = small_sheet_text.replace("seconds = 60\ncan_wait", f"seconds = {seconds}\ncan_wait")
    if cleared:
        text = text.replace('[[step]]\nkind = "wash"', f'{CLEAR}[[step]]\nkind = "wash"')
    found = noted(text)
    assert bool(said) == bool(found)
    assert all(said in sentence for _, sentence in found)


def test_steps_left_out_are_noted(small_sheet_text: str) -> None:
    """Neither stop nor rinse before the fixer, and no wash after it."""
    steps = sound(small_sheet_text).split("[[step]]")
    bare = "[[step]]".join(
        part for part in steps if 'kind = "stop"' not in part and 'kind = "wash"' not in part
    )
    first, second = noted(bare)
    assert "step[3]" == first[0]
    assert first[1].startswith("no stop bath or rinse before it")
    assert second[1].startswith("no wash after fixer and clearing bath")


def test_three_fills_are_a_wash_without_a_time(small_sheet_text: str) -> None:
    """A wash by dilution is judged by its changes of water, not by its minutes."""
    head, wash = small_sheet_text.split('[[step]]\nkind = "wash"')
    fill, hang = wash.split('[[step]]\nkind = "hang"')
    fills = f'[[step]]\nkind = "wash"{fill}' * 3
    assert [] == noted(f'{head}{fills}[[step]]\nkind = "hang"{hang}')


@pytest.mark.parametrize("path", sheets.available([sheets.shipped_folder()]), ids=lambda p: p.stem)
def test_shipped_sheets_leave_nothing_to_be_noted(path: Path) -> None:
    """They have every step, for long enough."""
    assert () == step_times.notes(sheets.load(path))


def test_check_notes_a_short_fix_and_still_calls_the_sheet_good(
    tmp_path: Path, small_sheet_text: str
) -> None:
    """A note is no mistake: the exit code stays 0."""
    path = tmp_path / "short.toml"
    path.write_text(small_sheet_text.replace("seconds = 120\n", "seconds = 21\n"), encoding="utf-8")
    result = CliRunner().invoke(app, ["check", str(path)])
    assert 0 == result.exit_code
    assert f"{path}: step[4].seconds: note: fixes for 0:21, less than 2:00" in result.output
