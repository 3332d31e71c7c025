"""The body of a probe: it follows what surrounds it with a lag, an offset and some noise.

Pure functions; the random numbers are handed in, so a run is repeatable.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

#: In still air the steel tube follows about this many times slower than in water.
AIR_LAG_FACTOR = 8.0


@dataclass(frozen=True, slots=True)
class ProbeBody:
    """A DS18B20 in its tube.

    Parameters
    ----------
    tau_seconds
        Time constant in water (63 % of a step).
    offset_celsius
        What it shows too much.
    noise_sd
        Standard deviation of one conversion, degrees Celsius.
    """

    tau_seconds: float = 9.0
    offset_celsius: float = 0.0
    noise_sd: float = 0.02

    def __post_init__(self) -> None:
        if self.tau_seconds < 0 or self.noise_sd < 0:
            raise ValueError("a probe's time constant and noise are not below zero")


def follow(
    body: ProbeBody,
    inside_celsius: float,
    around_celsius: float,
    seconds: float,
    *,
    in_air: bool = False,
) -> float:
    """Temperature inside the probe after ``seconds`` in surroundings that stay the same."""
    tau = body.tau_seconds * (AIR_LAG_FACTOR if in_air else 1.0)
    if tau <= 0.0:
        return around_celsius
    return around_celsius + (inside_celsius - around_celsius) * math.exp(-seconds / tau)


def sense(body: ProbeBody, inside_celsius: float, standard_normal: float = 0.0) -> float:
    """What one conversion would show before it is rounded to the sensor's steps."""
    return inside_celsius + body.offset_celsius + body.noise_sd * standard_normal
