"""Equivalent time at the nominal temperature."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from printed import TABLE
from scipy import integrate, optimize, special

from wetside.development.coefficient import Q10, Arrhenius
from wetside.development.course import Courses, Measured
from wetside.development.effective import (
    EndLimits,
    effective,
    end_of_step,
    equivalent,
    seconds_to_reach,
)
from wetside.development.law import Law, Row, TimeTable
from wetside.development.tank import ONE_ROLL, Pour, Stands, in_tank, solve
from wetside.outlook import Wall

Q = Q10(nominal_celsius=20, nominal_seconds=480, coefficient=2.7, source="teacher's own")
ENERGY = Arrhenius(nominal_celsius=20, nominal_seconds=480, joules_per_mole=7e4, source="own")
LIMITS = EndLimits(earliest=0.8, latest=1.25)
POUR = Pour(
    developer_celsius=22.0,
    developer_sd=0.15,
    tank_celsius=18.0,
    tank_sd=1.0,
    millilitres=300.0,
    stands=Stands.BATH,
    around=((0.0, 21.0), (120.0, 20.5), (600.0, 20.0)),
    around_sd=0.2,
)


def still(celsius: float) -> Measured:
    """A tank that keeps its temperature."""
    return Measured(((0.0, celsius),))


def steady(celsius: float) -> Courses:
    """The same, known without doubt."""
    return Courses(still(celsius))


def test_nominal_all_the_time_is_the_time_itself() -> None:
    """A tank that keeps the nominal temperature gives its own time and 100 %."""
    found = effective(TABLE, 20.0, 405.0, steady(20.0), 405.0)
    assert found.seconds == pytest.approx(405.0)
    assert (found.low_seconds, found.high_seconds) == pytest.approx((405.0, 405.0))
    assert found.text == "100 % of nominal (100-100)"


def test_the_laws_own_time_elsewhere_is_nominal_again() -> None:
    """Developing at 22.22 degC for its printed 5:30 does the work of 6:45 at 20 degC."""
    celsius = (72 - 32) / 1.8
    assert equivalent(TABLE, 20.0, still(celsius), 330.0) == pytest.approx(405.0)


@pytest.mark.parametrize("law", [Q, ENERGY, TABLE])
def test_integral_agrees_with_quad(law: Law) -> None:
    """The equivalent time in a tank in a drifting bath is scipy quad's, to a millionth."""
    course = solve(ONE_ROLL[Wall.STEEL], POUR)
    nominal = law.seconds_at(20.0)
    expected, _ = integrate.quad(
        lambda t: nominal / law.seconds_at(course.celsius_at(t)),
        0.0,
        420.0,
        points=[120.0],
        limit=400,
        epsabs=1e-9,
        epsrel=1e-10,
    )
    # The table's rows are kinks of the rate that fall inside pieces.
    tolerance = 1e-5 if law is TABLE else 1e-8
    assert equivalent(law, 20.0, course, 420.0) == pytest.approx(expected, rel=tolerance)


def test_closed_form_of_a_straight_drift() -> None:
    """With a Q10 law a straight drift has an elementary integral."""
    slope = -3.0 / 480.0
    k = math.log(2.7) / 10.0
    expected = math.exp(k * 1.5) * (math.exp(k * slope * 480.0) - 1.0) / (k * slope)
    course = Measured(((0.0, 21.5), (480.0, 18.5)))
    assert equivalent(Q, 20.0, course, 480.0) == pytest.approx(expected, rel=1e-9)


def test_closed_form_of_newtons_cooling() -> None:
    """With a Q10 law Newton's cooling integrates to exponential integrals (scipy expi)."""
    tau, start, room = 900.0, 24.0, 18.0
    k = math.log(2.7) / 10.0

    class Cooling:
        kinks: tuple[float, ...] = ()

        def celsius_at(self, seconds: float) -> float:
            return room + (start - room) * math.exp(-seconds / tau)

    z = k * (start - room)
    whole = special.expi(z) - special.expi(z * math.exp(-480.0 / tau))
    expected = math.exp(k * (room - 20.0)) * tau * whole
    assert equivalent(Q, 20.0, Cooling(), 480.0) == pytest.approx(expected, rel=1e-9)


def test_published_effect_of_a_temperature_error() -> None:
    """Half a degree is worth 3.5 / 4.7 / 5.7 % at Q10 2.0 / 2.5 / 3.0 (arithmetic of the law)."""
    for coefficient, percent in ((2.0, 3.5), (2.5, 4.7), (3.0, 5.65)):
        law = Q10(nominal_celsius=20, nominal_seconds=480, coefficient=coefficient, source="own")
        found = 100 * (equivalent(law, 20.0, still(20.5), 480.0) / 480.0 - 1)
        assert found == pytest.approx(percent, abs=0.06)


def test_a_probe_offset_is_one_error_for_the_whole_step() -> None:
    """The uncertainty of a lasting offset does not shrink with the number of readings."""
    rows = [(float(t), 20.0) for t in range(0, 481, 2)]
    warmer = [(seconds, celsius + 0.3) for seconds, celsius in rows]
    courses = Courses(Measured(tuple(rows)), (Measured(tuple(warmer)),))
    found = effective(Q, 20.0, 480.0, courses, 480.0)
    sd = 480.0 * (2.7**0.03 - 1)
    assert found.high_seconds - found.seconds == pytest.approx(1.645 * sd, rel=1e-3)
    assert found.seconds - found.low_seconds == pytest.approx(1.645 * sd, rel=1e-3)


