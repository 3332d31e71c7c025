"""Small sinks for the tests: Newton's law in closed form, read by a lagging, rounding probe."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wetside.readings import Place, Reading
from wetside.sim.probe import ProbeBody, follow, settled


@dataclass(frozen=True)
class NewtonSink:
    """A developer that nears a constant bath with one rate; in air a probe lags longer."""

    start: float
    bath: float
    rate: float
    lag: float = 9.0
    noise: float = 0.02
    seed: int = 1
    air_lags: float = 9.0
    sensor_part: float = 0.2

    def developer(self, seconds: float) -> float:
        """Exact developer temperature, degC."""
        return self.bath + (self.start - self.bath) * math.exp(-self.rate * seconds)

    def crossing(self, celsius: float) -> float:
        """Exact time at which the developer passes ``celsius``, seconds."""
        return -math.log((celsius - self.bath) / (self.start - self.bath)) / self.rate

    def readings(
        self, plan: list[tuple[str, int]], *, told: bool = True, room: float = 21.0
    ) -> list[Reading]:
        """Readings at 1/s of one probe that follows ``plan`` of (medium, seconds)."""
        random = np.random.default_rng(self.seed)
        rows: list[Reading] = []
        probe = settled(room)
        wet = ProbeBody(self.lag, self.sensor_part)
        whole = self.lag * ((1.0 - self.sensor_part) * self.air_lags + self.sensor_part)
        dry = ProbeBody(whole, self.lag * self.sensor_part / whole)
        second = 0
        for medium, duration in plan:
            place = Place(medium)
            for _ in range(duration):
                around = {
                    Place.DEVELOPER: self.developer(second),
                    Place.BATH: self.bath,
                    Place.AIR: room,
                }[place]
                probe = follow(dry if place is Place.AIR else wet, probe, around, 1.0)
                value = round((probe.sensor + self.noise * random.standard_normal()) * 16) / 16
                shown = place if told else Place.UNKNOWN
                rows.append(Reading(float(second), "p", float(value), shown))
                second += 1
        return rows
