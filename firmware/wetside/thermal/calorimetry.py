"""Mixing and melting: heat given equals heat taken, in joules and kelvin.

Heat capacity and latent heat of ice as tabulated in OpenStax College Physics (Temperature Change
and Heat Capacity; Phase Change and Latent Heat).
"""

from __future__ import annotations

from wetside.units import WATER_J_PER_KG_K

ICE_FUSION_J_PER_KG = 334_000.0
ICE_J_PER_KG_K = 2090.0
#: A freezer's usual temperature (common practice). Ice that has stood out is warmer and cools less.
FREEZER_CELSIUS = -18.0


def water_to_add_litres(
    bath_litres: float, bath_celsius: float, wanted_celsius: float, tap_celsius: float
) -> float | None:
    """Litres of tap water that bring the bath to the wanted temperature; None if none can."""
    if tap_celsius == wanted_celsius:
        return None
    litres = bath_litres * (wanted_celsius - bath_celsius) / (tap_celsius - wanted_celsius)
    return litres if litres >= 0.0 else None


def ice_to_add_grams(
    bath_litres: float,
    bath_celsius: float,
    wanted_celsius: float,
    ice_celsius: float = FREEZER_CELSIUS,
) -> float:
    """Grams of ice that cool the bath to the wanted temperature; 0 if it is cold enough.

    A litre of water is taken as a kilogram. Taken from a freezer, ice that has stood out leaves
    the bath a little too warm and more can follow; it is never too much.

    Raises
    ------
    ValueError
        ``ice_celsius`` is above zero: that is water.
    """
    if ice_celsius > 0.0:
        raise ValueError(f"ice of {ice_celsius:g} degC is water")
    if bath_celsius <= wanted_celsius:
        return 0.0
    heat = bath_litres * WATER_J_PER_KG_K * (bath_celsius - wanted_celsius)
    taken_by_ice = ICE_FUSION_J_PER_KG - ICE_J_PER_KG_K * ice_celsius
    return 1000.0 * heat / (taken_by_ice + WATER_J_PER_KG_K * max(wanted_celsius, 0.0))
