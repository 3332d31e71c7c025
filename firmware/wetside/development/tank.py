"""The temperature in the tank during the step, from what is known when it is filled.

Two lumps: the developer, and the tank with its reels. At pour-in the tank takes (or gives) heat
through its inner film; then it passes heat to what it stands in, the room's air or the bath.
With surroundings that are straight between samples the equations have an exact solution::

    C_d dD/dt = g (W - D)
    C_w dW/dt = g (D - W) + h (S - W)        S(t) straight in each segment

Figures of the built-in tanks: specific heats of glass and steel (OpenStax College Physics,
m42224), of polypropylene (handbooks, from memory); still water through steel to air
11.3 W/(m2 K) (engineeringtoolbox); through a wall between two still waters as computed from
the Churchill-Chu correlation for 5 K (Int. J. Heat Mass Transfer 18, 1975, 1323). Masses and
areas are common sizes, so the couplings carry a wide uncertainty of their own.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from wetside.development.course import Courses, Measured
from wetside.outlook import Wall
from wetside.units import WATER_J_PER_KG_K

#: Developer is taken as water of 1 g/mL.
JOULES_PER_MILLILITRE_KELVIN = WATER_J_PER_KG_K / 1000.0

_JOULES_PER_GRAM_KELVIN = {Wall.PLASTIC: 1.9, Wall.GLASS: 0.840, Wall.STEEL: 0.452}
_STILL_WATER_WATTS = {Wall.PLASTIC: 56.0, Wall.GLASS: 95.0, Wall.STEEL: 142.0}
_AIR_WATTS = 11.3


class Stands(StrEnum):
    """What the tank stands in during the step."""

    ROOM = "room"
    BATH = "bath"


@dataclass(frozen=True, slots=True)
class Tank:
    """Heat capacity of a tank with its reels, and its couplings.

    Parameters
    ----------
    joules_per_kelvin
        Heat capacity of tank and reels.
    inside_watts_per_kelvin
        Developer to wall.
    air_watts_per_kelvin, bath_watts_per_kelvin
        Wall to the room's air; wall to the water of a bath.
    """

    joules_per_kelvin: float
    inside_watts_per_kelvin: float
    air_watts_per_kelvin: float
    bath_watts_per_kelvin: float

    def __post_init__(self) -> None:
        for name in self.__slots__:
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise ValueError(f"{name} must be above zero, not {value:g}")

    def outside(self, stands: Stands) -> float:
        """Coupling of the wall to what it stands in, W/K."""
        return self.bath_watts_per_kelvin if stands is Stands.BATH else self.air_watts_per_kelvin


def tank_of(wall: Wall, grams: float, square_metres: float) -> Tank:
    """A tank from its material, its mass with reels, and its wetted area.

    Half of the resistance between two still waters is laid on each side of the wall.
    """
    each_side = 2.0 * _STILL_WATER_WATTS[wall] * square_metres
    return Tank(
        joules_per_kelvin=grams * _JOULES_PER_GRAM_KELVIN[wall],
        inside_watts_per_kelvin=each_side,
        air_watts_per_kelvin=_AIR_WATTS * square_metres,
        bath_watts_per_kelvin=each_side,
    )


#: One-roll tanks as they are common in schools; mass with one reel and wetted area estimated.
ONE_ROLL = {
    Wall.PLASTIC: tank_of(Wall.PLASTIC, grams=260.0, square_metres=0.035),
    Wall.STEEL: tank_of(Wall.STEEL, grams=280.0, square_metres=0.028),
}


def tank_for(wall: Wall, reels: int = 1) -> Tank:
    """A usual tank of plastic or steel for so many reels of 135.

    Each reel after the first adds half of what a one-roll tank has (estimated from common
    sizes), which is well inside the uncertainty of the couplings.
    """
    one = ONE_ROLL[wall]
    times = (1.0 + reels) / 2.0
    return Tank(
        one.joules_per_kelvin * times,
        one.inside_watts_per_kelvin * times,
        one.air_watts_per_kelvin * times,
        one.bath_watts_per_kelvin * times,
    )


@dataclass(frozen=True, slots=True)
class Pour:
    """What is known when the developer goes in; every ``_sd`` is one standard deviation.

    Parameters
    ----------
    developer_celsius, tank_celsius
        Developer in its container, and the tank with reels and film, just before.
    millilitres
        Volume of the developer.
    stands
        What the tank stands in.
    around
        Samples (seconds since pour-in, celsius) of the air or the bath around it; one sample
        stands for a steady temperature. With a probe in the jacket bath these are its readings.
    coupling_sd
        Standard deviation of the logarithm of all couplings together; 0.4 is a factor of 1.5.
    """

    developer_celsius: float
    developer_sd: float
    tank_celsius: float
    tank_sd: float
    millilitres: float
    stands: Stands
    around: tuple[tuple[float, float], ...]
    around_sd: float
    coupling_sd: float = 0.4

    def __post_init__(self) -> None:
        if not self.millilitres > 0:
            raise ValueError(f"millilitres must be above zero, not {self.millilitres:g}")
        Measured(self.around)


@dataclass(frozen=True, slots=True)
class _Segment:
    start: float
    around: float
    slope: float
    lag: float
    slow: float
    fast: float


@dataclass(frozen=True, slots=True)
class InTank:
    """The developer's temperature in the tank, solved exactly."""

    segments: tuple[_Segment, ...]
    slow_rate: float
    fast_rate: float

    @property
    def kinks(self) -> tuple[float, ...]:
        """Where a new piece of the surroundings begins."""
        return tuple(segment.start for segment in self.segments)

    def celsius_at(self, seconds: float) -> float:
        """Developer at this many seconds after pour-in."""
        index = bisect_right(self.segments, max(seconds, 0.0), key=lambda piece: piece.start)
        piece = self.segments[index - 1]
        t = max(seconds, 0.0) - piece.start
        decay = piece.slow * math.exp(self.slow_rate * t) + piece.fast * math.exp(
            self.fast_rate * t
        )
        return piece.around + piece.slope * t + piece.lag + decay


