"""Heat transfer coefficients between a vertical wall and the water beside it.

Natural convection follows Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1323, the
form for all Rayleigh numbers. Forced flow follows the laminar flat plate (Pohlhausen). The two
are blended by the cube rule that is usual for assisting flow. All functions are pure; units SI,
temperatures in degrees Celsius.
"""

from __future__ import annotations

import math

from wetside.sim import water

GRAVITY = 9.81


def prandtl_and_grashof(
    fluid_celsius: float, surface_celsius: float, length_metres: float
) -> tuple[float, float]:
    """Prandtl and Grashof numbers of water at a wall, properties at the film temperature."""
    film = 0.5 * (fluid_celsius + surface_celsius)
    mu = water.viscosity(film)
    nu = mu / water.density(film)
    prandtl = mu * water.heat_capacity(film) / water.conductivity(film)
    drive = GRAVITY * abs(water.expansion(film) * (surface_celsius - fluid_celsius))
    return prandtl, drive * length_metres**3 / (nu * nu)


def natural_nusselt(prandtl: float, grashof: float) -> float:
    """Mean Nusselt number of a vertical plate in natural convection (Churchill and Chu)."""
    damping = (1.0 + (0.492 / prandtl) ** 0.5625) ** (8.0 / 27.0)
    return float((0.825 + 0.387 * (prandtl * grashof) ** (1.0 / 6.0) / damping) ** 2)


def natural_film(fluid_celsius: float, surface_celsius: float, length_metres: float) -> float:
    """Film coefficient in W/(m2 K) of still water at a vertical wall of the given height."""
    prandtl, grashof = prandtl_and_grashof(fluid_celsius, surface_celsius, length_metres)
    conductivity = water.conductivity(0.5 * (fluid_celsius + surface_celsius))
    return natural_nusselt(prandtl, grashof) * conductivity / length_metres


def forced_film(fluid_celsius: float, metres_per_second: float, length_metres: float) -> float:
    """Film coefficient in W/(m2 K) of water that passes a plate: Nu = 0.664 Re^1/2 Pr^1/3."""
    if metres_per_second <= 0.0:
        return 0.0
    mu = water.viscosity(fluid_celsius)
    conductivity = water.conductivity(fluid_celsius)
    prandtl = mu * water.heat_capacity(fluid_celsius) / conductivity
    reynolds = metres_per_second * length_metres * water.density(fluid_celsius) / mu
    nusselt = 0.664 * math.sqrt(reynolds) * prandtl ** (1.0 / 3.0)
    return float(nusselt * conductivity / length_metres)


def blended_film(natural: float, forced: float) -> float:
    """Natural and forced coefficient acting together: third root of the sum of cubes."""
    if forced <= 0.0:
        return natural
    return float((natural**3 + forced**3) ** (1.0 / 3.0))


def boundary_flow(fluid_celsius: float, surface_celsius: float, height_metres: float) -> float:
    """Water that the natural boundary layer carries along the wall, m3/s per metre of width.

    Eckert's integral solution of the laminar layer (profile u = U y/d (1 - y/d)^2, so the flow
    is U d / 12), at the given height above the layer's beginning.
    """
    prandtl, grashof = prandtl_and_grashof(fluid_celsius, surface_celsius, height_metres)
    if grashof < 1.0:
        return 0.0
    film = 0.5 * (fluid_celsius + surface_celsius)
    nu = water.viscosity(film) / water.density(film)
    thickness: float = height_metres * 3.93 * (0.952 + prandtl) ** 0.25 / math.sqrt(prandtl)
    thickness /= grashof**0.25
    speed: float = 5.17 * nu / height_metres * math.sqrt(grashof / (20.0 / 21.0 + prandtl))
    return speed * thickness / 12.0


def film_behind_wall(
    fluid_celsius: float,
    wall_celsius: float,
    length_metres: float,
    forced: float,
    half_wall: float,
) -> float:
    """Conductance in W/(m2 K) from the fluid to the middle of a wall.

    The surface lies between the two; ``half_wall`` is the conductance of half the wall in
    W/(m2 K). One evaluation at a guessed share of the film is corrected with the fourth-root
    law of natural convection, which leaves an error of under 1 %.
    """
    difference = wall_celsius - fluid_celsius
    guess = half_wall / (half_wall + 300.0 + forced)
    natural = natural_film(fluid_celsius, fluid_celsius + guess * difference, length_metres)
    film = blended_film(natural, forced)
    share = half_wall / (half_wall + film)
    film = blended_film(natural * (share / guess) ** 0.25, forced)
    return film * half_wall / (film + half_wall)
