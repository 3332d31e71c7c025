"""Limits, warnings and factors of developing times."""

from __future__ import annotations

from dataclasses import replace

import pytest
from printed import TABLE

from wetside.development.agitation import Factor, Why, adjusted
from wetside.development.coefficient import Q10
from wetside.development.figures import Basis
from wetside.development.limits import (
    Caution,
    Limits,
    Refused,
    Timed,
    Warned,
    time_at,
)

LIMITS = Limits(lowest_celsius=15, highest_celsius=27)


def timed(celsius: float, limits: Limits = LIMITS) -> Timed:
    answer = time_at(TABLE, celsius, limits)
    assert isinstance(answer, Timed)
    return answer


def test_a_plain_time_carries_its_source_and_no_warning() -> None:
    """Inside range and table there is a time, its bounds, its source and nothing else."""
    answer = timed(20)
    assert pytest.approx((405, 397.5, 412.5)) == (
        answer.seconds,
        answer.low_seconds,
        answer.high_seconds,
    )
    assert answer.warnings == ()
    assert answer.source == "Kodak F-4017, from memory"


def test_under_five_minutes_warns() -> None:
    """A time under five minutes is given with a warning that says so."""
    answer = timed(23.8)
    assert {Caution.SHORT} == {warned.caution for warned in answer.warnings}
    assert "under 5:00" in answer.warnings[0].text


def test_outside_the_table_is_refused_unless_allowed() -> None:
    """Two degrees beyond the last row need the teacher's leave and are then marked."""
    refused = time_at(TABLE, 25.5, LIMITS)
    assert isinstance(refused, Refused)
    assert "1.6 degrees outside the table of Kodak F-4017" in refused.reason
    allowed = timed(25.5, replace(LIMITS, outside_celsius=2.0))
    assert {Caution.SHORT, Caution.OUTSIDE} == {warned.caution for warned in allowed.warnings}
    still = time_at(TABLE, 26.5, replace(LIMITS, outside_celsius=2.0))
    assert isinstance(still, Refused)


def test_outside_the_useful_range_is_refused_for_any_law() -> None:
    """The useful range of the sheet binds a formula too."""
    law = Q10(nominal_celsius=20, nominal_seconds=600, coefficient=2.5, source="teacher's own")
    refused = time_at(law, 27.5, LIMITS)
    assert isinstance(refused, Refused)
    assert "15.0 to 27.0 degC" in refused.reason


def test_limits_out_of_order_are_refused() -> None:
    """A range whose ends are swapped is an error where it is written."""
    with pytest.raises(ValueError, match="not below"):
        Limits(lowest_celsius=25, highest_celsius=18)


def test_a_permission_below_nothing_is_refused() -> None:
    """How far beyond the table a time is given is no degree, or some; never fewer than none."""
    with pytest.raises(ValueError, match="outside_celsius -1 is below zero"):
        Limits(lowest_celsius=15, highest_celsius=27, outside_celsius=-1.0)


def test_a_factor_moves_time_and_bounds_and_names_its_source() -> None:
    """15 % off for continuous agitation, said by whom."""
    factor = Factor(Why.CONTINUOUS, 0.85, Basis.FROM_MEMORY, "film maker's sheet")
    answer = adjusted(timed(20), [factor], LIMITS)
    assert pytest.approx(405 * 0.85) == answer.seconds
    assert pytest.approx(397.5 * 0.85) == answer.low_seconds
    assert (
        answer.source == "Kodak F-4017, from memory; "
        "continuous agitation x 0.85 (film maker's sheet, from memory)"
    )


def test_a_factor_can_make_a_time_short() -> None:
    """The warning for short times is judged after the factors, and taken back by a push."""
    off = adjusted(timed(21.5), [Factor(Why.CONTINUOUS, 0.8, Basis.TEACHER)], LIMITS)
    assert {Caution.SHORT} == {warned.caution for warned in off.warnings}
    pushed = adjusted(timed(23.8), [Factor(Why.PUSH, 1.5, Basis.TEACHER)], LIMITS)
    assert pushed.warnings == ()


def test_other_warnings_stay() -> None:
    """A factor does not remove the mark of a time outside the table."""
    mark = Warned(Caution.OUTSIDE, "outside")
    base = Timed(600, 590, 610, (mark,), "x")
    assert (mark,) == adjusted(base, [Factor(Why.PUSH, 1.3, Basis.TEACHER)], LIMITS).warnings


def test_factors_without_source_or_sense_are_refused() -> None:
    """A published factor names its source; a push never shortens."""
    with pytest.raises(ValueError, match="names its source"):
        Factor(Why.PUSH, 1.4, Basis.PUBLISHED)
    with pytest.raises(ValueError, match="push lengthens"):
        Factor(Why.PUSH, 0.9, Basis.TEACHER)
    with pytest.raises(ValueError, match="exclude"):
        adjusted(
            timed(20),
            [Factor(Why.PUSH, 1.2, Basis.TEACHER), Factor(Why.PULL, 0.8, Basis.TEACHER)],
            LIMITS,
        )
    with pytest.raises(ValueError, match="twice"):
        adjusted(timed(20), [Factor(Why.PUSH, 1.2, Basis.TEACHER)] * 2, LIMITS)
