"""When to start developing so that film hangs before the bell, and what may be left half-way."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from wetside.development.bells import Bells
from wetside.development.figures import FIX_MOST_SECONDS
from wetside.development.normal import TO_95_PERCENT
from wetside.outlook import Quantiles
from wetside.units import clock_text

#: Weight of what is assumed before the log knows anything, in runs.
_PRIOR_RUNS = 4.0

#: Station and desk both learn hand-over times from so many of the latest runs that tell them:
#: about two classes, so that they follow the students who come now.
HANDOVER_RUNS = 12


@dataclass(frozen=True, slots=True)
class Timing:
    """One step of the sheet from developing on: its kind and its seconds, pouring included."""

    kind: str
    seconds: float


@dataclass(frozen=True, slots=True)
class Handover:
    """Seconds lost between two steps: mean of a run, and its spread from run to run."""

    mean_seconds: float
    sd_seconds: float


#: Before the log knows better (common practice: a student who is new to it).
NEW_STUDENTS = Handover(20.0, 10.0)


def learn(runs: Sequence[Sequence[float]], before: Handover = NEW_STUDENTS) -> Handover:
    """Hand-over times of a class from its log.

    A slow student is slow at every step, so what varies is the mean of a run; ``before`` counts
    as four runs, and fades as runs come in.

    Parameters
    ----------
    runs
        For each run the seconds between the end of a step and the start of the next.
    """
    means = [math.fsum(run) / len(run) for run in runs if run]
    count = len(means)
    if count == 0:
        return before
    weight = _PRIOR_RUNS + count
    middle = math.fsum(means) / count
    mean = (_PRIOR_RUNS * before.mean_seconds + count * middle) / weight
    scatter = math.fsum((value - middle) ** 2 for value in means)
    between = _PRIOR_RUNS * count / weight * (middle - before.mean_seconds) ** 2
    variance = (_PRIOR_RUNS * before.sd_seconds**2 + scatter + between) / weight
    return Handover(mean, math.sqrt(variance))


@dataclass(frozen=True, slots=True)
class Takes:
    """How long steps take together, seconds: likely, and late (95 %)."""

    likely: float
    late: float


def takes(steps: Sequence[Timing], handover: Handover) -> Takes:
    """Time of some steps with a hand-over after each but the last."""
    gaps = max(0, len(steps) - 1)
    likely = math.fsum(step.seconds for step in steps) + gaps * handover.mean_seconds
    return Takes(likely, likely + TO_95_PERCENT * gaps * handover.sd_seconds)


@dataclass(frozen=True, slots=True)
class Leaving:
    """Whether film may be left alone in a step, and why."""

    safe: bool
    reason: str


_LEAVING = {
    "temper": Leaving(True, "no film is wet yet"),
    "develop": Leaving(False, "development goes on"),
    "stop": Leaving(False, "film is not fixed: light and time would spoil it"),
    "fix": Leaving(False, f"no film stays over {clock_text(FIX_MOST_SECONDS.value)} in the fixer"),
    "rinse": Leaving(True, "fixed film may stand in water until after the next class"),
    "clear": Leaving(False, "pour it out and fill with water, then it may stand"),
    "wash": Leaving(True, "fixed film may stand in water until after the next class"),
    "wet": Leaving(False, "it takes a minute: hang the film"),
    "hang": Leaving(True, "film hangs until it is dry"),
}


def may_leave(kind: str) -> Leaving:
    """Whether film in this step may be left at the bell.

    Reasons are common practice, and T.O. 33B-1-1 p. 6-77 for the fixer. An unknown kind may not.
    """
    return _LEAVING.get(kind, Leaving(False, "not known to be safe"))


def rest_index(steps: Sequence[Timing]) -> int | None:
    """Index of the first step after fixing in which film may be left; None if there is none."""
    kinds = [step.kind for step in steps]
    if "fix" not in kinds:
        return None
    after = len(kinds) - kinds[::-1].index("fix")
    return next((index for index in range(after, len(kinds)) if may_leave(kinds[index]).safe), None)


@dataclass(frozen=True, slots=True)
class Deadline:
    """When to begin.

    Parameters
    ----------
    bell, hang_by
        The bell, and when film should hang.
    start_by, likely_start_by
        Latest start of developing that makes it in 95 % and in half of all runs.
    rest_start_by
        Latest start (95 %) that brings film to where it may be left at the bell.
    seconds_left
        From now to ``start_by``; below zero when it is too late.
    """

    bell: datetime
    hang_by: datetime
    start_by: datetime
    likely_start_by: datetime
    rest_start_by: datetime | None
    seconds_left: float

    @property
    def text(self) -> str:
        """One sentence, the minute rounded down; the day where it is another one."""
        now = self.start_by - timedelta(seconds=self.seconds_left)
        day = "" if self.bell.date() == now.date() else f" on {self.bell:%A}"
        return (
            f"start developing by {self.start_by:%H:%M} to hang before the bell "
            f"at {self.bell:%H:%M}{day}"
        )


def deadline(
    bells: Bells, now: datetime, steps: Sequence[Timing], handover: Handover
) -> Deadline | None:
    """Latest start for the period that is on, or the next one.

    Parameters
    ----------
    bells
        The school's table.
    now
        Wall clock of the school, without time zone.
    steps
        From developing to hanging, which takes no time; the hand-over before it does.
    handover
        From ``learn``.

    Returns
    -------
    Deadline or None
        None when the table knows no bell in the next sixty days.
    """
    bell = bells.bell_after(now)
    if bell is None:
        return None
    hang_by = bells.hang_by(bell)
    whole = takes(steps, handover)
    start_by = hang_by - timedelta(seconds=whole.late)
    rest = rest_index(steps)
    rest_start = None
    if rest is not None:
        # The step in which film rests has begun, so its hand-over counts and its time does not.
        until = takes([*steps[:rest], Timing(steps[rest].kind, 0.0)], handover)
        rest_start = hang_by - timedelta(seconds=until.late)
    return Deadline(
        bell,
        hang_by,
        start_by,
        hang_by - timedelta(seconds=whole.likely),
        rest_start,
        (start_by - now).total_seconds(),
    )


class Prospect(StrEnum):
    """How a run looks against its bell."""

    EASY = "easy"
    TIGHT = "tight"
    REST = "left half-way"
    NO = "too late"


@dataclass(frozen=True, slots=True)
class Verdict:
    """A prospect with the sentence for it."""

    prospect: Prospect
    text: str


def judge(limit: Deadline, now: datetime, ready_in: Quantiles) -> Verdict:
    """Whether a run that begins when the developer is ready will hang before the bell.

    EASY needs both late at once: the 95 % of the forecast and of the hand-overs.
    """
    if ready_in.p50 is None:
        return Verdict(Prospect.NO, f"no time is known when it is ready; {limit.text}")
    likely = now + timedelta(seconds=ready_in.p50)
    late = None if ready_in.p95 is None else now + timedelta(seconds=ready_in.p95)
    ready = f"ready about {likely:%H:%M}"
    if late is not None and late <= limit.start_by:
        return Verdict(Prospect.EASY, f"{ready}; {limit.text}")
    if likely <= limit.likely_start_by:
        return Verdict(Prospect.TIGHT, f"{ready}, which is tight; {limit.text}")
    if limit.rest_start_by is not None and likely <= limit.rest_start_by:
        return Verdict(
            Prospect.REST,
            f"{ready}: not enough to hang; started by {limit.rest_start_by:%H:%M} it can be left "
            "in water at the bell",
        )
    return Verdict(Prospect.NO, f"{ready}: too late to begin; {limit.text}")


@dataclass(frozen=True, slots=True)
class AtBell:
    """Where a run stands at the bell.

    ``kind`` is the step it is in ("hang" when done); ``leaving`` whether it may be left there.
    ``safe_at`` is when it first may be left: the bell itself, or later.
    """

    kind: str
    leaving: Leaving
    safe_at: datetime


def at_bell(
    steps: Sequence[Timing], handover: Handover, started: datetime, bell: datetime
) -> AtBell:
    """Likely state of a run at the bell.

    Parameters
    ----------
    steps
        From developing on.
    handover
        Its mean is used.
    started
        When pouring in the developer began.
    bell
        When it rings.
    """
    begins = started
    plan: list[tuple[str, datetime]] = []
    for step in steps:
        plan.append((step.kind, begins))
        begins += timedelta(seconds=step.seconds + handover.mean_seconds)
    done = begins - timedelta(seconds=handover.mean_seconds) if steps else started
    if not plan or plan[-1][0] != "hang":
        plan.append(("hang", done))
    if bell < started:
        return AtBell("temper", may_leave("temper"), bell)
    index = max(place for place, (_, when) in enumerate(plan) if when <= bell)
    kind = plan[index][0]
    leaving = may_leave(kind)
    if leaving.safe:
        return AtBell(kind, leaving, bell)
    safe_at = next(when for later, when in plan[index + 1 :] if may_leave(later).safe)
    return AtBell(kind, leaving, safe_at)
