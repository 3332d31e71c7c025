"""What is known about the time between the last journaled moment and now. Pure.

A process that was killed leaves no doubt: the monotonic clock of the boot went on. A power
cut stops that clock. Then only the wall clock can say how long it was dark, and only where it
is to be trusted at both ends; else there is a lower bound, the time since this boot began, and
no upper one.
"""

from __future__ import annotations

from dataclasses import dataclass

from wetside.clock import Moment
from wetside.units import clock_text

#: What two readings of a synchronised clock, or of a clock chip, may be wrong by ...
WALL_ERROR_SECONDS = 2.0
#: ... and how fast a clock chip may drift meanwhile:
#: 20 parts per million, the usual grade of a 32 kHz watch crystal (common practice).
DRIFT = 20e-6


@dataclass(frozen=True, slots=True)
class Gap:
    """Seconds between two moments, as well as they are known.

    ``seconds`` is None where only bounds are known. ``at_least`` and ``at_most`` are bounds,
    ``at_most`` None = unknown. ``same_boot`` is True where the power was never off.
    """

    same_boot: bool
    seconds: float | None
    at_least: float
    at_most: float | None
    text: str


def between(last: Moment, now: Moment) -> Gap:
    """The gap from the last journaled moment to now."""
    if last.boot == now.boot:
        seconds = max(0.0, now.seconds - last.seconds)
        return Gap(True, seconds, seconds, seconds, f"Stopped for {clock_text(seconds)}.")
    since_boot = max(0.0, now.seconds)
    if last.trusted and now.trusted:
        seconds = now.wall_seconds - last.wall_seconds
        error = WALL_ERROR_SECONDS + DRIFT * max(0.0, seconds)
        if seconds + error >= since_boot:
            seconds = max(seconds, since_boot)
            return Gap(
                same_boot=False,
                seconds=seconds,
                at_least=max(since_boot, seconds - error),
                at_most=seconds + error,
                text=f"Power was off. {clock_text(seconds)} passed, give or take {error:.0f} s.",
            )
        why = "the clock went backwards"
    elif now.trusted:
        why = "the clock was not set before the cut"
    else:
        why = "the clock is not set"
    return Gap(
        same_boot=False,
        seconds=None,
        at_least=since_boot,
        at_most=None,
        text=f"Power was off. At least {clock_text(since_boot)} passed, maybe much more: {why}.",
    )
