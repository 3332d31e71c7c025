"""What a simulated sink is made of, and what hands put into it: values and pure functions."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from wetside.outlook import Wall
from wetside.readings import Place


@dataclass(frozen=True, slots=True)
class Vessel:
    """The developer's container: an upright cylinder, open at the top.

    Millimetres and millilitres; ``volume_millilitres`` is the developer in it;
    ``bottom_contact`` is the share of the bottom that bath water reaches.
    """

    wall: Wall = Wall.PLASTIC
    thickness_millimetres: float = 1.5
    diameter_millimetres: float = 90.0
    volume_millilitres: float = 500.0
    bottom_contact: float = 0.4

    def __post_init__(self) -> None:
        if min(self.thickness_millimetres, self.diameter_millimetres, self.volume_millilitres) <= 0:
            raise ValueError("a vessel's wall, diameter and volume are above zero")
        if not 0 <= self.bottom_contact <= 1:
            raise ValueError("bottom_contact is a share between 0 and 1")


@dataclass(frozen=True, slots=True)
class Sink:
    """Everything at the sink that stays the same during a run.

    Temperatures in degrees Celsius, volumes in litres. ``bath_litres`` is the level that
    ``start`` fills to, ``overflow_litres`` the level above which water runs off (None: the same).
    A tap gives ``tap_*_celsius`` once its line is flushed; before that it is off by
    ``line_*_celsius`` x exp(-drawn/line_litres). ``tap_drift_per_hour`` moves both with time.
    ``basin_*``: area of the water surface, heat held (J/K), and losses to the room (W/K).
    ``air_film`` is the coefficient W/(m2 K) for contact and radiation at surfaces in air;
    ``bath_mixing`` the exchange W/K between the upper and the lower half of an unstirred bath.
    """

    vessel: Vessel = field(default_factory=Vessel)
    bath_litres: float = 5.0
    room_celsius: float = 20.0
    tap_hot_celsius: float = 50.0
    tap_cold_celsius: float = 14.0
    line_hot_celsius: float = 0.0
    line_cold_celsius: float = 0.0
    line_litres: float = 3.0
    tap_drift_per_hour: float = 0.0
    overflow_litres: float | None = None
    basin_square_metres: float = 0.06
    basin_heat: float = 600.0
    basin_contact: float = 60.0
    basin_loss: float = 1.0
    air_film: float = 10.0
    room_humidity: float = 0.5
    bath_mixing: float = 15.0

    def __post_init__(self) -> None:
        if self.bath_litres <= 0 or self.line_litres <= 0 or self.basin_heat <= 0:
            raise ValueError("bath_litres, line_litres and basin_heat are above zero")
        if self.basin_square_metres <= 1.1 * footprint(self.vessel):
            raise ValueError("the basin is too small for the vessel: raise basin_square_metres")


@dataclass(frozen=True, slots=True)
class Controls:
    """What hands do at one moment: litres per minute from the taps, stirring from 0 to 1."""

    in_bath: bool = True
    hot_litres_per_minute: float = 0.0
    cold_litres_per_minute: float = 0.0
    stir_developer: float = 0.0
    stir_bath: float = 0.0
    lid: bool = False


@dataclass(frozen=True, slots=True)
class State:
    """Temperatures in degrees Celsius, amounts in litres and kilograms, at ``seconds``."""

    upper: float
    lower: float
    wall_upper: float
    wall_lower: float
    bath_upper: float
    bath_lower: float
    basin: float
    bath_litres: float
    ice_kilograms: float = 0.0
    drawn_hot_litres: float = 0.0
    drawn_cold_litres: float = 0.0
    seconds: float = 0.0


def footprint(vessel: Vessel) -> float:
    """Ground area of the vessel with its wall, m2."""
    outer = (vessel.diameter_millimetres + 2.0 * vessel.thickness_millimetres) * 1e-3
    return math.pi * outer * outer / 4.0


def start(sink: Sink, developer_celsius: float, bath_celsius: float) -> State:
    """Sink filled and developer stood in it this moment, its wall as warm as the developer."""
    return State(
        developer_celsius,
        developer_celsius,
        developer_celsius,
        developer_celsius,
        bath_celsius,
        bath_celsius,
        bath_celsius,
        sink.bath_litres,
    )


def tap_celsius(sink: Sink, state: State) -> tuple[float, float]:
    """Temperature of the water that the hot and the cold tap would give now."""
    drift = sink.tap_drift_per_hour * state.seconds / 3600.0
    hot = sink.line_hot_celsius * math.exp(-state.drawn_hot_litres / sink.line_litres)
    cold = sink.line_cold_celsius * math.exp(-state.drawn_cold_litres / sink.line_litres)
    return sink.tap_hot_celsius + hot + drift, sink.tap_cold_celsius + cold + drift


def add_water(state: State, sink: Sink, litres: float, celsius: float) -> State:
    """Bath after water was poured in and swirled once; what is too much has run off.

    Raises
    ------
    ValueError
        ``litres`` is below zero.
    """
    if litres < 0:
        raise ValueError("litres of water are not below zero")
    total = state.bath_litres + litres
    mixed = (bath_mean(state) * state.bath_litres + celsius * litres) / total
    brim = max(state.bath_litres, sink.overflow_litres or sink.bath_litres)
    return replace(state, bath_upper=mixed, bath_lower=mixed, bath_litres=min(total, brim))


def add_ice(state: State, sink: Sink, kilograms: float) -> State:
    """Bath with crushed ice of 0 C put into it; it melts as time goes on.

    Raises
    ------
    ValueError
        ``kilograms`` is below zero.
    """
    del sink  # the same form as add_water; melt water runs off at the brim later
    if kilograms < 0:
        raise ValueError("kilograms of ice are not below zero")
    return replace(state, ice_kilograms=state.ice_kilograms + kilograms)


def developer_mean(state: State) -> float:
    """Mean temperature of the developer, degrees Celsius."""
    return 0.5 * (state.upper + state.lower)


def bath_mean(state: State) -> float:
    """Mean temperature of the bath, degrees Celsius."""
    return 0.5 * (state.bath_upper + state.bath_lower)


def around(state: State, sink: Sink, place: Place, depth: float = 0.5) -> float:
    """Temperature at a probe's tip in that place; ``depth`` 0 = near the surface, 1 = bottom."""
    share = min(1.0, max(0.0, depth))
    if place is Place.DEVELOPER:
        return state.upper + (state.lower - state.upper) * share
    if place is Place.BATH:
        return state.bath_upper + (state.bath_lower - state.bath_upper) * share
    return sink.room_celsius
