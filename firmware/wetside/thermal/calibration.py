"""Correcting a probe by two points: melting ice and one reference thermometer.

The correction is a straight line through both points. Its uncertainty follows from that of the
points, nearest to them smallest, and goes into :attr:`wetside.outlook.Setup.probe_sd_celsius`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from wetside.readings import STEP_CELSIUS

#: Melting ice under air is 0.00 degC of the ITS-90 (its fixed point, the triple point of water, is
#: 0.01 degC by definition: H. Preston-Thomas, Metrologia 27 (1990) 3); the sd is that of a slush of
#: crushed ice and little water in a classroom. How a good one is made: ASTM E563 (from memory).
ICE_POINT_CELSIUS, ICE_POINT_SD = 0.0, 0.03
#: What a straight line leaves of a probe's error: 0.046 to 0.130 degC on average in eight DS18B20
#: compared with a platinum thermometer (Rodriguez-Rama et al., abstract). The lower end, because
#: the line here is drawn for the few degrees around one reference and not for a whole range.
RESIDUAL_SD = 0.05
#: Widest error that the data sheet allows from -10 to +85 degC; taken as even between its ends.
DATA_SHEET_CELSIUS = 0.5
UNCORRECTED_SD = DATA_SHEET_CELSIUS / math.sqrt(3.0)
#: Temperatures at which a corrected probe is used; its sd is the worst between them.
USED_CELSIUS = (18.0, 24.0)
_LEAST_SPAN_CELSIUS = 10.0
_MOST_CELSIUS, _MOST_SLOPE = 1.0, 0.02
_STEADY_CELSIUS = 0.1
_QUANTUM_SD = STEP_CELSIUS / math.sqrt(12.0)


@dataclass(frozen=True, slots=True)
class Point:
    """A probe's mean reading against what it should have read, both degC.

    ``sd`` is that of the difference: of the reference, the reading's rounding and its scatter.
    """

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

    def sd(self, read_celsius: float) -> float:
        """Standard deviation of the corrected temperature, K."""
        reach = self.slope_sd * (read_celsius - self.middle)
        return math.sqrt(self.offset_sd**2 + reach**2 + RESIDUAL_SD**2)

    @property
    def used_sd(self) -> float:
        """Worst standard deviation, K, where developers are used (:data:`USED_CELSIUS`)."""
        return max(self.sd(celsius) for celsius in USED_CELSIUS)

    @property
    def settings(self) -> tuple[float, float]:
        """Slope and offset (degC) of ``true = slope read + offset``, as the settings have it."""
        return 1.0 + self.slope, self.offset - self.slope * self.middle

    def holds(self, tolerance_celsius: float, read_celsius: float) -> bool:
        """Whether ``read +- tolerance`` can be promised 19 times in 20."""
        return 1.96 * self.sd(read_celsius) <= tolerance_celsius


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
    if spread > _STEADY_CELSIUS + STEP_CELSIUS:  # one step of rounding is no change
        raise ValueError(f"the readings still change by {spread:.2f} C: stir and wait")
    mean = sum(readings) / len(readings)
    scatter = math.sqrt(sum((one - mean) ** 2 for one in readings)) / len(readings)
    return Point(mean, true_celsius, math.hypot(sd, _QUANTUM_SD, scatter))


def calibrate(ice: Point, reference: Point) -> Calibration:
    """Line through two points, weighted middle between them.

    Raises
    ------
    ValueError
        The points lie closer than 10 K, or ask for a correction that a sound probe does not need:
        more than 1 K, twice what the data sheet allows, or a slope off by more than 2 %.
        Something else is wrong then.
    """
    span = reference.read_celsius - ice.read_celsius
    if abs(span) < _LEAST_SPAN_CELSIUS:
        raise ValueError(f"the two points lie {abs(span):.1f} C apart; at least 10 C are needed")
    errors = [point.true_celsius - point.read_celsius for point in (ice, reference)]
    for name, error in zip(("in ice", "beside the thermometer"), errors, strict=True):
        if abs(error) > _MOST_CELSIUS:
            raise ValueError(
                f"{name} the probe is off by {abs(error):.2f} C, more than {_MOST_CELSIUS:g} C: "
                "the ice was not at 0 C, the thermometer is wrong, or the probe is broken"
            )
    weights = [1.0 / point.sd**2 for point in (ice, reference)]
    total = sum(weights)
    middle = (weights[0] * ice.read_celsius + weights[1] * reference.read_celsius) / total
    slope = (errors[1] - errors[0]) / span
    if abs(slope) > _MOST_SLOPE:
        raise ValueError(
            f"its slope would be {1.0 + slope:.3f}, outside of {1 - _MOST_SLOPE:g} to "
            f"{1 + _MOST_SLOPE:g}: do both points again"
        )
    offset = (weights[0] * errors[0] + weights[1] * errors[1]) / total
    return Calibration(
        middle,
        offset,
        slope,
        math.sqrt(1.0 / total),
        math.hypot(ice.sd, reference.sd) / abs(span),
    )