def test_uncertainty_in_the_tank_agrees_with_drawing_cases() -> None:
    """The stated 90 % hold as many of 1000 drawn pours as they say (to 3 %)."""
    random = np.random.default_rng(20240917)
    tank = ONE_ROLL[Wall.PLASTIC]
    stated = effective(Q, 20.0, 480.0, in_tank(tank, POUR), 420.0)
    held = 0
    for _ in range(1000):
        developer, inside, around, coupling = random.standard_normal(4)
        stiff = math.exp(POUR.coupling_sd * coupling)
        drawn = replace(
            POUR,
            developer_celsius=POUR.developer_celsius + POUR.developer_sd * developer,
            tank_celsius=POUR.tank_celsius + POUR.tank_sd * inside,
            around=tuple((t, c + POUR.around_sd * around) for t, c in POUR.around),
        )
        other = replace(
            tank,
            inside_watts_per_kelvin=tank.inside_watts_per_kelvin * stiff,
            bath_watts_per_kelvin=tank.bath_watts_per_kelvin * stiff,
        )
        truth = equivalent(Q, 20.0, solve(other, drawn), 420.0)
        held += stated.low_seconds <= truth <= stated.high_seconds
    assert held / 1000 == pytest.approx(0.90, abs=0.03)


def test_rounding_of_the_table_opens_the_result_away_from_nominal() -> None:
    """At the nominal row the rounding matters not; two degrees away it does."""
    here = effective(TABLE, 20.0, 405.0, steady(20.0), 405.0)
    there = effective(TABLE, 20.0, 405.0, steady(22.22), 330.0)
    assert here.high_seconds - here.low_seconds == pytest.approx(0.0, abs=1e-9)
    assert there.high_seconds - there.low_seconds == pytest.approx(405 * 15 / 330, rel=0.02)


def test_rounding_opens_both_sides_by_the_steepest_and_the_flattest_law() -> None:
    """At the printed 72 degF the law may be 5:22.5 to 5:37.5: 330 s are 396 to 414 of 405 s."""
    found = effective(TABLE, 20.0, 405.0, steady((72 - 32) / 1.8), 330.0)
    assert found.low_seconds == pytest.approx(405 * 330 / 337.5)
    assert found.high_seconds == pytest.approx(405 * 330 / 322.5)


def test_time_outside_the_table_is_counted() -> None:
    """The result says for how long the developer was outside the printed rows."""
    cooling = Courses(Measured(((0.0, 25.0), (10.0, 25.0), (11.0, 20.0))))
    found = effective(TABLE, 20.0, 405.0, cooling, 100.0)
    assert found.outside_seconds == pytest.approx(10.0)


def test_end_of_step_agrees_with_root_finding() -> None:
    """The adjusted end is the root that scipy's brentq finds on quad's integral."""
    course = solve(ONE_ROLL[Wall.PLASTIC], POUR)

    def missing(end: float) -> float:
        value, _ = integrate.quad(
            lambda t: 480.0 / Q.seconds_at(course.celsius_at(t)),
            0.0,
            end,
            points=[120.0],
            limit=200,
        )
        return float(value) - 480.0

    expected = optimize.brentq(missing, 300.0, 600.0, xtol=1e-8)
    courses = in_tank(ONE_ROLL[Wall.PLASTIC], POUR)
    end = end_of_step(Q, 20.0, 480.0, courses, LIMITS)
    assert end.seconds == pytest.approx(expected, abs=1e-4)
    assert not end.held
    assert effective(Q, 20.0, 480.0, courses, end.seconds).fraction == pytest.approx(1.0)


def test_the_sheets_limits_hold_the_end() -> None:
    """A tank far too cold would want more than a quarter on top: the end is held and says so."""
    end = end_of_step(Q, 20.0, 480.0, steady(15.0), LIMITS)
    assert end.seconds == pytest.approx(600.0)
    assert end.held
    amounts = effective(Q, 20.0, 480.0, steady(15.0), end.seconds)
    assert amounts.text == "76 % of nominal (76-76)"


def test_an_end_that_never_comes_is_infinite() -> None:
    """A developer so cold that four times the time is not enough has no end of its own."""
    assert seconds_to_reach(Q, 20.0, 480.0, still(0.0), 1920.0) == math.inf
    assert end_of_step(Q, 20.0, 480.0, steady(0.0), LIMITS).wished_seconds == math.inf


def test_limits_that_exclude_the_nominal_are_refused() -> None:
    """The time itself must be allowed."""
    with pytest.raises(ValueError, match="does not hold"):
        EndLimits(earliest=1.1, latest=1.25)


@given(cooler=st.floats(14, 26), more=st.floats(0.01, 4), seconds=st.floats(10, 900))
def test_warmer_gives_more(cooler: float, more: float, seconds: float) -> None:
    """The same step in a warmer tank never amounts to less."""
    law = TimeTable((Row(14, 900), Row(18, 600), Row(24, 300)), "own")
    assert equivalent(law, 20.0, still(cooler + more), seconds) >= equivalent(
        law, 20.0, still(cooler), seconds
    )


@given(celsius=st.floats(16, 25))
def test_end_and_law_agree_in_a_steady_tank(celsius: float) -> None:
    """In a steady tank the end is the law's own time at that temperature."""
    expected = TABLE.seconds_at(celsius)
    assert seconds_to_reach(TABLE, 20.0, 405.0, still(celsius), 2000.0) == pytest.approx(
        expected, abs=1e-4
    )
