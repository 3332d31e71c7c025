"""Textbook problems of Newton's law, mixing and melting (sources named beside each)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wetside.thermal import calorimetry
from wetside.thermal.bank import BATH, COUPLING, DEVELOPER, SHARE, SIZE, SOURCE, Bank, predict
from wetside.thermal.calorimetry import WATER_J_PER_KG_K as WATER
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


# OpenStax College Physics (M1) and three printed exercises: parts (J/K, degC) and the answer.
_MIXING = {
    "M1": ([(0.5 * 900.0, 150.0), (0.25 * WATER, 20.0)], 59.1),
    "M4": ([(270.0, 25.0), (100.0, 95.0)], 43.92),
    "M5": ([(50.0, 85.0), (100.0, 25.0)], 45.0),
    "M6": ([(0.25 * WATER, 20.0), (0.4 * 900.0, 26.0), (0.1 * 386.0, 100.0)], 23.63),
    "M7": ([(40.0, 20.0), (100.0, 80.0)], 62.86),
}


@pytest.mark.parametrize("case", _MIXING)
def test_mixing_examples(case: str) -> None:
    """Mixed parts come to the printed temperature."""
    parts, printed = _MIXING[case]
    assert printed == pytest.approx(calorimetry.mixed_celsius(parts), abs=0.01)


def test_ice_example() -> None:
    """Three ice cubes (18 g) in 0.25 kg of water at 20 C: 13.3 C (OpenStax College Physics)."""
    assert pytest.approx(13.298, abs=0.002) == calorimetry.after_ice_celsius(0.25, 20.0, 0.018)


def test_heat_through_a_box_melts_the_printed_ice() -> None:
    """13.3 W over a day melt 3.44 kg (OpenStax College Physics, Conduction)."""
    kilograms = 13.3 * 86400.0 / calorimetry.ICE_FUSION_J_PER_KG
    assert pytest.approx(3.44, abs=0.005) == kilograms


@pytest.mark.parametrize(("bath", "wanted", "tap"), [(18.0, 20.0, 45.0), (24.0, 20.0, 12.0)])
def test_water_to_add_comes_out_when_mixed(bath: float, wanted: float, tap: float) -> None:
    """The litres advised, mixed with the bath, give the wanted temperature."""
    litres = calorimetry.water_to_add_litres(4.0, bath, wanted, tap)
    assert litres is not None
    mixed = calorimetry.mixed_celsius([(4.0 * WATER, bath), (litres * WATER, tap)])
    assert wanted == pytest.approx(mixed)
    swapped = calorimetry.water_to_swap_litres(4.0, bath, wanted, tap)
    assert swapped is not None
    mixed = calorimetry.mixed_celsius([((4.0 - swapped) * WATER, bath), (swapped * WATER, tap)])
    assert wanted == pytest.approx(mixed)


def test_water_of_the_wrong_side_cannot_help() -> None:
    """Cold water never warms a bath, so no amount is given."""
    assert calorimetry.water_to_add_litres(4.0, 18.0, 20.0, 12.0) is None
    assert calorimetry.water_to_swap_litres(4.0, 18.0, 20.0, 12.0) is None


def test_ice_to_add_comes_out_when_melted() -> None:
    """The grams advised, melted in the bath, give the wanted temperature."""
    grams = calorimetry.ice_to_add_grams(4.0, 24.0, 20.0)
    assert pytest.approx(20.0) == calorimetry.after_ice_celsius(4.0, 24.0, grams / 1000.0)
    assert calorimetry.ice_to_add_grams(4.0, 18.0, 20.0) == 0.0
