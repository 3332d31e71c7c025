"""Washing and the temperatures of the other baths."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.development.baths import (
    Bath,
    fix_factor,
    pour_doubts,
    swelling_caution,
    too_large,
)
from wetside.development.wash import FillAndDump, allowed_milligrams, cold_factor, plan
from wetside.units import fahrenheit_to_celsius


def test_what_the_law_of_records_allows_on_a_roll() -> None:
    """0.014 g/m2 (36 CFR 1238.14(c), ISO 18901) on 0.0516 m2 are 0.72 mg."""
    assert allowed_milligrams() == pytest.approx(0.72, abs=0.005)
    assert allowed_milligrams(2) == pytest.approx(1.44, abs=0.01)


def test_the_same_limit_in_the_laboratorys_unit() -> None:
    """1.4 ug/cm2, as test laboratories print it, is the same limit."""
    assert 1.4e-3 * 516 == pytest.approx(allowed_milligrams(), rel=0.01)


def test_three_changes_of_torzynski() -> None:
    """600 mg in 10 mL held by a 500 mL tank: 12, 0.24, 0.005 mg (Torzynski 2004)."""
    left = FillAndDump(500, 10).left(600, 3)
    assert left == pytest.approx((600, 12, 0.24, 0.0048))
    assert FillAndDump(500, 10).changes_for(600, allowed_milligrams()) == 2


def test_first_change_leaves_the_printed_concentration() -> None:
    """The first change of that tank stands at 1.2 g/L (Torzynski 2004)."""
    grams_in_tank = 600 / 1000
    assert grams_in_tank / 0.5 == pytest.approx(1.2)
    assert FillAndDump(500, 10).left(600, 1)[1] == pytest.approx(1.2 * 10)


def test_half_a_change_is_not_what_dilution_gives() -> None:
    """A card that counts half per change would mean each change gets only 51 % of the way."""
    poor = FillAndDump(500, 10, completeness=0.5 / 0.98)
    assert poor.left(1.0, 3)[-1] == pytest.approx(0.125)


def test_a_plan_for_one_roll_in_a_small_tank() -> None:
    """300 mL dilute thirty times: two changes would do, three are planned."""
    found = plan(1, 300)
    assert found is not None
    assert found.changes == 3
    assert found.left_milligrams == pytest.approx(600 / 27000)
    assert "36 CFR 1238.14(c)" in found.text


def test_a_wash_that_hardly_moves_never_gets_there() -> None:
    """Changes of one per cent each are not enough in fifty."""
    assert plan(1, 300, completeness=0.01) is None


def test_bad_washes_are_refused() -> None:
    """A tank smaller than what it holds back, or no mixing at all, is no wash."""
    with pytest.raises(ValueError, match="cannot hold back"):
        FillAndDump(9, 10)
    with pytest.raises(ValueError, match="completeness"):
        FillAndDump(500, 10, 0)


@pytest.mark.parametrize(("fahrenheit", "factor"), [(68, 1), (50, 2), (35, 4), (75, 1)])
def test_cold_water_washes_slowly(fahrenheit: float, factor: float) -> None:
    """Twice at 50 degF, four times at 35 degF (US Army TM 11-2323, prints)."""
    assert cold_factor(fahrenheit_to_celsius(fahrenheit)) == pytest.approx(factor, rel=1e-3)


def test_below_the_printed_range_nothing_is_told() -> None:
    """Water at one degree is outside what the manual prints."""
    assert cold_factor(1.0) is None


@given(one=st.floats(1.7, 40), other=st.floats(1.7, 40))
def test_warmer_water_never_washes_longer(one: float, other: float) -> None:
    """The factor falls with temperature and never under 1."""
    colder, warmer = sorted((one, other))
    first, second = cold_factor(colder), cold_factor(warmer)
    assert first is not None
    assert second is not None
    assert first >= second >= 1.0


@pytest.mark.parametrize(("fahrenheit", "factor"), [(68, 1), (50, 2), (32, 4), (80, 1)])
def test_cold_fixer_fixes_slowly(fahrenheit: float, factor: float) -> None:
    """Below 68 degF the time doubles for each 18 degF (US Army TM 11-2323)."""
    assert fix_factor(fahrenheit_to_celsius(fahrenheit)) == pytest.approx(factor)


def test_baths_near_the_developer_raise_nothing() -> None:
    """Three degrees for stop and fixer, five for the wash."""
    baths = [Bath("stop", 21.0), Bath("fix", 22.0), Bath("wash", 19.5)]
    assert too_large(24.0, baths) == ()


def test_baths_too_far_from_the_developer_that_is_poured_are_named_with_what_to_do() -> None:
    """Into colder baths film wrinkles, into warmer ones too; three degrees, five for the wash."""
    baths = [Bath("stop", 20.0), Bath("fix", None), Bath("clear", 20.0), Bath("wash", 20.0)]
    assert pour_doubts(23.0, baths) == pour_doubts(17.0, baths) == ()
    assert pour_doubts(24.5, baths) == (
        "warm stop, clear first or film may wrinkle: up to 4.5 degrees colder than the developer",
    )
    (cool,) = pour_doubts(14.0, baths)
    assert cool.startswith("cool stop, clear, wash first or film may wrinkle: up to 6.0 degrees")
    assert len(pour_doubts(20.0, [Bath("stop", 15.0), Bath("fix", 25.0)])) == 2


def test_a_cold_wash_warns_of_wrinkles() -> None:
    """A wash of 12 degC after a fixer of 22 degC is named once, against the bath before it."""
    steps = too_large(24.0, [Bath("stop", 22.0), Bath("fix", 22.0), Bath("wash", 12.0)])
    assert [(step.from_kind, step.to_kind, step.degrees) for step in steps] == [
        ("fix", "wash", -10.0)
    ]
    assert steps[0].text == (
        "wash is 10.0 degrees colder than fix, 5.0 degrees allowed: the emulsion may wrinkle"
    )


def test_creeping_away_from_the_developer_is_noticed() -> None:
    """Steps that are each allowed may still end too far from the developer."""
    steps = too_large(24.0, [Bath("stop", 22.0), Bath("fix", 20.0)])
    assert [(step.from_kind, step.to_kind) for step in steps] == [("develop", "fix")]


def test_the_sheet_may_allow_more_or_less() -> None:
    """A sheet's own step counts before the general one; unmeasured baths are passed over."""
    assert too_large(24.0, [Bath("stop", None), Bath("fix", 19.0, allowed_step=5.0)]) == ()
    assert len(too_large(24.0, [Bath("fix", 22.5, allowed_step=1.0)])) == 1


def test_a_warm_stop_bath_needs_a_salt() -> None:
    """Above 75 degF the Army adds a salt against swelling (SS0509-8 p. 15)."""
    assert swelling_caution(fahrenheit_to_celsius(74)) is None
    assert swelling_caution(24.0) is None
    assert "swelling" in str(swelling_caution(fahrenheit_to_celsius(76)))
