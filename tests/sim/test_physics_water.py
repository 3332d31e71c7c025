"""Water's properties and film coefficients against reference libraries."""

from __future__ import annotations

import CoolProp.CoolProp as CoolProp
import ht
import iapws
import pytest

from wetside.sim import film, water

CELSIUS = [0.5, 5.0, 12.0, 20.0, 28.0, 40.0, 55.0, 68.0]


def _coolprop(name: str, celsius: float) -> float:
    return float(CoolProp.PropsSI(name, "T", celsius + 273.15, "P", 101325.0, "Water"))


@pytest.mark.parametrize("celsius", CELSIUS)
def test_properties_follow_coolprop(celsius: float) -> None:
    """Water's properties agree with CoolProp (IAPWS-95) to the accuracy that they claim."""
    assert _coolprop("D", celsius) == pytest.approx(water.density(celsius), rel=1e-4)
    assert _coolprop("C", celsius) == pytest.approx(water.heat_capacity(celsius), rel=5e-4)
    assert _coolprop("L", celsius) == pytest.approx(water.conductivity(celsius), rel=1e-3)
    assert _coolprop("V", celsius) == pytest.approx(water.viscosity(celsius), rel=0.01)
    assert _coolprop("ISOBARIC_EXPANSION_COEFFICIENT", celsius) == pytest.approx(
        water.expansion(celsius), abs=2e-6
    )


@pytest.mark.parametrize("celsius", CELSIUS[1:])
def test_properties_follow_iapws(celsius: float) -> None:
    """Water's properties agree with the PyPI package iapws (IAPWS-IF97, region 1)."""
    state = iapws.IAPWS97(T=celsius + 273.15, P=0.101325)
    assert state.rho == pytest.approx(water.density(celsius), rel=1e-4)
    assert 1000.0 * state.cp == pytest.approx(water.heat_capacity(celsius), rel=1e-3)
    assert state.k == pytest.approx(water.conductivity(celsius), rel=2e-3)
    assert state.mu == pytest.approx(water.viscosity(celsius), rel=0.01)
    assert state.alfav == pytest.approx(water.expansion(celsius), abs=2e-6)


@pytest.mark.parametrize("celsius", [5.0, 20.0, 35.0])
def test_vapour_pressure_follows_coolprop(celsius: float) -> None:
    """The Magnus formula agrees with CoolProp's saturation pressure within 0.5 %."""
    reference = float(CoolProp.PropsSI("P", "T", celsius + 273.15, "Q", 0, "Water"))
    assert reference == pytest.approx(water.vapour_pressure(celsius), rel=5e-3)


def test_nusselt_of_incropera_example() -> None:
    """Pr 0.69, Gr 2.63e9 gives Nu 147 (Incropera, Fundamentals of Heat Transfer, ex. 9.2)."""
    assert pytest.approx(147.16185, abs=1e-4) == film.natural_nusselt(0.69, 2.63e9)


@pytest.mark.parametrize("difference", [0.1, 0.5, 2.0, 8.0, 20.0])
@pytest.mark.parametrize("celsius", [8.0, 20.0, 38.0])
@pytest.mark.parametrize("length", [0.06, 0.12, 0.2])
def test_natural_film_follows_ht(difference: float, celsius: float, length: float) -> None:
    """The film coefficient equals PyPI ht's Churchill-Chu with CoolProp's properties, 2 %."""
    mean = celsius + difference / 2
    rho, mu = _coolprop("D", mean), _coolprop("V", mean)
    conductivity = _coolprop("L", mean)
    prandtl = _coolprop("C", mean) * mu / conductivity
    beta = _coolprop("ISOBARIC_EXPANSION_COEFFICIENT", mean)
    grashof = 9.81 * beta * difference * length**3 * (rho / mu) ** 2
    expected = ht.Nu_vertical_plate_Churchill(prandtl, grashof) * conductivity / length
    found = film.natural_film(celsius, celsius + difference, length)
    assert expected == pytest.approx(found, rel=0.02)
    assert found == pytest.approx(film.natural_film(celsius + difference, celsius, length))


@pytest.mark.parametrize("speed", [0.01, 0.05, 0.15])
def test_forced_film_follows_ht(speed: float) -> None:
    """The forced coefficient equals PyPI ht's laminar plate correlation (Baehr, Pohlhausen)."""
    mu, rho, k = (_coolprop(name, 24.0) for name in "VDL")
    reynolds = speed * 0.1 * rho / mu
    prandtl = _coolprop("C", 24.0) * mu / k
    expected = ht.Nu_horizontal_plate_laminar_Baehr(reynolds, prandtl) * k / 0.1
    assert expected == pytest.approx(film.forced_film(24.0, speed, 0.1), rel=0.02)


@pytest.mark.parametrize("half_wall", [130.0, 210.0, 670.0, 56_000.0])
@pytest.mark.parametrize("difference", [-12.0, -1.0, 0.3, 5.0])
@pytest.mark.parametrize("forced", [0.0, 700.0])
def test_film_behind_wall_solves_the_surface(
    half_wall: float, difference: float, forced: float
) -> None:
    """The corrected guess is within 1 % of the surface temperature found by bisection."""
    wall = 22.0 + difference
    low, high = 0.0, 1.0
    for _ in range(60):
        share = 0.5 * (low + high)
        natural = film.natural_film(22.0, 22.0 + share * difference, 0.1)
        value = film.blended_film(natural, forced)
        low, high = (share, high) if value * share < half_wall * (1 - share) else (low, share)
    expected = value * half_wall / (value + half_wall)
    found = film.film_behind_wall(22.0, wall, 0.1, forced, half_wall)
    assert expected == pytest.approx(found, rel=0.01)


def test_boundary_layer_carries_the_heat_of_its_film() -> None:
    """Eckert's flow times a third of the wall's excess holds the layer's heat at that height.

    With profiles u = U y/d (1 - y/d)^2 and T = dT (1 - y/d)^2 the heat carried past height x is
    rho c U d dT / 30 (Eckert and Drake, integral solution), which must equal the mean film of
    that solution, 4/3 of 2k/d, times dT times x.
    """
    for excess in (0.5, 3.0):
        x = 0.05
        flow = film.boundary_flow(20.0, 20.0 + excess, x)
        prandtl, grashof = film.prandtl_and_grashof(20.0, 20.0 + excess, x)
        thickness = x * 3.93 * prandtl**-0.5 * (0.952 + prandtl) ** 0.25 * grashof**-0.25
        mean = 20.0 + excess / 2
        carried = water.density(mean) * water.heat_capacity(mean) * flow * 12 / 30
        passed = 4 / 3 * 2 * water.conductivity(mean) / thickness * x
        assert passed == pytest.approx(carried, rel=0.02)
