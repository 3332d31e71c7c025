"""Heat balance of a container of developer in a tempering bath: pure, deterministic.

The developer and the bath are two layers each, the container's wall two halves, the basin one
body. Heat passes the wall through a film on either side (`wetside.sim.film`), the wall itself
holds heat, the boundary layer along the wall turns the developer over and leaves it layered
when nobody stirs, the bath loses heat to the room by contact, radiation and evaporation, the
tap brings water whose temperature drifts while the line is flushed, what is too much overflows.

    sink = Sink(Vessel(Wall.PLASTIC, volume_millilitres=500))
    state = start(sink, developer_celsius=20.0, bath_celsius=26.0)
    state = advance(state, sink, Controls(stir_developer=0.5), seconds=10.0)
    developer_mean(state)

This is the world, not the estimator: `wetside.thermal` knows nothing of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wetside.outlook import Wall
from wetside.sim import film, water
from wetside.sim.sink import (
    Controls,
    Sink,
    State,
    Vessel,
    add_ice,
    add_water,
    around,
    bath_mean,
    developer_mean,
    footprint,
    start,
    tap_celsius,
)

__all__ = [
    "WALLS", "Controls", "Sink", "State", "Vessel", "add_ice", "add_water", "advance", "around",
    "bath_mean", "developer_mean", "footprint", "melting_rate", "start", "tap_celsius",
]  # fmt: skip

#: Conductivity W/(m K), density kg/m3, specific heat J/(kg K). Glass and steel: OpenStax,
#: College Physics (conductivity, specific heat), densities from memory; polypropylene: from memory.
WALLS: dict[Wall, tuple[float, float, float]] = {
    Wall.PLASTIC: (0.16, 905.0, 1900.0),
    Wall.GLASS: (0.84, 2500.0, 840.0),
    Wall.STEEL: (14.0, 7900.0, 452.0),
}
#: Psychrometric constant in Pa/K at sea level: evaporation against contact (Bowen 1926).
PSYCHROMETRIC = 66.0
#: Longest internal step; the fastest body (a thin steel wall) has a time constant near 1 s.
LONGEST_STEP_SECONDS = 0.5
_OVERTURN_SECONDS = 4.0  # a layer that lies on a lighter one sinks within seconds


@dataclass(frozen=True, slots=True)
class _Shape:
    """Lengths, areas (m2), heats (J/K) and the wall's half conductance, worked out once."""

    depth: float
    side: float  # of one half
    floor: float
    immersed: tuple[float, float]  # share of the upper and of the lower half under bath water
    immersed_depth: float
    developer_heat: float  # of one half
    wall_heat: tuple[float, float]
    half_wall: float
    inner_width: float
    bath_surface: float
    developer_surface: float


Rates = tuple[float, float, float, float, float, float, float]


def _shape(sink: Sink, bath_litres: float) -> _Shape:
    vessel = sink.vessel
    inner = vessel.diameter_millimetres * 1e-3
    thickness = vessel.thickness_millimetres * 1e-3
    opening = math.pi * inner * inner / 4.0
    depth = vessel.volume_millilitres * 1e-6 / opening
    free = sink.basin_square_metres - footprint(vessel)
    bath_depth = bath_litres * 1e-3 / free
    under = min(1.0, bath_depth / depth)
    conductivity, dense, specific = WALLS[vessel.wall]
    side = math.pi * (inner + thickness) * depth / 2.0
    floor = opening * vessel.bottom_contact
    held = dense * specific * thickness
    return _Shape(
        depth=depth,
        side=side,
        floor=floor,
        immersed=(max(0.0, 2.0 * under - 1.0), min(1.0, 2.0 * under)),
        immersed_depth=max(0.01, min(depth, bath_depth)),
        developer_heat=water.HEAT_PER_LITRE * vessel.volume_millilitres / 2000.0,
        wall_heat=(held * side, held * (side + opening)),
        half_wall=2.0 * conductivity / thickness,
        inner_width=math.pi * inner,
        bath_surface=free,
        developer_surface=opening,
    )


def _surface_loss(sink: Sink, celsius: float, area: float) -> float:
    """Heat in W from a free water surface to the room: contact, radiation, evaporation."""
    dry = sink.air_film * (celsius - sink.room_celsius)
    excess = water.vapour_pressure(celsius) - sink.room_humidity * water.vapour_pressure(
        sink.room_celsius
    )
    # only about half of the air film is contact, the rest is radiation, which carries no vapour
    return area * (dry + 0.5 * sink.air_film * excess / PSYCHROMETRIC)


