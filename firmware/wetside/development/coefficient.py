"""Laws that know one time and one coefficient, for sheets whose maker prints no table.

The coefficient is always stated. Published ones for ten degrees run from 1.4 to 3.8
(docs/development.md), so none is built in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from wetside.development.law import (
    Row,
    check_rows,
    inverse_kelvin,
    require_positive,
    require_source,
    slope_of,
)

#: Molar gas constant, J/(mol K) (CODATA 2018, exact by definition of the SI).
GAS_CONSTANT = 8.314462618

_COEFFICIENT_MOST = 10.0


def _check_nominal(seconds: float, rounding_seconds: float, source: str) -> None:
    require_source(source)
    require_positive("nominal_seconds", seconds)
    if not 0.0 <= rounding_seconds < 2.0 * seconds:
        raise ValueError(f"rounding_seconds {rounding_seconds:g} exceeds the time itself")


def _edges(times: Sequence[float], rounding_share: float) -> tuple[float, float]:
    return min(times) * (1.0 - rounding_share), max(times) * (1.0 + rounding_share)


@dataclass(frozen=True, slots=True, kw_only=True)
class Q10:
    """Times that change by one factor for every ten degrees.

    ``coefficient_low`` and ``coefficient_high`` give the spread of the source when it has one;
    ``rounding_seconds`` is the step to which the nominal time is printed.

    Raises
    ------
    ValueError
        A coefficient below 1 or not in order, a time of nothing, no source.
    """

    nominal_celsius: float
    nominal_seconds: float
    coefficient: float
    source: str
    coefficient_low: float | None = None
    coefficient_high: float | None = None
    rounding_seconds: float = 0.0

    def __post_init__(self) -> None:
        _check_nominal(self.nominal_seconds, self.rounding_seconds, self.source)
        low, high = self._spread()
        if not 1.0 <= low <= self.coefficient <= high <= _COEFFICIENT_MOST:
            raise ValueError(
                f"coefficients {low:g} <= {self.coefficient:g} <= {high:g} must be in order "
                f"between 1 and {_COEFFICIENT_MOST:g}"
            )

    def _spread(self) -> tuple[float, float]:
        low, high = self.coefficient_low, self.coefficient_high
        return (
            self.coefficient if low is None else low,
            self.coefficient if high is None else high,
        )

    def reaches(self, celsius: float) -> float:  # noqa: ARG002  # a formula prints no last row
        """Always 0: a formula has no rows to leave; ``Limits`` hold its useful range."""
        return 0.0

    def seconds_at(self, celsius: float) -> float:
        """Nominal time times the coefficient for each ten degrees cooler."""
        tens = (self.nominal_celsius - celsius) / 10.0
        return self.nominal_seconds * math.exp(tens * math.log(self.coefficient))

    def variants(self, nominal_celsius: float) -> tuple[Q10, ...]:
        """The same law with the lowest and the highest coefficient, equal at the nominal."""
        return tuple(
            Q10(
                nominal_celsius=nominal_celsius,
                nominal_seconds=self.seconds_at(nominal_celsius),
                coefficient=coefficient,
                source=self.source,
            )
            for coefficient in self._spread()
            if coefficient != self.coefficient
        )

    def bounds_at(self, celsius: float) -> tuple[float, float]:
        """Least and most time from the spread of the coefficient and the rounding."""
        laws = (self, *self.variants(self.nominal_celsius))
        share = self.rounding_seconds / 2.0 / self.nominal_seconds
        return _edges([law.seconds_at(celsius) for law in laws], share)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrhenius:
    """Times that follow one activation energy, joules per mole.

    Raises
    ------
    ValueError
        An energy below zero, a time of nothing, no source.
    """

    nominal_celsius: float
    nominal_seconds: float
    joules_per_mole: float
    source: str
    rounding_seconds: float = 0.0

    def __post_init__(self) -> None:
        _check_nominal(self.nominal_seconds, self.rounding_seconds, self.source)
        if not (math.isfinite(self.joules_per_mole) and self.joules_per_mole >= 0):
            raise ValueError(f"joules_per_mole must not be below zero: {self.joules_per_mole:g}")

    def reaches(self, celsius: float) -> float:  # noqa: ARG002  # a formula prints no last row
        """Always 0: a formula has no rows to leave; ``Limits`` hold its useful range."""
        return 0.0

    def seconds_at(self, celsius: float) -> float:
        """Nominal time times ``exp(E/R (1/T - 1/T_nominal))``."""
        step = inverse_kelvin(celsius) - inverse_kelvin(self.nominal_celsius)
        return self.nominal_seconds * math.exp(self.joules_per_mole / GAS_CONSTANT * step)

    def variants(self, nominal_celsius: float) -> tuple[Arrhenius, ...]:  # noqa: ARG002  # Law
        """None: one energy is given without a spread."""
        return ()

    def bounds_at(self, celsius: float) -> tuple[float, float]:
        """Least and most time from the rounding of the nominal time."""
        share = self.rounding_seconds / 2.0 / self.nominal_seconds
        return _edges([self.seconds_at(celsius)], share)


def fit_arrhenius(rows: Sequence[Row], nominal_celsius: float, source: str) -> Arrhenius:
    """The Arrhenius law nearest to a table, by least squares of log time against 1/T.

    Raises
    ------
    ValueError
        Rows that ``TimeTable`` would refuse.
    """
    check_rows(sorted(rows))
    slope = slope_of(rows)
    middle = sum(inverse_kelvin(row.celsius) for row in rows) / len(rows)
    height = sum(math.log(row.seconds) for row in rows) / len(rows)
    return Arrhenius(
        nominal_celsius=nominal_celsius,
        nominal_seconds=math.exp(height + slope * (inverse_kelvin(nominal_celsius) - middle)),
        joules_per_mole=slope * GAS_CONSTANT,
        source=source,
    )
