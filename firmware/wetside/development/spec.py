"""The part of a process sheet that says how its developing time follows the temperature.

A sheet either carries its publication's table or one time with a coefficient; docs/development.md
explains every key with an example. ``Development`` is a table for a pydantic model of a sheet.
"""

import re
from typing import Annotated, Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from wetside.development.agitation import Factor, Why, adjusted
from wetside.development.coefficient import Q10, Arrhenius
from wetside.development.effective import EndLimits
from wetside.development.figures import Basis
from wetside.development.law import Law, Row, TimeTable
from wetside.development.limits import SHORT_SECONDS, Limits, Refused, Timed, time_at
from wetside.development.problems import raise_together
from wetside.errors import UnitsError
from wetside.tomlfile import Table
from wetside.units import parse_celsius

_CLOCK = re.compile(r"^(\d{1,3}):([0-5]\d)$")


def parse_clock(text: str) -> float:
    """Seconds of a time such as ``6:45``.

    Raises
    ------
    UnitsError
        Anything but minutes, a colon and two figures of seconds.
    """
    match = _CLOCK.match(text.strip())
    if match is None:
        raise UnitsError(f"{text!r} is not a time; write minutes and seconds such as 6:45")
    return int(match[1]) * 60.0 + int(match[2])


class FactorTable(Table):
    """One factor on the developing time with whose it is."""

    why: Why
    times: float
    basis: Basis
    source: str = ""

    @model_validator(mode="after")
    def _possible(self) -> Self:
        self.factor()
        return self

    def factor(self) -> Factor:
        """As a value of the core."""
        return Factor(self.why, self.times, self.basis, self.source)


class Development(Table):
    """Time against temperature for one film in one developer.

    Exactly one of ``table`` (pairs such as ``["68F", "6:45"]``), ``ten_degrees`` and
    ``joules_per_mole`` is given; the last two need ``nominal_time``.
    """

    nominal_celsius: Annotated[float, Field(ge=5, le=50)]
    lowest_celsius: Annotated[float, Field(ge=5, le=50)]
    highest_celsius: Annotated[float, Field(ge=5, le=50)]
    source: Annotated[str, Field(min_length=3, max_length=200)]
    rounding_seconds: Annotated[float, Field(ge=0, le=120)] = 0.0
    table: tuple[tuple[str, str], ...] | None = None
    nominal_time: str | None = None
    ten_degrees: Annotated[float, Field(ge=1, le=10)] | None = None
    ten_degrees_low: Annotated[float, Field(ge=1, le=10)] | None = None
    ten_degrees_high: Annotated[float, Field(ge=1, le=10)] | None = None
    joules_per_mole: Annotated[float, Field(ge=0, le=300_000)] | None = None
    short_seconds: Annotated[float, Field(ge=0, le=3600)] = SHORT_SECONDS
    outside_celsius: Annotated[float, Field(ge=0, le=10)] = 0.0
    may_adjust_end: bool = False
    earliest: Annotated[float, Field(gt=0, le=1)] = 0.8
    latest: Annotated[float, Field(ge=1, le=3)] = 1.25
    factor: tuple[FactorTable, ...] = ()

    @field_validator("table")
    @classmethod
    def _readable_rows(
        cls, rows: tuple[tuple[str, str], ...] | None
    ) -> tuple[tuple[str, str], ...] | None:
        for place, (celsius, clock) in enumerate(rows or (), start=1):
            try:
                parse_celsius(celsius)
                parse_clock(clock)
            except UnitsError as error:
                raise ValueError(f"row {place}: {error}") from None
        return rows

    @field_validator("nominal_time")
    @classmethod
    def _readable_time(cls, clock: str | None) -> str | None:
        if clock is not None:
            try:
                parse_clock(clock)
            except UnitsError as error:
                raise ValueError(str(error)) from None
        return clock

    @field_validator("highest_celsius")
    @classmethod
    def _above_lowest(cls, highest: float, info: ValidationInfo) -> float:
        lowest = info.data.get("lowest_celsius")
        if lowest is not None and highest <= lowest:
            raise ValueError(f"{highest:g} is not above lowest_celsius {lowest:g}")
        return highest

    @model_validator(mode="after")
    def _one_law(self) -> Self:
        raise_together(self._wrong())
        # Building them reports what no single key shows, such as a table that rises.
        law, limits = self.law(), self.limits()
        found = time_at(law, self.nominal_celsius, limits)
        if isinstance(found, Refused):
            raise ValueError(f"nominal_celsius: {found.reason}")  # noqa: TRY004  # a wrong value
        adjusted(found, self.factors(), limits)
        return self

    def _wrong(self) -> list[str]:
        laws = [
            name
            for name in ("table", "ten_degrees", "joules_per_mole")
            if getattr(self, name) is not None
        ]
        if len(laws) != 1:
            told = " and ".join(laws) or "none"
            return [f"give one of table, ten_degrees and joules_per_mole; here: {told}"]
        wrong: list[str] = []
        if laws == ["table"]:
            if self.nominal_time is not None:
                wrong.append("nominal_time: follows from the table, leave it out")
        elif self.nominal_time is None:
            wrong.append(f"nominal_time: is missing beside {laws[0]}")
        if laws != ["ten_degrees"]:
            wrong.extend(
                f"{name}: belongs to ten_degrees"
                for name in ("ten_degrees_low", "ten_degrees_high")
                if getattr(self, name) is not None
            )
        return wrong

    def law(self) -> Law:
        """The law of the sheet.

        Raises
        ------
        ValueError
            Rows or coefficients that no developer could have.
        """
        if self.table is not None:
            rows = tuple(Row(parse_celsius(c), parse_clock(clock)) for c, clock in self.table)
            return TimeTable(rows, self.source, self.rounding_seconds)
        seconds = parse_clock(self.nominal_time or "")
        if self.ten_degrees is not None:
            return Q10(
                nominal_celsius=self.nominal_celsius,
                nominal_seconds=seconds,
                coefficient=self.ten_degrees,
                coefficient_low=self.ten_degrees_low,
                coefficient_high=self.ten_degrees_high,
                source=self.source,
                rounding_seconds=self.rounding_seconds,
            )
        return Arrhenius(
            nominal_celsius=self.nominal_celsius,
            nominal_seconds=seconds,
            joules_per_mole=self.joules_per_mole or 0.0,
            source=self.source,
            rounding_seconds=self.rounding_seconds,
        )

    def nominal_share(self, celsius: float) -> float:
        """What the nominal time amounts to in a developer of ``celsius``; 1 is what is wanted.

        The law is carried on where it gives no time, so that far outside this is a rough figure.
        """
        law = self.law()
        return law.seconds_at(self.nominal_celsius) / law.seconds_at(celsius)

    def limits(self) -> Limits:
        """The useful range with what the teacher allows."""
        return Limits(
            lowest_celsius=self.lowest_celsius,
            highest_celsius=self.highest_celsius,
            short_seconds=self.short_seconds,
            outside_celsius=self.outside_celsius,
        )

    def factors(self) -> tuple[Factor, ...]:
        """The factors in force."""
        return tuple(one.factor() for one in self.factor)

    def end_limits(self) -> EndLimits | None:
        """How far the end of the step may move; None if the sheet does not allow it."""
        return EndLimits(self.earliest, self.latest) if self.may_adjust_end else None

    def time_at(self, celsius: float) -> Timed | Refused:
        """Developing time at a temperature with the sheet's factors, or the reason for none."""
        found = time_at(self.law(), celsius, self.limits())
        if isinstance(found, Refused):
            return found
        return adjusted(found, self.factors(), self.limits())
