"""Two tests of a bath at the sink: how long a film leader takes to clear, and the indicator."""

from __future__ import annotations

from dataclasses import dataclass

from wetside.development.bottles import Colour
from wetside.development.figures import CLEARING_RATIO, FIX_MOST_SECONDS, FIX_RATIO
from wetside.units import clock_text


@dataclass(frozen=True, slots=True)
class Clearing:
    """What a clearing-time test says.

    ``ratio`` is the time against fresh fixer; ``fix_seconds`` the time film should be fixed.
    """

    ratio: float
    fix_seconds: float
    discard: bool
    text: str


def judge_clearing(seconds: float, fresh_seconds: float) -> Clearing:
    """Compare a clearing time with that of the fresh bath.

    Discard at twice the fresh time, fix for twice the clearing time (US Navy NAVEDTRA 14209),
    and no film stays over 15 minutes (T.O. 33B-1-1).

    Raises
    ------
    ValueError
        A time that is not above zero.
    """
    if not (seconds > 0 and fresh_seconds > 0):
        raise ValueError("a clearing time is above zero seconds")
    ratio = seconds / fresh_seconds
    fix = FIX_RATIO.value * seconds
    discard = ratio >= CLEARING_RATIO.value or fix > FIX_MOST_SECONDS.value
    times = f"clears in {clock_text(seconds)}, fresh {clock_text(fresh_seconds)}"
    if ratio >= CLEARING_RATIO.value:
        text = f"{times}: twice as long or more, collect it and mix new"
    elif discard:
        text = f"{times}: film would stay over {clock_text(FIX_MOST_SECONDS.value)}, mix new"
    else:
        text = f"{times}: fix for {clock_text(fix)}"
    return Clearing(ratio, fix, discard, text)


@dataclass(frozen=True, slots=True)
class Indicated:
    """What the colour of an indicator says of a stop bath.

    ``discard``: it is spent. ``soon``: it will be, and a class is not to begin with it.
    """

    discard: bool
    soon: bool
    text: str


def judge_indicator(colour: Colour, *, in_bottle: bool) -> Indicated:
    """Whether a stop bath is spent by its colour, and the sentence for it.

    What comes out of a tank is not judged: dyes and developer from the film colour it.
    """
    if not in_bottle:
        says = "Judge the colour in the bottle, not what comes out of the tank."
        return Indicated(discard=False, soon=False, text=says)
    if colour is Colour.PURPLE:
        return Indicated(discard=True, soon=False, text="Purple in the bottle: spent, mix new.")
    if colour is Colour.TURNING:
        return Indicated(discard=False, soon=True, text="Turning: mix new before the next class.")
    return Indicated(discard=False, soon=False, text="Yellow: good.")
