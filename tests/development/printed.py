"""Developing times as US publications print them, which tests share."""

from __future__ import annotations

from collections.abc import Iterable

from wetside.development.law import Row, TimeTable
from wetside.units import fahrenheit_to_celsius


def rows_of(pairs: Iterable[tuple[float, float]]) -> tuple[Row, ...]:
    """Rows from pairs of degrees Fahrenheit and minutes."""
    return tuple(Row(fahrenheit_to_celsius(f), minutes * 60.0) for f, minutes in pairs)


TABLE = TimeTable(
    rows_of([(65, 8), (68, 6.75), (70, 6.25), (72, 5.5), (75, 4.75)]),
    "Kodak F-4017, from memory",
    15,
)
