"""The temperature in the tank during the step."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from wetside.development.course import Courses, Measured
from wetside.development.tank import (
    JOULES_PER_MILLILITRE_KELVIN,
    ONE_ROLL,
    Pour,
    Stands,
    Tank,
    in_tank,
    solve,
    tank_of,
)
from wetside.outlook import Wall

PLASTIC = ONE_ROLL[Wall.PLASTIC]
POUR = Pour(
    developer_celsius=24.0,
    developer_sd=0.1,
    tank_celsius=19.0,
    tank_sd=1.0,
    millilitres=300.0,
    stands=Stands.ROOM,
    around=((0.0, 19.0),),
    around_sd=1.0,
)


def sd_at(courses: Courses, seconds: float) -> float:
    """Standard deviation of the temperature at one moment, degrees."""
    middle = courses.likely.celsius_at(seconds)
    return math.hypot(*(one.celsius_at(seconds) - middle for one in courses.shifted))


def reference(tank: Tank, pour: Pour, until: float) -> tuple[np.ndarray, np.ndarray]:
    """The same two lumps by scipy's solve_ivp at tight tolerance."""
    line = Measured(pour.around)
    capacity = pour.millilitres * JOULES_PER_MILLILITRE_KELVIN

    def slope(t: float, y: np.ndarray) -> list[float]:
        through = tank.inside_watts_per_kelvin * (y[1] - y[0])
        outside = tank.outside(pour.stands) * (line.celsius_at(t) - y[1])
        return [through / capacity, (outside - through) / tank.joules_per_kelvin]

    times = np.linspace(0.0, until, 121)
    solution = solve_ivp(
        slope,
        (0.0, until),
        [pour.developer_celsius, pour.tank_celsius],
        t_eval=times,
        rtol=1e-10,
        atol=1e-10,
        max_step=2.0,
    )
    return times, solution.y[0]


WANDERING = ((-40.0, 17.0), (30.0, 18.5), (95.0, 18.0), (300.0, 22.5), (301.0, 21.0))


@pytest.mark.parametrize("wall", [Wall.PLASTIC, Wall.STEEL])
@pytest.mark.parametrize("stands", list(Stands))
@pytest.mark.parametrize("around", [((0.0, 18.0),), WANDERING])
def test_agrees_with_scipy(
    wall: Wall, stands: Stands, around: tuple[tuple[float, float], ...]
) -> None:
    """The exact solution equals solve_ivp's, for steady and for wandering surroundings."""
    pour = replace(POUR, stands=stands, around=around)
    times, expected = reference(ONE_ROLL[wall], pour, 600.0)
    course = solve(ONE_ROLL[wall], pour)
    found = [course.celsius_at(float(t)) for t in times]
    np.testing.assert_allclose(found, expected, atol=2e-6)


def test_pour_in_settles_as_in_a_worked_example() -> None:
    """Half a kilogram of aluminium at 150 degC in 0.250 kg water at 20 degC settles at 59.1 degC.

    Source: OpenStax College Physics m42224 (900 J/kg K). Hardly anything is lost to the air here.
    """
    pan = Tank(450.0, 10.0, air_watts_per_kelvin=1e-7, bath_watts_per_kelvin=1.0)
    pour = replace(POUR, developer_celsius=20.0, tank_celsius=150.0, millilitres=250.0)
    assert solve(pan, pour).celsius_at(1200.0) == pytest.approx(59.1, abs=0.05)


def test_a_cold_tank_takes_heat_in_the_first_minutes() -> None:
    """A plastic tank five degrees cooler takes more than one degree within three minutes."""
    course = solve(PLASTIC, POUR)
    assert course.celsius_at(0.0) == pytest.approx(24.0)
    assert 1.0 < 24.0 - course.celsius_at(180.0) < 2.5


def test_a_tank_in_the_bath_follows_the_bath() -> None:
    """Standing in a bath at the target, the developer comes back to it."""
    pour = replace(POUR, stands=Stands.BATH, around=((0.0, 24.0),))
    course = solve(PLASTIC, pour)
    assert course.celsius_at(3000.0) == pytest.approx(24.0, abs=0.05)


