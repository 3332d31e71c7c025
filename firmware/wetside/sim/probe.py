"""The body of a probe: it follows what surrounds it with a lag, an offset and some noise.

The sensor follows the tube that it is potted in, and the tube follows the water, so that for a
moment after a move nothing seems to happen. Published times of insulated sensors in tubes show it:
half of a step takes 0.41 to 0.65 of the time that 90 % takes, and would take 0.30 if there were one
lag only (SAB Broeckskes, technical data page, water at 0.2 m/s).

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
        Lag in water behind a steady change: that of the tube and that of the sensor together.
    sensor_part
        The sensor's part of it, 0 (one lag only) to below 0.5.
    offset_celsius
        What it shows too much.
    noise_sd
        Standard deviation of one conversion, degrees Celsius.
    """

    tau_seconds: float = 9.0
    sensor_part: float = 0.2
    offset_celsius: float = 0.0
    noise_sd: float = 0.02

    def __post_init__(self) -> None:
        if self.tau_seconds < 0 or self.noise_sd < 0:
            raise ValueError("a probe's time constant and noise are not below zero")
        if not 0.0 <= self.sensor_part < 0.5:
            raise ValueError("sensor_part is at least 0 and below 0.5")


@dataclass(frozen=True, slots=True)
class Inside:
    """Temperatures inside a probe, degC: of its tube and of its sensor."""

    tube: float
    sensor: float


def settled(celsius: float) -> Inside:
    """A probe that has long been at that temperature."""
    return Inside(celsius, celsius)


def follow(
    body: ProbeBody,
    inside: Inside,
    around_celsius: float,
    seconds: float,
    *,
    in_air: bool = False,
) -> Inside:
    """Temperatures inside the probe after ``seconds`` in surroundings that stay the same.

    In air the tube is slower; the sensor follows its tube as it does in water.
    """
    if body.tau_seconds <= 0.0:
        return settled(around_celsius)
    slow = body.tau_seconds * (1.0 - body.sensor_part) * (AIR_LAG_FACTOR if in_air else 1.0)
    fast = body.tau_seconds * body.sensor_part
    tube = inside.tube - around_celsius
    left = math.exp(-seconds / slow)
    held = math.exp(-seconds / fast) if fast > 0.0 else 0.0
    sensor = tube * slow / (slow - fast) * (left - held) + (inside.sensor - around_celsius) * held
    return Inside(around_celsius + tube * left, around_celsius + sensor)


def sense(body: ProbeBody, sensor_celsius: float, standard_normal: float = 0.0) -> float:
    """What one conversion would show before it is rounded to the sensor's steps."""
    return sensor_celsius + body.offset_celsius + body.noise_sd * standard_normal
