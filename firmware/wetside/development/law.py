"""Developing time at another temperature: the published table first, else a stated coefficient.

A table is interpolated as log time against 1/T, straight between its rows, because an
Arrhenius law is exactly straight there (docs/development.md gives the comparison with other
rules). A source that prints times to the half minute hides up to a quarter minute either
way, so every law also gives bounds. No coefficient is built in: published ones for ten degrees
run from 1.4 to 3.8, so the coefficient belongs to the sheet and names its source.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Protocol, Self

#: 0 degC in kelvin (BIPM, SI brochure).
KELVIN_AT_ZERO_CELSIUS = 273.15

#: Rows nearer to a nominal temperature than this are that temperature's row.
SAME_CELSIUS = 0.01


class Law(Protocol):
    """What everything that needs developing times asks for."""

    @property
    def source(self) -> str:
        """Where the figures come from."""
        ...

    def seconds_at(self, celsius: float) -> float:
        """Time that gives the nominal development at a steady ``celsius``."""
        ...

    def bounds_at(self, celsius: float) -> tuple[float, float]:
        """Shortest and longest time that the source's own rounding or spread allows."""
        ...

    def reaches(self, celsius: float) -> float:
        """How far ``celsius`` lies outside what the source prints, degrees; 0 = inside."""
        ...

    def variants(self, nominal_celsius: float) -> tuple[Law, ...]:
        """Laws as steep and as flat as the source allows, unchanged at the nominal."""
        ...


def inverse_kelvin(celsius: float) -> float:
    """``1/T`` of the absolute temperature, 1/K."""
    return 1.0 / (celsius + KELVIN_AT_ZERO_CELSIUS)


def require_source(source: str) -> None:
    """Refuse figures that come from nowhere."""
    if not source.strip():
        raise ValueError("source is blank: name the publication, or write teacher's own")


def require_positive(name: str, value: float) -> None:
    """Refuse a quantity that is not a number above zero."""
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name} must be above zero, not {value:g}")


@dataclass(frozen=True, slots=True, order=True)
class Row:
    """One published pair of temperature and time."""

    celsius: float
    seconds: float


def check_rows(rows: Sequence[Row]) -> None:
    """Refuse rows (by rising temperature) that no developer could have."""
    if len(rows) < 2:
        raise ValueError("a table needs at least two rows; with one, state a coefficient instead")
    for row in rows:
        require_positive("a time in the table", row.seconds)
        if not -5.0 <= row.celsius <= 60.0:
            raise ValueError(f"{row.celsius:g} degC in the table is no developing temperature")
    for cooler, warmer in pairwise(rows):
        if warmer.celsius - cooler.celsius < SAME_CELSIUS:
            raise ValueError(f"{warmer.celsius:.2f} degC stands twice in the table")
        if warmer.seconds > cooler.seconds:
            raise ValueError(
                f"{warmer.celsius:.2f} degC has a longer time ({warmer.seconds:g} s) than "
                f"{cooler.celsius:.2f} degC ({cooler.seconds:g} s); warmer is never longer"
            )


@dataclass(frozen=True, slots=True)
class TimeTable:
    """A published table of times.

    Parameters
    ----------
    rows
        At least two, in any order; kept by rising temperature.
    source
        The publication, or "teacher's own".
    rounding_seconds
        The step to which the source prints its times (30 for half minutes); 0 if exact.

    Raises
    ------
    ValueError
        Names the row that cannot be.
    """

    rows: tuple[Row, ...]
    source: str
    rounding_seconds: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "rows", tuple(sorted(self.rows)))
        require_source(self.source)
        check_rows(self.rows)
        if not 0.0 <= self.rounding_seconds < 2.0 * self.rows[-1].seconds:
            raise ValueError(
                f"rounding_seconds {self.rounding_seconds:g} does not fit a table whose "
                f"shortest time is {self.rows[-1].seconds:g} s"
            )

    def reaches(self, celsius: float) -> float:
        """Degrees outside the rows; 0 inside."""
        return max(self.rows[0].celsius - celsius, celsius - self.rows[-1].celsius, 0.0)

    def seconds_at(self, celsius: float) -> float:
        """Interpolated time; outside the rows the slope of the whole table carries on."""
        rows = self.rows
        if celsius <= rows[0].celsius:
            return self._beyond(rows[0], celsius)
        if celsius >= rows[-1].celsius:
            return self._beyond(rows[-1], celsius)
        after = bisect_right(rows, celsius, key=lambda row: row.celsius)
        cooler, warmer = rows[after - 1], rows[after]
        start = inverse_kelvin(cooler.celsius)
        share = (inverse_kelvin(celsius) - start) / (inverse_kelvin(warmer.celsius) - start)
        return cooler.seconds * math.exp(share * math.log(warmer.seconds / cooler.seconds))

    def _beyond(self, end: Row, celsius: float) -> float:
        if celsius == end.celsius:
            return end.seconds
        step = inverse_kelvin(celsius) - inverse_kelvin(end.celsius)
        return end.seconds * math.exp(slope_of(self.rows) * step)

    def bounds_at(self, celsius: float) -> tuple[float, float]:
        """Least and most time if every row may be off by half the printed step."""
        times = [table.seconds_at(celsius) for table in (self, *self._moved())]
        return min(times), max(times)

    def _moved(self) -> tuple[Self, ...]:
        half = self.rounding_seconds / 2.0
        if half == 0.0:
            return ()
        return (
            self._shifted(lambda _: -half),
            self._shifted(lambda _: half),
            *self.variants((self.rows[0].celsius + self.rows[-1].celsius) / 2.0),
        )

    def variants(self, nominal_celsius: float) -> tuple[Self, ...]:
        """The steepest and the flattest table that would print the same."""
        half = self.rounding_seconds / 2.0
        if half == 0.0:
            return ()

        def side(row: Row) -> float:
            if abs(row.celsius - nominal_celsius) < SAME_CELSIUS:
                return 0.0
            return half if row.celsius < nominal_celsius else -half

        return self._shifted(side), self._shifted(lambda row: -side(row))

    def _shifted(self, shift: _Shift) -> Self:
        moved: list[Row] = []
        for row in reversed(self.rows):
            least = moved[-1].seconds if moved else 0.0
            moved.append(Row(row.celsius, max(row.seconds + shift(row), least)))
        return replace(self, rows=tuple(moved), rounding_seconds=0.0)


class _Shift(Protocol):
    def __call__(self, row: Row, /) -> float: ...


def slope_of(rows: Sequence[Row]) -> float:
    """Least-squares slope of log time against 1/T over all rows, kelvin."""
    inverse = [inverse_kelvin(row.celsius) for row in rows]
    logs = [math.log(row.seconds) for row in rows]
    middle, height = sum(inverse) / len(rows), sum(logs) / len(rows)
    spread = sum((x - middle) ** 2 for x in inverse)
    return sum((x - middle) * (y - height) for x, y in zip(inverse, logs, strict=True)) / spread


def ten_degree_ratio(law: Law, cooler_celsius: float, warmer_celsius: float) -> float:
    """How many times longer a law makes ten degrees cooler, taken over the span given."""
    ratio = law.seconds_at(cooler_celsius) / law.seconds_at(warmer_celsius)
    return math.exp(math.log(ratio) * 10.0 / (warmer_celsius - cooler_celsius))
