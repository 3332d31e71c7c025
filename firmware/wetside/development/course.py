"""A temperature over time, with what is not known about it.

A ``Courses`` value holds the most likely course and one more for each thing that is uncertain,
moved by one standard deviation. An error that lasts through the whole step (a probe that reads
0.2 degrees high) then stays one error when times are integrated, and is not averaged away.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol


class Course(Protocol):
    """A temperature as a function of the seconds since the step began."""

    @property
    def kinks(self) -> tuple[float, ...]:
        """Seconds at which the slope jumps; integration divides there."""
        ...

    def celsius_at(self, seconds: float) -> float:
        """Temperature at one moment."""
        ...


@dataclass(frozen=True, slots=True)
class Courses:
    """The most likely course and one shifted by one standard deviation per unknown."""

    likely: Course
    shifted: tuple[Course, ...] = ()


@dataclass(frozen=True, slots=True)
class Measured:
    """Straight lines between samples (seconds, celsius); level before and after them.

    Raises
    ------
    ValueError
        No samples, times that do not rise, or a value that is no number.
    """

    samples: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if not self.samples:
            raise ValueError("a measured course needs at least one sample")
        if not all(math.isfinite(value) for sample in self.samples for value in sample):
            raise ValueError("a sample of a measured course is not a number")
        if any(later[0] <= earlier[0] for earlier, later in pairwise(self.samples)):
            raise ValueError("the samples of a measured course must rise in time")

    @property
    def kinks(self) -> tuple[float, ...]:
        """The times of the samples."""
        return tuple(seconds for seconds, _ in self.samples)

    def celsius_at(self, seconds: float) -> float:
        """Temperature on the line between the samples around this moment."""
        after = bisect_right(self.samples, seconds, key=lambda sample: sample[0])
        if after == 0:
            return self.samples[0][1]
        if after == len(self.samples):
            return self.samples[-1][1]
        (start, here), (end, there) = self.samples[after - 1], self.samples[after]
        share = (seconds - start) / (end - start)
        return here + (there - here) * share