def _turnover(
    upper: float,
    lower: float,
    wall_up: float,
    wall_low: float,
    flux_up: float,
    flux_low: float,
    depth: float,
    width: float,
    share: float,
) -> float:
    """Heat in W that the wall's boundary layer carries from the lower half to the upper.

    Warm walls lift the water beside them, cold walls let it sink; what leaves one half along
    the wall is replaced from the other through the middle.
    """
    if flux_low + flux_up >= 0.0:
        flow = film.boundary_flow(lower, lower + share * (wall_low - lower), 0.5 * depth)
        carried = max(0.0, flux_low)
    else:
        flow = film.boundary_flow(upper, upper + share * (wall_up - upper), 0.5 * depth)
        carried = max(0.0, -flux_up)
    if flow <= 0.0:
        return 0.0
    exchange = flow * width * 1000.0 * water.HEAT_PER_LITRE
    return carried - exchange * (upper - lower)


def _exchange(upper: float, lower: float, heat: float, still: float, stirred: float) -> float:
    """Heat in W from the upper to the lower half by conduction, stirring and overturning.

    ``heat`` is that of one half in J/K, ``still`` and ``stirred`` are conductances in W/K.
    """
    conductance = still + stirred
    if upper < lower and lower > 4.0:  # below 4 C the colder water is the lighter one
        conductance += heat / _OVERTURN_SECONDS * min(1.0, (lower - upper) / 0.05)
    return min(conductance, 0.8 * heat) * (upper - lower)


def melting_rate(ice_kilograms: float, bath_celsius: float) -> float:
    """Ice that melts, kg/s: crushed pieces, 0.25 m2 for the first kilogram, 500 W/(m2 K)."""
    if ice_kilograms <= 0.0 or bath_celsius <= 0.0:
        return 0.0
    power = 500.0 * 0.25 * ice_kilograms ** (2.0 / 3.0) * bath_celsius
    return float(power / water.MELTING_HEAT)


