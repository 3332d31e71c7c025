"""Pour now or wait? Two ways to go on from this moment, compared.

Waiting: the developer goes in when it enters the window and is developed for the nominal time.
Pouring now: it goes in as it is and is developed for the time of the law at its temperature.
Which ends sooner is arithmetic. Which is safer is a count of doubts, each in one sentence, so
that a teacher can see why; with equal doubts waiting is safer, because it adjusts nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from wetside.development.agitation import Factor, adjusted
from wetside.development.baths import Bath, pour_doubts
from wetside.development.law import Law
from wetside.development.limits import Limits, Refused, Span, Timed, time_at
from wetside.development.normal import TO_95_PERCENT
from wetside.outlook import HORIZON_SECONDS, Outlook, Quantiles
from wetside.units import clock_text

#: A chance above this that the window never comes is a doubt about waiting.
DOUBTFUL_NEVER = 0.2

#: A window that may be shorter than this is hard to hit by hand (filling takes 10 to 20 s,
#: US Navy NAVEDTRA 14209 p. 10-24).
SHORT_WINDOW_SECONDS = 45.0

#: An adjusted time uncertain by more than this part, either way, is a doubt about pouring now.
DOUBTFUL_TIME = 0.05


class Way(StrEnum):
    """The two ways to go on; the log keeps the one that was chosen."""

    WAIT = "wait"
    POUR = "pour now"


@dataclass(frozen=True, slots=True)
class Help:
    """What can be done about the bath, and what the forecast would be then.

    ``words`` say it in one line; ``ready_in`` and ``leaves_in`` count seconds from now.
    """

    words: str
    ready_in: Quantiles
    leaves_in: Quantiles


@dataclass(frozen=True, slots=True)
class Option:
    """One way to go on, in seconds from now.

    Parameters
    ----------
    way
        Which of the two.
    pour_in
        Likely time until pouring; None if it may never come.
    develop
        Developing time with the filling; None if no time can be given.
    done_in, done_low, done_high
        End of development: likely, and 5 and 95 %; None as above or beyond the forecast.
    doubts
        Why it may go wrong, a sentence each.
    refused
        Why it cannot be chosen; None if it can.
    line
        At most 21 characters for the display.
    """

    way: Way
    pour_in: float | None
    develop: float | None
    done_in: float | None
    done_low: float | None
    done_high: float | None
    doubts: tuple[str, ...]
    refused: str | None
    line: str


@dataclass(frozen=True, slots=True)
class Choice:
    """Both ways. ``sooner`` and ``safer`` are None when neither can be chosen."""

    wait: Option
    pour: Option
    sooner: Way | None
    safer: Way | None

    @property
    def lines(self) -> tuple[str, str]:
        """The two lines of the display."""
        return self.wait.line, self.pour.line


def _short(seconds: float) -> str:
    return clock_text(seconds) if round(seconds) < HORIZON_SECONDS else f"{seconds / 60:.0f}min"


def _sum(left: float | None, right: float) -> float | None:
    return None if left is None else left + right


def _wait(
    outlook: Outlook, nominal: Timed, filling: float, steps: Sequence[str], help_: Help | None
) -> Option:
    seconds = nominal.seconds + filling
    ready, leaves, verb = outlook.ready_in, outlook.leaves_in, "WAIT"
    doubts: list[str] = []
    if ready.p50 is None and help_ is not None and help_.ready_in.p50 is not None:
        ready, leaves, verb = help_.ready_in, help_.leaves_in, "HELP"
        doubts.append(f"help first: {help_.words}")
    elif outlook.never > DOUBTFUL_NEVER:
        doubts.append(
            f"the window may never come: {100 * outlook.never:.0f} % without ice or warm water"
        )
    elif ready.p50 is not None and ready.p95 is None:
        doubts.append("the wait may be longer than an hour")
    if ready.p50 is not None and leaves.p05 is not None:
        window = leaves.p05 - ready.p50
        if window < SHORT_WINDOW_SECONDS:
            doubts.append(f"the window may last only {max(0.0, window):.0f} s")
    doubts.extend(warned.text for warned in nominal.warnings)
    doubts.extend(steps)
    refused = None
    if ready.p50 is None:
        refused = "no time can be told at which the developer enters the window"
        line = "WAIT not in an hour"
    else:
        line = f"{verb} {_short(ready.p50)} done {_short(ready.p50 + seconds)}"
    return Option(
        Way.WAIT,
        ready.p50,
        seconds,
        _sum(ready.p50, seconds),
        _sum(ready.p05, seconds),
        _sum(ready.p95, seconds),
        tuple(doubts),
        refused,
        line,
    )


def _no_pour(reason: str) -> Option:
    return Option(Way.POUR, 0.0, None, None, None, None, (), reason, "NOW  no adjusted time")


def _pour(
    outlook: Outlook,
    law: Law,
    limits: Limits,
    factors: Sequence[Factor],
    filling: float,
    baths: Sequence[Bath],
    span: Span | None,
) -> Option:
    if outlook.developer is None:
        return _no_pour("the developer's temperature is not known yet: dip the probe")
    celsius, spread = outlook.developer.celsius, TO_95_PERCENT * outlook.developer.sd
    found = time_at(law, celsius, limits)
    if isinstance(found, Refused):
        return _no_pour(found.reason)
    timed = adjusted(found, factors, limits)
    seconds = timed.seconds + filling
    # to the second, as it is told and kept
    unfit = None if span is None else span.refused(round(seconds))
    if unfit is not None:
        return _no_pour(unfit)
    scale = timed.seconds / law.seconds_at(celsius)
    shortest = scale * law.bounds_at(celsius + spread)[0]
    longest = scale * law.bounds_at(celsius - spread)[1]
    doubts = [*pour_doubts(celsius, baths), *(warned.text for warned in timed.warnings)]
    off = max(timed.seconds - shortest, longest - timed.seconds) / timed.seconds
    if off > DOUBTFUL_TIME:
        doubts.append(
            f"the adjusted time is known only to {100 * off:.0f} %: "
            f"{clock_text(shortest)} to {clock_text(longest)}"
        )
    return Option(
        Way.POUR,
        0.0,
        seconds,
        seconds,
        shortest + filling,
        longest + filling,
        tuple(doubts),
        None,
        f"NOW  pour, done {_short(seconds)}",
    )


def _sooner(options: Sequence[Option]) -> Way | None:
    ends = [(option.done_in, option.way) for option in options if option.done_in is not None]
    return min(ends, key=lambda end: end[0])[1] if ends else None


def _safer(options: Sequence[Option]) -> Way | None:
    open_ways = [option for option in options if option.refused is None]
    return min(open_ways, key=lambda option: len(option.doubts)).way if open_ways else None


def choose(
    outlook: Outlook,
    law: Law,
    limits: Limits,
    nominal_celsius: float,
    factors: Sequence[Factor] = (),
    filling_seconds: float = 0.0,
    baths: Sequence[Bath] = (),
    help_: Help | None = None,
    span: Span | None = None,
) -> Choice:
    """Compare waiting for the window with pouring now.

    Parameters
    ----------
    outlook
        The forecast at this moment.
    law, limits, factors
        The sheet's law, its limits, and the factors in force for both ways.
    nominal_celsius
        Target of the sheet.
    filling_seconds
        What the step's clock counts before the tank is full (decision 0204): added to both
        times, while a law's own time and its warnings begin with the full tank.
    baths
        What the film goes through afterwards: a developer too far off them is a doubt.
    help_
        What is advised for the bath, if anything: it counts where waiting alone leads nowhere.
    span
        What the step can hold, None for any time: an adjusted one that does not fit is refused.

    Raises
    ------
    ValueError
        The limits refuse the nominal temperature itself: the sheet contradicts itself.
    """
    found = time_at(law, nominal_celsius, limits)
    if isinstance(found, Refused):
        reason = f"the nominal temperature is refused: {found.reason}"
        raise ValueError(reason)  # noqa: TRY004  # the value is wrong, its type is an answer
    options = (
        _wait(
            outlook,
            adjusted(found, factors, limits),
            filling_seconds,
            pour_doubts(nominal_celsius, baths),
            help_,
        ),
        _pour(outlook, law, limits, factors, filling_seconds, baths, span),
    )
    return Choice(*options, _sooner(options), _safer(options))
