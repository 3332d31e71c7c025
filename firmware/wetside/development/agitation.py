"""Factors on the developing time: agitation, push and pull, reuse. Each one says whose it is.

None is applied by itself. Film makers' sheets differ on what continuous agitation takes off
(up to 15 %; handbooks 10 to 20 %; both from memory), and no general rule for push and pull was
found in print, so a factor is either published for the film and developer in use or the
teacher's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from wetside.development.figures import Basis
from wetside.development.limits import Caution, Limits, Timed, short_warning


class Why(StrEnum):
    """What a factor stands for."""

    CONTINUOUS = "continuous agitation"
    PUSH = "push"
    PULL = "pull"
    REUSE = "reused developer"


_SENSE = {
    Why.CONTINUOUS: (0.5, 1.0, "shortens"),
    Why.PUSH: (1.0, 4.0, "lengthens"),
    Why.PULL: (0.25, 1.0, "shortens"),
    Why.REUSE: (1.0, 3.0, "lengthens"),
}


@dataclass(frozen=True, slots=True)
class Factor:
    """One multiplier of the developing time.

    Parameters
    ----------
    why
        What it stands for.
    times
        The multiplier: 0.85 takes 15 % off.
    basis
        Published, from memory, or the teacher's own.
    source
        The publication; may be blank only where the basis is the teacher.

    Raises
    ------
    ValueError
        No source, or a multiplier of the wrong sense (a push that shortens).
    """

    why: Why
    times: float
    basis: Basis
    source: str = ""

    def __post_init__(self) -> None:
        if self.basis is not Basis.TEACHER and not self.source.strip():
            raise ValueError(f"a {self.basis} factor for {self.why} names its source")
        low, high, sense = _SENSE[self.why]
        if not low <= self.times <= high:
            raise ValueError(
                f"{self.why} {sense} the time: its factor lies between {low:g} and {high:g}, "
                f"not {self.times:g}"
            )

    @property
    def text(self) -> str:
        """``continuous agitation x 0.85 (teacher's own)``."""
        origin = f"{self.source}, {self.basis}" if self.source.strip() else str(self.basis)
        return f"{self.why} x {self.times:g} ({origin})"


def adjusted(timed: Timed, factors: Sequence[Factor], limits: Limits) -> Timed:
    """A time with factors applied; the warning for short times is judged again.

    Raises
    ------
    ValueError
        Push and pull together, or the same factor twice.
    """
    reasons = [factor.why for factor in factors]
    if len(set(reasons)) != len(reasons):
        raise ValueError("the same factor is given twice")
    if Why.PUSH in reasons and Why.PULL in reasons:
        raise ValueError("push and pull exclude each other")
    times = 1.0
    for factor in factors:
        times *= factor.times
    kept = tuple(warned for warned in timed.warnings if warned.caution is not Caution.SHORT)
    return replace(
        timed,
        seconds=timed.seconds * times,
        low_seconds=timed.low_seconds * times,
        high_seconds=timed.high_seconds * times,
        warnings=(*short_warning(timed.seconds * times, limits.short_seconds), *kept),
        source="; ".join([timed.source, *(factor.text for factor in factors)]),
    )
