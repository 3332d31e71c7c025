"""The developing law as a table of a sheet."""

from __future__ import annotations

import pytest

from wetside.development import problems
from wetside.development.agitation import Why
from wetside.development.coefficient import Q10, Arrhenius
from wetside.development.effective import EndLimits
from wetside.development.law import TimeTable
from wetside.development.limits import Refused, Timed
from wetside.development.spec import Development, parse_clock
from wetside.errors import SheetError, UnitsError

TABLE = """
nominal_celsius = 20
lowest_celsius = 18
highest_celsius = 24
source = "Kodak F-4017, from memory"
rounding_seconds = 15
table = [["65F", "8:00"], ["68F", "6:45"], ["70F", "6:15"], ["72F", "5:30"], ["75F", "4:45"]]
"""

COEFFICIENT = """
nominal_celsius = 20
lowest_celsius = 16
highest_celsius = 26
source = "teacher's own"
nominal_time = "9:30"
ten_degrees = 2.5
ten_degrees_low = 2.0
ten_degrees_high = 3.0
may_adjust_end = true
latest = 1.5
[[factor]]
why = "push"
times = 1.3
basis = "teacher's own"
"""


def parsed(text: str) -> Development:
    return problems.parse(text, Development, "sheet.toml", SheetError)


def test_a_table_on_the_sheet_becomes_a_table_law() -> None:
    """The rows are read with their units and the source is kept."""
    spec = parsed(TABLE)
    assert isinstance(spec.law(), TimeTable)
    found = spec.time_at(20.0)
    assert isinstance(found, Timed)
    assert found.seconds == pytest.approx(405)
    assert isinstance(spec.time_at(24.5), Refused)
    assert spec.end_limits() is None


def test_a_coefficient_on_the_sheet_becomes_its_law() -> None:
    """One time with a coefficient, its spread, a push and leave to move the end."""
    spec = parsed(COEFFICIENT)
    law = spec.law()
    assert isinstance(law, Q10)
    assert (law.coefficient_low, law.coefficient_high) == (2.0, 3.0)
    assert [factor.why for factor in spec.factors()] == [Why.PUSH]
    assert spec.end_limits() == EndLimits(0.8, 1.5)
    found = spec.time_at(20.0)
    assert isinstance(found, Timed)
    assert found.seconds == pytest.approx(570 * 1.3)
    assert "push x 1.3 (teacher's own)" in found.source


def test_an_energy_on_the_sheet_becomes_an_arrhenius_law() -> None:
    """Joules per mole instead of a coefficient."""
    text = "\n".join(line for line in COEFFICIENT.splitlines() if "ten_degrees" not in line)
    spec = parsed("joules_per_mole = 65000\n" + text)
    assert isinstance(spec.law(), Arrhenius)


def test_clock_times() -> None:
    """Minutes, a colon, two figures of seconds; nothing else."""
    assert parse_clock(" 6:45 ") == 405
    for text in ("6.45", "6:5", "6:75", "six", "-1:00"):
        with pytest.raises(UnitsError, match="such as 6:45"):
            parse_clock(text)


@pytest.mark.parametrize(
    ("base", "change", "place", "reason"),
    [
        (TABLE, ('"8:00"', '"5:00"'), "", "warmer is never longer"),
        (TABLE, ('"8:00"', '"8 min"'), "table", "row 1: '8 min' is not a time"),
        (TABLE, ('"65F"', '"cold"'), "table", "row 1: 'cold' is not a temperature"),
        (TABLE, ("rounding", 'nominal_time = "6:45"\nrounding'), "nominal_time", "follows from"),
        (TABLE, ("rounding", "ten_degrees = 2.5\nrounding"), "", "here: table and ten_degrees"),
        (TABLE, ("rounding", "ten_degrees_low = 2\nrounding"), "ten_degrees_low", "belongs to"),
        (TABLE, ("nominal_celsius = 20", "nominal_celsius = 26"), "nominal_celsius", "useful"),
        (TABLE, ("highest_celsius = 24", "highest_celsius = 17"), "highest_celsius", "not above"),
        (TABLE, ('source = "Kodak F-4017, from memory"', ""), "source", "is missing"),
        (TABLE, ("source", "scource"), "source", "is missing"),
        (COEFFICIENT, ("ten_degrees = 2.5", ""), "", "here: none"),
        (COEFFICIENT, ("ten_degrees = 2.5", "ten_degrees = 3.5"), "", "must be in order"),
        (COEFFICIENT, ('nominal_time = "9:30"', ""), "nominal_time", "is missing beside"),
        (COEFFICIENT, ('"9:30"', '"soon"'), "nominal_time", "'soon' is not a time"),
        (COEFFICIENT, ("times = 1.3", "times = 0.8"), "factor[1]", "push lengthens"),
        (
            COEFFICIENT,
            ('basis = "teacher\'s own"', 'basis = "published"'),
            "factor[1]",
            "names its source",
        ),
    ],
)
def test_each_mistake_names_key_and_reason(
    base: str, change: tuple[str, str], place: str, reason: str
) -> None:
    """One wrong line on the sheet is found where it stands."""
    assert change[0] in base
    with pytest.raises(SheetError) as caught:
        parsed(base.replace(change[0], change[1], 1))
    first_place, first_reason = caught.value.problems[0]
    assert first_place == place
    assert reason in first_reason


def test_the_publications_short_column_shows_the_five_minute_warning() -> None:
    """4:45 at 75 degF is given with the warning that it is short."""
    found = parsed(TABLE).time_at(23.8)
    assert isinstance(found, Timed)
    assert len(found.warnings) == 1
