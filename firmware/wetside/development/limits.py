"""What may be asked of a law: the useful range, short times, and the teacher's permission."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wetside.development.law import Law
from wetside.units import clock_text

#: Times shorter than this may come out uneven (film makers' data sheets, from memory).
SHORT_SECONDS = 300.0


class Caution(StrEnum):
    """Why a time is given with a warning."""

    SHORT = "short"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class Warned:
    """A caution with the sentence that explains it."""

    caution: Caution
    text: str


@dataclass(frozen=True, slots=True)
class Limits:
    """The useful range of a sheet.

    Parameters
    ----------
    lowest_celsius, highest_celsius
        Developer temperatures the sheet allows; nothing is given outside.
    short_seconds
        A shorter time is given with a warning.
    outside_celsius
        How far beyond the printed table the teacher allows; 0 refuses any.
    """

    lowest_celsius: float
    highest_celsius: float
    short_seconds: float = SHORT_SECONDS
    outside_celsius: float = 0.0

    def __post_init__(self) -> None:
        if not self.lowest_celsius < self.highest_celsius:
            raise ValueError(
                f"lowest_celsius {self.lowest_celsius:g} is not below "
                f"highest_celsius {self.highest_celsius:g}"
            )
        if self.outside_celsius < 0:
            raise ValueError(f"outside_celsius {self.outside_celsius:g} is below zero")


@dataclass(frozen=True, slots=True)
class Timed:
    """A developing time.

    ``low_seconds``..``high_seconds`` is what the rounding or spread of the source leaves open.
    ``source`` names every figure that went into it.
    """

    seconds: float
    low_seconds: float
    high_seconds: float
    warnings: tuple[Warned, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Refused:
    """No time is given; ``reason`` says why in one sentence."""

    reason: str


@dataclass(frozen=True, slots=True)
class Span:
    """What the clock of a step can hold, in seconds from the press that pours.

    Parameters
    ----------
    handling_seconds
        Filling and draining together; a step lasts longer.
    longest_seconds
        No step lasts longer than this.
    """

    handling_seconds: float
    longest_seconds: float

    def holds(self, seconds: float) -> bool:
        """Whether a step may last so long."""
        return self.handling_seconds < seconds <= self.longest_seconds

    def refused(self, seconds: float) -> str | None:
        """Why a step cannot last so long, in one sentence; None if it can."""
        if self.holds(seconds):
            return None
        if seconds > self.longest_seconds:
            longest = clock_text(self.longest_seconds)
            return f"{clock_text(seconds)} is longer than a step may be, which is {longest}"
        handling = clock_text(self.handling_seconds)
        return f"{clock_text(seconds)} is too short: filling and draining take {handling}"


def short_warning(seconds: float, least: float = SHORT_SECONDS) -> tuple[Warned, ...]:
    """The warning of a time under ``least``, if it is one."""
    if seconds >= least:
        return ()
    text = (
        f"{clock_text(seconds)} is under {clock_text(least)}: "
        "pouring takes a large share of it and the film may come out uneven"
    )
    return (Warned(Caution.SHORT, text),)


def time_at(law: Law, celsius: float, limits: Limits) -> Timed | Refused:
    """Developing time at a steady temperature, or the reason why there is none.

    Parameters
    ----------
    law
        A ``TimeTable``, ``Q10`` or ``Arrhenius``.
    celsius
        Temperature of the developer.
    limits
        What the sheet and the teacher allow.
    """
    if not limits.lowest_celsius <= celsius <= limits.highest_celsius:
        return Refused(
            f"{celsius:.1f} degC is outside the useful range "
            f"{limits.lowest_celsius:.1f} to {limits.highest_celsius:.1f} degC of this sheet"
        )
    outside = law.reaches(celsius)
    if outside > limits.outside_celsius:
        return Refused(
            f"{celsius:.1f} degC is {outside:.1f} degrees outside the table of {law.source}; "
            "the teacher may allow it on the sheet"
        )
    seconds = law.seconds_at(celsius)
    low, high = law.bounds_at(celsius)
    warnings = short_warning(seconds, limits.short_seconds)
    if outside > 0:
        text = f"{outside:.1f} degrees outside the table of {law.source}, as the teacher allowed"
        warnings = (*warnings, Warned(Caution.OUTSIDE, text))
    return Timed(seconds, low, high, warnings, law.source)