def _rates(
    y: Rates, state: State, sink: Sink, controls: Controls, shape: _Shape, melt: float
) -> Rates:
    """Slopes in degrees Celsius a second of (upper, lower, walls, bath upper and lower, basin)."""
    upper, lower, wall_up, wall_low, bath_up, bath_low, basin = y
    half_wall = shape.half_wall
    room = sink.room_celsius

    # developer to the middle of its wall
    speed = 0.15 * controls.stir_developer
    stirred = film.forced_film(0.5 * (upper + lower), speed, shape.depth)
    inside_up = film.film_behind_wall(upper, wall_up, shape.depth, stirred, half_wall)
    inside_low = film.film_behind_wall(lower, wall_low, shape.depth, stirred, half_wall)
    flux_up = inside_up * shape.side * (wall_up - upper)
    flux_low = inside_low * (shape.side + shape.floor) * (wall_low - lower)
    share = half_wall / (half_wall + inside_up)
    lifted = _turnover(
        upper, lower, wall_up, wall_low, flux_up, flux_low,
        shape.depth, shape.inner_width, share,
    )  # fmt: skip
    heat = shape.developer_heat
    conduction = water.conductivity(lower) * shape.developer_surface / (0.5 * shape.depth)
    sinking = _exchange(upper, lower, heat, conduction, heat * controls.stir_developer / 2.0)
    open_top = 0.0 if controls.lid else _surface_loss(sink, upper, shape.developer_surface)
    across = lifted - sinking

    # wall to what is outside it
    air = sink.air_film * half_wall / (sink.air_film + half_wall)
    bath_heat = water.HEAT_PER_LITRE * state.bath_litres / 2.0
    to_bath_up = to_bath_low = 0.0
    to_air_up = air * shape.side * (wall_up - room)
    to_air_low = air * shape.side * (wall_low - room)
    litres_per_minute = controls.hot_litres_per_minute + controls.cold_litres_per_minute
    if controls.in_bath:
        bath_speed = 0.12 * controls.stir_bath + 0.008 * litres_per_minute
        outer = film.forced_film(0.5 * (bath_up + bath_low), bath_speed, shape.immersed_depth)
        wet_up, wet_low = shape.immersed
        to_air_up *= 1.0 - wet_up
        to_air_low *= 1.0 - wet_low
        if wet_up > 0.0:
            passing = film.film_behind_wall(
                bath_up, wall_up, shape.immersed_depth, outer, half_wall
            )
            to_bath_up = passing * shape.side * wet_up * (wall_up - bath_up)
        passing = film.film_behind_wall(bath_low, wall_low, shape.immersed_depth, outer, half_wall)
        to_bath_low = passing * (shape.side * wet_low + shape.floor) * (wall_low - bath_low)

    # the bath: vessel, basin, room, taps, ice, and its two halves among themselves
    hot, cold = tap_celsius(sink, state)
    flow_hot = controls.hot_litres_per_minute / 60.0 * water.HEAT_PER_LITRE
    flow_cold = controls.cold_litres_per_minute / 60.0 * water.HEAT_PER_LITRE
    jet = 5.0 * (flow_hot + flow_cold)
    settled = _exchange(
        bath_up, bath_low, bath_heat, sink.bath_mixing, bath_heat * controls.stir_bath / 4.0 + jet
    )
    contact_up = 0.5 * sink.basin_contact * (bath_up - basin)
    contact_low = 0.5 * sink.basin_contact * (bath_low - basin)
    chill = melt * (water.MELTING_HEAT + water.HEAT_PER_LITRE * bath_up)
    lost = _surface_loss(sink, bath_up, shape.bath_surface)
    inflow_up = 0.5 * (flow_hot * (hot - bath_up) + flow_cold * (cold - bath_up))
    inflow_low = 0.5 * (flow_hot * (hot - bath_low) + flow_cold * (cold - bath_low))
    return (
        (flux_up + across - open_top) / heat,
        (flux_low - across) / heat,
        (-flux_up - to_bath_up - to_air_up) / shape.wall_heat[0],
        (-flux_low - to_bath_low - to_air_low) / shape.wall_heat[1],
        (to_bath_up - settled - contact_up - chill - lost + inflow_up) / bath_heat,
        (to_bath_low + settled - contact_low + inflow_low) / bath_heat,
        (contact_up + contact_low - sink.basin_loss * (basin - room)) / sink.basin_heat,
    )


def advance(state: State, sink: Sink, controls: Controls, seconds: float) -> State:
    """State after ``seconds`` with the same controls (midpoint rule, steps of at most 0.5 s).

    Raises
    ------
    ValueError
        ``seconds`` is below zero.
    """
    if seconds < 0:
        raise ValueError("time only runs forward")
    steps = math.ceil(seconds / LONGEST_STEP_SECONDS)
    for _ in range(steps):
        state = _step(state, sink, controls, seconds / steps)
    return state


def _step(state: State, sink: Sink, controls: Controls, step: float) -> State:
    shape = _shape(sink, state.bath_litres)
    a, b, c, d, e, f, g = y = (
        state.upper, state.lower, state.wall_upper, state.wall_lower,
        state.bath_upper, state.bath_lower, state.basin,
    )  # fmt: skip
    # the same melting in both stages, so that ice and heat agree to the last joule
    melted = min(state.ice_kilograms, step * melting_rate(state.ice_kilograms, state.bath_upper))
    k = _rates(y, state, sink, controls, shape, melted / step)
    h = 0.5 * step
    middle = (
        a + h * k[0], b + h * k[1], c + h * k[2], d + h * k[3],
        e + h * k[4], f + h * k[5], g + h * k[6],
    )  # fmt: skip
    k = _rates(middle, state, sink, controls, shape, melted / step)
    hot = step * controls.hot_litres_per_minute / 60.0
    cold = step * controls.cold_litres_per_minute / 60.0
    brim = sink.bath_litres if sink.overflow_litres is None else sink.overflow_litres
    level = max(state.bath_litres, min(brim, state.bath_litres + hot + cold + melted))
    return State(
        a + step * k[0], b + step * k[1], c + step * k[2], d + step * k[3],
        e + step * k[4], f + step * k[5], g + step * k[6],
        level,
        state.ice_kilograms - melted,
        state.drawn_hot_litres + hot,
        state.drawn_cold_litres + cold,
        state.seconds + step,
    )  # fmt: skip
