"""How much development a step gave: its time at the nominal temperature that does the same.

The rate at a temperature, against the nominal, is the nominal time over the law's time there.
The equivalent time is the integral of the rate over the step. Where a sheet allows it, the end
of the step is moved so that the integral reaches the time wanted.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from wetside.development.course import Course, Courses
from wetside.development.law import Law
from wetside.development.normal import TO_95_PERCENT

#: Longest piece integrated at once, seconds.
_PIECE_SECONDS = 15.0

#: Gauss-Legendre points and weights for four points (Abramowitz and Stegun, table 25.4).
_GAUSS = (
    (-0.8611363115940526, 0.3478548451374538),
    (-0.3399810435848563, 0.6521451548625461),
    (0.3399810435848563, 0.6521451548625461),
    (0.8611363115940526, 0.3478548451374538),
)


@dataclass(frozen=True, slots=True)
class Effective:
    """What a step amounted to.

    ``seconds`` is the equivalent time at the nominal temperature; ``low_seconds`` and
    ``high_seconds`` hold it with 90 % probability, the temperature's uncertainty and the
    law's together. ``outside_seconds`` of the step lay outside the law's table.
    """

    seconds: float
    low_seconds: float
    high_seconds: float
    wanted_seconds: float
    outside_seconds: float

    @property
    def fraction(self) -> float:
        """Equivalent time over the time wanted; 1 is nominal."""
        return self.seconds / self.wanted_seconds

    @property
    def text(self) -> str:
        """``94 % of nominal (92-96)``."""
        low, high = (
            round(100 * bound / self.wanted_seconds)
            for bound in (self.low_seconds, self.high_seconds)
        )
        return f"{round(100 * self.fraction)} % of nominal ({low}-{high})"


@dataclass(frozen=True, slots=True)
class EndLimits:
    """How far the end of the step may move, as parts of the time wanted."""

    earliest: float
    latest: float

    def __post_init__(self) -> None:
        if not 0.0 < self.earliest <= 1.0 <= self.latest:
            raise ValueError(
                f"earliest {self.earliest:g} <= 1 <= latest {self.latest:g} does not hold"
            )


@dataclass(frozen=True, slots=True)
class End:
    """When the step should end.

    ``seconds`` since it began, within the limits; ``wished_seconds`` without them (infinite if
    it would never be reached in four times the time wanted).
    """

    seconds: float
    wished_seconds: float

    @property
    def held(self) -> bool:
        """Whether the limits keep the end from where it should be."""
        return self.seconds != self.wished_seconds


def _pieces(course: Course, end: float) -> Iterator[tuple[float, float]]:
    inner = {kink for kink in course.kinks if 0.0 < kink < end}
    for left, right in pairwise(sorted({0.0, end, *inner})):
        count = max(1, math.ceil((right - left) / _PIECE_SECONDS))
        for index in range(count):
            yield (
                left + (right - left) * index / count,
                left + (right - left) * (index + 1) / count,
            )


def _piece(law: Law, nominal: float, course: Course, left: float, right: float) -> float:
    half, middle = (right - left) / 2.0, (left + right) / 2.0
    return half * sum(
        weight * nominal / law.seconds_at(course.celsius_at(middle + half * point))
        for point, weight in _GAUSS
    )


def equivalent(law: Law, nominal_celsius: float, course: Course, seconds: float) -> float:
    """Equivalent time at the nominal temperature of the first ``seconds``."""
    nominal = law.seconds_at(nominal_celsius)
    return math.fsum(
        _piece(law, nominal, course, left, right) for left, right in _pieces(course, seconds)
    )


def _outside(law: Law, course: Course, seconds: float) -> float:
    """Time outside the law's table, looked at in the middle of each second."""
    count = max(1, round(seconds))
    width = seconds / count
    moments = ((index + 0.5) * width for index in range(count))
    return width * sum(law.reaches(course.celsius_at(moment)) > 0 for moment in moments)


def effective(
    law: Law,
    nominal_celsius: float,
    wanted_seconds: float,
    courses: Courses,
    seconds: float,
) -> Effective:
    """What a step of ``seconds`` amounts to.

    Parameters
    ----------
    law
        The sheet's law.
    nominal_celsius, wanted_seconds
        The temperature and time the sheet asks for (with its factors).
    courses
        The developer's temperature in the tank with its uncertainty.
    seconds
        Length of the step as it was.
    """
    likely = equivalent(law, nominal_celsius, courses.likely, seconds)
    sd = math.hypot(
        *(equivalent(law, nominal_celsius, course, seconds) - likely for course in courses.shifted)
    )
    others = [
        equivalent(variant, nominal_celsius, courses.likely, seconds) - likely
        for variant in law.variants(nominal_celsius)
    ]
    down, up = -min([0.0, *others]), max([0.0, *others])
    return Effective(
        seconds=likely,
        low_seconds=max(0.0, likely - math.hypot(TO_95_PERCENT * sd, down)),
        high_seconds=likely + math.hypot(TO_95_PERCENT * sd, up),
        wanted_seconds=wanted_seconds,
        outside_seconds=_outside(law, courses.likely, seconds),
    )


def seconds_to_reach(
    law: Law, nominal_celsius: float, wanted_seconds: float, course: Course, longest: float
) -> float:
    """Length of the step whose equivalent time is ``wanted_seconds``; infinite if too long."""
    nominal = law.seconds_at(nominal_celsius)
    so_far = 0.0
    for left, right in _pieces(course, longest):
        gained = _piece(law, nominal, course, left, right)
        if so_far + gained < wanted_seconds:
            so_far += gained
            continue
        low, high = left, right
        while high - low > 1e-6:
            middle = (low + high) / 2.0
            short = so_far + _piece(law, nominal, course, left, middle) < wanted_seconds
            low, high = (middle, high) if short else (low, middle)
        return (low + high) / 2.0
    return math.inf


def end_of_step(
    law: Law,
    nominal_celsius: float,
    wanted_seconds: float,
    courses: Courses,
    limits: EndLimits,
) -> End:
    """When to end the step so that it amounts to the time wanted, within limits."""
    longest = wanted_seconds * max(4.0, limits.latest)
    wished = seconds_to_reach(law, nominal_celsius, wanted_seconds, courses.likely, longest)
    held = min(max(wished, limits.earliest * wanted_seconds), limits.latest * wanted_seconds)
    return End(held, wished)
