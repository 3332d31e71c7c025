"""Textbook problems of Newton's law, mixing and melting (sources named beside each)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wetside.thermal.bank import BATH, COUPLING, DEVELOPER, SHARE, SIZE, SOURCE, Bank, predict
from wetside.thermal.calorimetry import ICE_FUSION_J_PER_KG, ice_to_add_grams, water_to_add_litres
from wetside.units import WATER_J_PER_KG_K as WATER
from wetside.units import fahrenheit_to_celsius

# OpenStax Calculus vol. 1/2 (N1-N3), vol. 2 Separable Equations (N4, N5), College Algebra
# (N6-N8): start, surroundings, temperature after some minutes, asked temperature, printed minutes.
_NEWTON = {
    "N1": (200, 70, 180, 2, 175, 2.557),
    "N2": (200, 70, 180, 2, 155, 5.087),
    "N3": (200, 75, 185, 2, 155, 6.982),
    "N4": (200, 75, 190, 1, 150, 6.126),
    "N5": (450, 70, 330, 10, 75, 114.12),
    "N6": (165, 35, 150, 10, 70, 107.03),
    "N7": (40, 70, 45, 60, 60, 361.54),
    "N8": (165, 75, 145, 30, 110, 112.74),
}


@pytest.mark.parametrize("case", _NEWTON)
def test_newton_examples(case: str) -> None:
    """The bank's equations pass the asked temperature at the printed time."""
    start, around, later, minutes, asked, printed = _NEWTON[case]
    rate = math.log((start - around) / (later - around)) / (60.0 * minutes)
    mean = np.zeros((1, SIZE))
    mean[0, DEVELOPER] = fahrenheit_to_celsius(start)
    mean[0, [BATH, SOURCE]] = fahrenheit_to_celsius(around)
    mean[0, COUPLING] = math.log(rate)
    mean[0, SHARE] = -40.0
    zero = np.zeros((1, SIZE))
    bank = Bank(
        mean, np.zeros((1, SIZE, SIZE)), np.zeros(1), np.zeros(1), zero, np.ones(1), np.zeros(1)
    )
    after = predict(bank, 60.0 * printed, ()).mean[0, DEVELOPER]
    assert fahrenheit_to_celsius(asked) == pytest.approx(after, abs=0.01)


# OpenStax College Physics (M1) and printed exercises: two parts (J/K, degC) and the answer. Only
# the ratio of the parts counts, so what is said of litres of water holds for them.
_MIXING = {
    "M1": ((0.25 * WATER, 20.0), (0.5 * 900.0, 150.0), 59.1),
    "M4": ((270.0, 25.0), (100.0, 95.0), 43.92),
    "M5": ((100.0, 25.0), (50.0, 85.0), 45.0),
    "M7": ((40.0, 20.0), (100.0, 80.0), 62.86),
}


@pytest.mark.parametrize("case", _MIXING)
def test_mixing_examples(case: str) -> None:
    """To reach the printed temperature as much is added as the example adds."""
    (there, celsius), (added, warm), printed = _MIXING[case]
    assert added == pytest.approx(water_to_add_litres(there, celsius, printed, warm), rel=2e-3)


def test_ice_example() -> None:
    """Three ice cubes (18 g) in 0.25 kg of water at 20 C: 13.3 C (OpenStax College Physics)."""
    assert pytest.approx(18.0, abs=0.01) == ice_to_add_grams(0.25, 20.0, 13.298, 0.0)


@pytest.mark.parametrize("ice", [-18.0, -5.0, 0.0])
def test_ice_that_is_colder_takes_its_own_warming_too(ice: float) -> None:
    """The heat that the bath gives is what warms the ice, melts it and warms its water.

    Specific heat of ice 2090 J/(kg K) (OpenStax College Physics, Heat Capacity).
    """
    kilograms = ice_to_add_grams(4.0, 24.0, 20.0, ice) / 1000.0
    given = 4.0 * WATER * (24.0 - 20.0)
    assert given == pytest.approx(kilograms * (2090.0 * -ice + 334_000.0 + WATER * 20.0))


def test_ice_is_taken_from_a_freezer_so_that_it_is_never_too_much() -> None:
    """4 L from 24 to 20: 147 g at -18 C; ice that has stood out leaves the bath a bit too warm."""
    advised = ice_to_add_grams(4.0, 24.0, 20.0)
    assert pytest.approx(147.0, abs=1.0) == advised
    assert advised < ice_to_add_grams(4.0, 24.0, 20.0, 0.0)


def test_ice_above_zero_is_refused() -> None:
    """It is water, and the sum would be another one."""
    with pytest.raises(ValueError, match="is water"):
        ice_to_add_grams(4.0, 24.0, 20.0, 0.5)


def test_heat_through_a_box_melts_the_printed_ice() -> None:
    """13.3 W over a day melt 3.44 kg (OpenStax College Physics, Conduction)."""
    assert pytest.approx(3.44, abs=0.005) == 13.3 * 86400.0 / ICE_FUSION_J_PER_KG


@pytest.mark.parametrize(("bath", "wanted", "tap"), [(18.0, 20.0, 45.0), (24.0, 20.0, 12.0)])
def test_water_to_add_comes_out_when_mixed(bath: float, wanted: float, tap: float) -> None:
    """The litres advised, mixed with the bath, give the wanted temperature."""
    litres = water_to_add_litres(4.0, bath, wanted, tap)
    assert litres is not None
    assert wanted == pytest.approx((4.0 * bath + litres * tap) / (4.0 + litres))


def test_water_of_the_wrong_side_cannot_help() -> None:
    """Cold water never warms a bath, so no amount is given."""
    assert water_to_add_litres(4.0, 18.0, 20.0, 12.0) is None


def test_a_bath_that_is_cold_enough_needs_no_ice() -> None:
    """Ice is only ever added to a bath that is too warm."""
    assert ice_to_add_grams(4.0, 18.0, 20.0) == 0.0
