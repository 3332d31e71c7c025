"""Mixing and melting: heat given equals heat taken, in joules and kelvin.

Heat capacities and latent heat as tabulated in OpenStax College Physics (Temperature Change and
Heat Capacity; Phase Change and Latent Heat).
"""

from __future__ import annotations

from collections.abc import Sequence

WATER_J_PER_KG_K = 4186.0
ICE_FUSION_J_PER_KG = 334_000.0


def mixed_celsius(parts: Sequence[tuple[float, float]]) -> float:
    """Common temperature of parts given as (heat capacity in J/K, degC).

    Raises
    ------
    ValueError
        No part has any heat capacity.
    """
    capacity = sum(part[0] for part in parts)
    if capacity <= 0.0:
        raise ValueError("nothing to mix: every heat capacity is zero")
    return sum(c * celsius for c, celsius in parts) / capacity


def after_ice_celsius(water_kilograms: float, celsius: float, ice_kilograms: float) -> float:
    """Temperature after ice at 0 degC has melted in water; 0 when not all of it melts."""
    cold = ice_kilograms * ICE_FUSION_J_PER_KG
    heat = water_kilograms * WATER_J_PER_KG_K * celsius
    if heat <= cold:
        return 0.0
    return (heat - cold) / ((water_kilograms + ice_kilograms) * WATER_J_PER_KG_K)


def water_to_add_litres(
    bath_litres: float, bath_celsius: float, wanted_celsius: float, tap_celsius: float
) -> float | None:
    """Litres of tap water that bring the bath to the wanted temperature; None if none can."""
    if tap_celsius == wanted_celsius:
        return None
    litres = bath_litres * (wanted_celsius - bath_celsius) / (tap_celsius - wanted_celsius)
    return litres if litres >= 0.0 else None


def water_to_swap_litres(
    bath_litres: float, bath_celsius: float, wanted_celsius: float, tap_celsius: float
) -> float | None:
    """Litres to take out of the bath and replace by tap water; None if that cannot do it."""
    if tap_celsius == bath_celsius:
        return None
    part = (wanted_celsius - bath_celsius) / (tap_celsius - bath_celsius)
    return bath_litres * part if 0.0 <= part <= 1.0 else None


def ice_to_add_grams(bath_litres: float, bath_celsius: float, wanted_celsius: float) -> float:
    """Grams of melting ice that cool the bath to the wanted temperature; 0 if it is cold enough.

    A litre of water is taken as a kilogram.
    """
    if bath_celsius <= wanted_celsius:
        return 0.0
    heat = bath_litres * WATER_J_PER_KG_K * (bath_celsius - wanted_celsius)
    return 1000.0 * heat / (ICE_FUSION_J_PER_KG + WATER_J_PER_KG_K * max(wanted_celsius, 0.0))
