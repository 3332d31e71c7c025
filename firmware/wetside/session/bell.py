"""What the next bell means for this station: short lines for the display, values for the desk.

Pure: the school's wall clock comes in as a ``datetime`` without zone. Whether that clock can be
trusted is the caller's to say, and so is where the table came from.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from wetside.development.bells import Bells
from wetside.development.deadline import (
    AtBell,
    Deadline,
    Handover,
    Prospect,
    Timing,
    at_bell,
    deadline,
    judge,
    may_leave,
)
from wetside.outlook import Outlook, Quantiles
from wetside.session.events import Json
from wetside.session.run import Session, State
from wetside.session.sheet import Sheet, StepKind
from wetside.units import clock_text

#: A bell further away than this is not spoken of on the display.
AHEAD = timedelta(hours=2)
#: From here on the time to the latest start is counted down.
COUNTED_SECONDS = 600.0
#: From here on it is said what may be left at the bell.
NEAR_SECONDS = 600.0

_BEFORE_POUR = frozenset({State.TEMPERING, State.READY})
_NO_RUN = frozenset({State.IDLE, State.FINISHED, State.ABANDONED})
_READY_NOW = Quantiles(0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class BellView:
    """Short lines for the display, and the live file's object."""

    lines: tuple[str, ...]
    values: dict[str, Json]


def unknown(why: str) -> BellView:
    """Nothing is said on the display; the live file says why."""
    return BellView((), {"known": False, "why": why})


def timings(sheet: Sheet) -> tuple[Timing, ...]:
    """The steps from developing to hanging.

    Hanging itself takes no time, but the hand-over before it counts: film has to hang.
    """
    return tuple(
        Timing(str(step.kind), step.seconds or 0.0)
        for step in sheet.step
        if step.kind is not StepKind.TEMPER
    )


def look(
    bells: Bells,
    now: datetime,
    handover: Handover,
    session: Session,
    offered: Sheet | None,
    outlook: Outlook | None,
    seconds: float,
) -> BellView:
    """What is to be said at this moment.

    Parameters
    ----------
    bells, now
        The school's table and its wall clock.
    handover
        Learnt hand-over times.
    session, offered
        The run, and the sheet that a press would begin.
    outlook
        The forecast, None while it does not matter.
    seconds
        Monotonic time of the session's clock at ``now``.
    """
    sheet = offered if session.state in _NO_RUN else session.sheet
    if sheet is None:
        return unknown("no sheet is there")
    under_way = session.state not in _NO_RUN | _BEFORE_POUR
    since = now - timedelta(seconds=seconds - _left_last(session, seconds)) if under_way else now
    limit = deadline(bells, since, timings(sheet), handover)
    if limit is None:
        return unknown("the table knows no bell in the next sixty days")
    values: dict[str, Json] = {
        "known": True,
        "bell": limit.bell.isoformat(timespec="minutes"),
        "hang_by": limit.hang_by.isoformat(timespec="seconds"),
        "to_bell": round((limit.bell - now).total_seconds()),
    }
    if under_way:
        said = _under_way(limit.bell, now, handover, session, seconds)
    else:
        said = _before(limit, now, session, outlook)
    lines = said.lines if limit.bell - now <= AHEAD else ()
    return BellView(lines, values | said.values)


def _before(limit: Deadline, now: datetime, session: Session, outlook: Outlook | None) -> BellView:
    rest = limit.rest_start_by
    values: dict[str, Json] = {
        "start_by": limit.start_by.isoformat(timespec="seconds"),
        "rest_start_by": None if rest is None else rest.isoformat(timespec="seconds"),
        "to_start": round(limit.seconds_left),
        "text": limit.text,
    }
    ready = _READY_NOW
    if session.state is State.TEMPERING:
        ready = outlook.ready_in if outlook else Quantiles(None, None, None)
    verdict = judge(limit, now, ready)
    values |= {"prospect": str(verdict.prospect), "verdict": verdict.text}
    bell = f"bell at {limit.bell:%H:%M}"
    if limit.seconds_left >= 0:
        lines = [f"start by {limit.start_by:%H:%M} to hang"]
        if limit.seconds_left < COUNTED_SECONDS:
            lines.append(f"{clock_text(limit.seconds_left)} left to start")
        if verdict.prospect is Prospect.TIGHT and session.state is State.TEMPERING:
            lines.append("it will be tight")
    elif rest is not None and now <= rest:
        lines = [f"begun by {rest:%H:%M} it gets", "to water, not hung"]
    else:
        lines = ["too late for this bell"]
    return BellView((*lines, bell), values)


def _left_last(session: Session, seconds: float) -> float:
    """When film of a run under way could last be left: the next bell is the one that it runs into.

    Once that has rung the film is late for it, until it comes to where it may be left.
    """
    poured = [record for record in session.steps if record.kind is not StepKind.TEMPER]
    left = (
        seconds if record.ended is None else record.ended
        for record in reversed(poured)
        if may_leave(str(record.kind)).safe
    )
    return next(left, poured[0].began if poured else seconds)


def _under_way(
    bell: datetime, now: datetime, handover: Handover, session: Session, seconds: float
) -> BellView:
    step, began = session.present, session.began
    if session.sheet is None or step is None or step.seconds is None or began is None:
        return BellView((), {})
    rest = session.sheet.step[session.step + 1 :]
    # film that is late is still in this step, and its solution still works: it ends now or later
    left = [Timing(str(step.kind), max(step.seconds, seconds - began))]
    left += [Timing(str(one.kind), one.seconds or 0.0) for one in rest]
    since = now - timedelta(seconds=seconds - began)
    stands = at_bell(left, handover, since, max(bell, now))
    values: dict[str, Json] = {
        "at_bell": stands.kind,
        "may_leave": stands.leaving.safe,
        "reason": stands.leaving.reason,
        "safe_at": stands.safe_at.isoformat(timespec="seconds"),
    }
    near = (bell - now).total_seconds() <= NEAR_SECONDS
    return BellView(_at_bell(stands, bell) if near else (), values)


def _at_bell(stands: AtBell, bell: datetime) -> tuple[str, ...]:
    when = f"bell {bell:%H:%M}"
    if stands.kind == "hang":
        return (f"{when}: it will hang",)
    if stands.leaving.safe:
        return (f"{when}: it may stand",)
    # a minute that has begun is not over
    until = stands.safe_at + timedelta(seconds=59)
    return (f"{when}: stay to {until:%H:%M}", f"{stands.kind} cannot be left")
