"""What the temperatures of a sheet say of each other."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from wetside.commands.sheet import app
from wetside.session import sheet as sheets
from wetside.session import warmth
from wetside.session.sheet import Sheet


def baths(small_sheet_text: str, **celsius: float) -> str:
    """The small sheet (developer at 20) with temperatures of other baths."""
    text = small_sheet_text
    for kind, value in celsius.items():
        text = text.replace(f'kind = "{kind}"', f'kind = "{kind}"\ncelsius = {value}')
    return text


def noted(text: str) -> list[tuple[str, str]]:
    return list(warmth.notes(sheets.parse(text, "my.toml")))


def test_baths_within_three_degrees_and_a_wash_within_five_are_fine(small_sheet_text: str) -> None:
    """Makers' sheets: 3 degrees, and 5 for the wash (from memory)."""
    assert [] == noted(baths(small_sheet_text, stop=17, fix=19, wash=24))


def test_a_bath_too_far_from_the_one_before_is_told(small_sheet_text: str) -> None:
    """From 20 down to 16.5 is half a degree too much."""
    assert [
        (
            "step[3].celsius",
            (
                "stop is 3.5 degrees colder than develop, 3.0 degrees allowed: "
                "the emulsion may wrinkle"
            ),
        )
    ] == noted(baths(small_sheet_text, stop=16.5, fix=19))


def test_small_steps_that_lead_far_away_are_told(small_sheet_text: str) -> None:
    """22.5 is near the stop bath, but the fixer at 25 is 5 degrees from the developer."""
    (step,) = warmth.wide_steps(sheets.parse(baths(small_sheet_text, stop=22.5, fix=25), "my.toml"))
    assert ("develop", "fix", 5.0) == (step.from_kind, step.to_kind, step.degrees)


def test_the_sheet_may_allow_more_or_less(small_sheet_text: str) -> None:
    """allowed_step_celsius stands above what the kind allows."""
    text = baths(small_sheet_text, stop=16.5)
    assert [] == noted(text.replace("celsius = 16.5", "celsius = 16.5\nallowed_step_celsius = 4"))
    strict = baths(small_sheet_text, stop=18.5)
    strict = strict.replace("celsius = 18.5", "celsius = 18.5\nallowed_step_celsius = 1")
    assert 1 == len(noted(strict))


@pytest.mark.parametrize(
    ("celsius", "said"),
    [
        (15.0, "at 15 degC it takes 1.4 times as long as at 20 degC"),  # half of the first doubling
        (18.0, "at 18 degC it takes 1.1 times as long as at 20 degC"),
        (19.0, None),
        (20.0, None),
    ],
)
def test_cold_wash_water_is_told_with_its_factor(
    small_sheet_text: str, celsius: float, said: str | None
) -> None:
    """US Army TM 11-2323: twice as long at 10 degC, straight in the logarithm between."""
    found = [text for _, text in noted(baths(small_sheet_text, wash=celsius))]
    if said is None:
        assert [] == found
    else:
        assert [said] == [text.split(" (")[0] for text in found if "times" in text]


def test_a_cold_fixer_is_told_with_its_factor(small_sheet_text: str) -> None:
    """US Army TM 11-2323: the time doubles for ten degrees, so 17 degC take 1.2 times."""
    found = noted(baths(small_sheet_text, fix=17))
    assert ["step[4].celsius"] == [key for key, _ in found]
    assert "1.2 times" in found[0][1]


def test_a_warm_stop_bath_is_told_to_need_a_salt(small_sheet_text: str) -> None:
    """US Army SS0509-8 p. 15: above 75 degF gelatine swells in a stop bath without it."""
    warm = small_sheet_text.replace("celsius = 20.0", "celsius = 26.0")
    found = noted(baths(warm, stop=26))
    assert ["step[3].celsius"] == [key for key, _ in found]
    assert "a salt against swelling" in found[0][1]
    assert "SS0509-8" in found[0][1]


@pytest.mark.parametrize("path", sheets.available([sheets.shipped_folder()]), ids=lambda p: p.stem)
def test_shipped_sheets_need_no_note(path: Path) -> None:
    """Their baths are near each other and not cold."""
    assert () == warmth.notes(sheets.load(path))


def test_check_notes_wide_steps_and_still_calls_the_sheet_good(
    tmp_path: Path, small_sheet_text: str
) -> None:
    """A note is no mistake: the exit code stays 0."""
    path = tmp_path / "cold.toml"
    path.write_text(baths(small_sheet_text, wash=12), encoding="utf-8")
    result = CliRunner().invoke(app, ["check", str(path)])
    assert 0 == result.exit_code
    assert f"{path}: step[5].celsius: note: wash is 8.0 degrees colder than develop" in (
        result.output
    )
    assert "it takes 1.7 times as long" in result.output


def test_a_sheet_that_says_no_temperatures_says_nothing(small_sheet: Sheet) -> None:
    """What nobody wrote is not judged."""
    assert () == warmth.notes(small_sheet)
