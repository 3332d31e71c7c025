"""Correcting a probe by two points: melting ice and one reference thermometer.

The correction is a straight line through both points. Its uncertainty follows from that of the
points, nearest to them smallest, and goes into :attr:`wetside.outlook.Setup.probe_sd_celsius`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

#: A well stirred slush of crushed ice and little water, degC and sd.
ICE_POINT_CELSIUS, ICE_POINT_SD = 0.0, 0.03
#: What remains of a probe after a straight-line correction: rounding and its own bend.
RESIDUAL_SD = 0.03
#: Widest error that the data sheet allows from -10 to +85 degC; taken as even between its ends.
UNCORRECTED_SD = 0.5 / math.sqrt(3.0)
_LEAST_SPAN_CELSIUS = 10.0


@dataclass(frozen=True, slots=True)
class Point:
    """A probe's reading against what it should have read, both degC; ``sd`` of the latter."""

    read_celsius: float
    true_celsius: float
    sd: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """Straight line ``true = read + offset + slope (read - middle)``.

    ``offset_sd`` and ``slope_sd`` are independent of each other about ``middle``.
    """

    middle: float
    offset: float
    slope: float
    offset_sd: float
    slope_sd: float

    def corrected(self, read_celsius: float) -> float:
        """Corrected temperature, degC."""
        return read_celsius + self.offset + self.slope * (read_celsius - self.middle)

    def sd(self, read_celsius: float) -> float:
        """Standard deviation of the corrected temperature, K."""
        reach = self.slope_sd * (read_celsius - self.middle)
        return math.sqrt(self.offset_sd**2 + reach**2 + RESIDUAL_SD**2)

    def holds(self, tolerance_celsius: float, read_celsius: float) -> bool:
        """Whether ``read +- tolerance`` can be promised 19 times in 20."""
        return 1.96 * self.sd(read_celsius) <= tolerance_celsius


UNCORRECTED = Calibration(0.0, 0.0, 0.0, UNCORRECTED_SD, 0.0)


def ice_point(readings: Sequence[float]) -> Point:
    """Point from readings (degC) of a probe standing in melting ice."""
    return _point(readings, ICE_POINT_CELSIUS, ICE_POINT_SD)


def reference_point(readings: Sequence[float], celsius: float, sd: float) -> Point:
    """Point from readings (degC) beside a thermometer that shows ``celsius`` within ``sd``."""
    return _point(readings, celsius, sd)


def _point(readings: Sequence[float], true_celsius: float, sd: float) -> Point:
    if not readings:
        raise ValueError("a calibration point needs at least one reading")
    spread = max(readings) - min(readings)
    if spread > 0.3:
        raise ValueError(f"the readings still change by {spread:.2f} C: stir and wait")
    return Point(sum(readings) / len(readings), true_celsius, sd)


def calibrate(ice: Point, reference: Point) -> Calibration:
    """Line through two points, weighted middle between them.

    Raises
    ------
    ValueError
        The points lie closer than 10 K, or ask for more than 2 K of correction: something
        else is wrong then.
    """
    span = reference.read_celsius - ice.read_celsius
    if abs(span) < _LEAST_SPAN_CELSIUS:
        raise ValueError(f"the two points lie {abs(span):.1f} C apart; at least 10 C are needed")
    errors = [point.true_celsius - point.read_celsius for point in (ice, reference)]
    if max(abs(error) for error in errors) > 2.0:
        raise ValueError("the probe is off by more than 2 C: check ice, thermometer and wiring")
    weights = [1.0 / point.sd**2 for point in (ice, reference)]
    total = sum(weights)
    middle = (weights[0] * ice.read_celsius + weights[1] * reference.read_celsius) / total
    slope = (errors[1] - errors[0]) / span
    offset = (weights[0] * errors[0] + weights[1] * errors[1]) / total
    return Calibration(
        middle,
        offset,
        slope,
        math.sqrt(1.0 / total),
        math.hypot(ice.sd, reference.sd) / abs(span),
    )