def _pieces(around: tuple[tuple[float, float], ...]) -> list[tuple[float, float, float]]:
    """Starts, temperatures and slopes of the surroundings from the pour on."""
    line = Measured(around)
    later = [seconds for seconds, _ in around if seconds > 0.0]
    knots = [0.0, *later]
    pieces = [
        (
            start,
            line.celsius_at(start),
            (line.celsius_at(end) - line.celsius_at(start)) / (end - start),
        )
        for start, end in pairwise(knots)
    ]
    return [*pieces, (knots[-1], line.celsius_at(knots[-1]), 0.0)]


def solve(tank: Tank, pour: Pour) -> InTank:
    """The most likely course of the developer in the tank."""
    developer_capacity = pour.millilitres * JOULES_PER_MILLILITRE_KELVIN
    a = tank.inside_watts_per_kelvin / developer_capacity
    b = tank.inside_watts_per_kelvin / tank.joules_per_kelvin
    c = tank.outside(pour.stands) / tank.joules_per_kelvin
    root = math.sqrt((a - c) ** 2 + b * b + 2.0 * a * b + 2.0 * b * c)
    fast_rate = -(a + b + c + root) / 2.0
    slow_rate = a * c / fast_rate  # their product is a c; this form loses no digits
    developer, wall = pour.developer_celsius, pour.tank_celsius
    segments: list[_Segment] = []
    pieces = _pieces(pour.around)
    for index, (start, around, slope) in enumerate(pieces):
        # On a ramp both lumps end up trailing it by a fixed lag.
        lag = -slope * (a + b + c) / (a * c)
        wall_lag = -slope * (a + b) / (a * c)
        off, wall_off = developer - around - lag, wall - around - wall_lag
        # Developer part of each mode: the slow mode's wall stands at (a + rate)/a of it.
        slow = (a * wall_off - (a + fast_rate) * off) / (slow_rate - fast_rate)
        fast = off - slow
        segments.append(_Segment(start, around, slope, lag, slow, fast))
        if index + 1 < len(pieces):
            t = pieces[index + 1][0] - start
            slow_end, fast_end = slow * math.exp(slow_rate * t), fast * math.exp(fast_rate * t)
            reached = around + slope * t
            developer = reached + lag + slow_end + fast_end
            wall = (
                reached + wall_lag + slow_end * (a + slow_rate) / a + fast_end * (a + fast_rate) / a
            )
    return InTank(tuple(segments), slow_rate, fast_rate)


def in_tank(tank: Tank, pour: Pour) -> Courses:
    """The developer's temperature in the tank with everything that is uncertain about it."""
    stiffer = math.exp(pour.coupling_sd)
    stiff = replace(
        tank,
        inside_watts_per_kelvin=tank.inside_watts_per_kelvin * stiffer,
        air_watts_per_kelvin=tank.air_watts_per_kelvin * stiffer,
        bath_watts_per_kelvin=tank.bath_watts_per_kelvin * stiffer,
    )
    shifted = (
        solve(tank, replace(pour, developer_celsius=pour.developer_celsius + pour.developer_sd)),
        solve(tank, replace(pour, tank_celsius=pour.tank_celsius + pour.tank_sd)),
        solve(tank, replace(pour, around=tuple((s, c + pour.around_sd) for s, c in pour.around))),
        solve(stiff, pour),
    )
    return Courses(solve(tank, pour), shifted)