def test_uncertainty_shrinks_to_that_of_the_bath() -> None:
    """At pour-in the doubt is the developer's; after long in a bath it is the bath's."""
    pour = replace(POUR, stands=Stands.BATH, around=((0.0, 21.0),), around_sd=0.2)
    courses = in_tank(PLASTIC, pour)
    assert sd_at(courses, 0.0) == pytest.approx(0.1, abs=1e-6)
    assert sd_at(courses, 3600.0) == pytest.approx(0.2, abs=0.01)


def test_samples_before_the_pour_count_only_for_its_start() -> None:
    """The bath's readings before pour-in give the line that leads into it."""
    early = solve(PLASTIC, replace(POUR, around=((-10.0, 18.0), (10.0, 20.0))))
    exact = solve(PLASTIC, replace(POUR, around=((0.0, 19.0), (10.0, 20.0))))
    assert early.celsius_at(77.0) == pytest.approx(exact.celsius_at(77.0))


@given(
    developer=st.floats(15, 30),
    tank=st.floats(10, 30),
    around=st.floats(10, 30),
    seconds=st.floats(0, 3600),
    millilitres=st.floats(150, 2000),
    stands=st.sampled_from(list(Stands)),
)
def test_stays_between_what_it_touches(
    developer: float,
    tank: float,
    around: float,
    seconds: float,
    millilitres: float,
    stands: Stands,
) -> None:
    """The developer never leaves the span of its own start, the tank and the surroundings."""
    pour = replace(
        POUR,
        developer_celsius=developer,
        tank_celsius=tank,
        around=((0.0, around),),
        millilitres=millilitres,
        stands=stands,
    )
    celsius = solve(PLASTIC, pour).celsius_at(seconds)
    low, high = min(developer, tank, around), max(developer, tank, around)
    assert low - 1e-9 <= celsius <= high + 1e-9


def test_bad_tanks_and_samples_are_refused() -> None:
    """A tank without capacity, a pour of nothing and samples out of order name the reason."""
    with pytest.raises(ValueError, match="joules_per_kelvin must be above zero"):
        Tank(0.0, 1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="millilitres must be above zero"):
        replace(POUR, millilitres=0.0)
    with pytest.raises(ValueError, match="must rise in time"):
        replace(POUR, around=((10.0, 20.0), (0.0, 20.0)))
    with pytest.raises(ValueError, match="at least one sample"):
        replace(POUR, around=())
    with pytest.raises(ValueError, match="not a number"):
        Measured(((0.0, float("nan")),))


def test_a_probe_in_the_tank_is_straight_between_readings() -> None:
    """Measured courses interpolate and hold their ends."""
    course = Measured(((0.0, 24.0), (60.0, 23.0)))
    found = [course.celsius_at(t) for t in (-5.0, 30.0, 90.0)]
    assert pytest.approx([24.0, 23.5, 23.0]) == found


def test_capacity_follows_the_material() -> None:
    """A steel tank of the same mass takes about a quarter of the heat of a plastic one."""
    steel, plastic = (tank_of(wall, 250.0, 0.03) for wall in (Wall.STEEL, Wall.PLASTIC))
    assert steel.joules_per_kelvin / plastic.joules_per_kelvin == pytest.approx(0.452 / 1.9)


def test_couplings_follow_the_area() -> None:
    """11.3 W/(m2 K) to the air (engineeringtoolbox); the two halves in water make the whole.

    Through 2.5 mm glass between still waters 95 W/(m2 K) were computed by Churchill-Chu.
    """
    tank = tank_of(Wall.GLASS, 300.0, 0.04)
    assert tank.air_watts_per_kelvin == pytest.approx(11.3 * 0.04)
    both = 1 / tank.inside_watts_per_kelvin + 1 / tank.bath_watts_per_kelvin
    assert 1 / both == pytest.approx(95.0 * 0.04)
