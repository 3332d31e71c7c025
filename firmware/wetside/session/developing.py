"""What a run takes from its events about the developer: its time, its temperature, its effect."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from wetside.session import schedule
from wetside.session.events import Event, Json, Kind
from wetside.session.run import Developed, Session, State
from wetside.session.sheet import Step, StepKind


def flagged(session: Session, flag: str) -> tuple[str, ...]:
    """The session's flags with one more, once."""
    return session.flags if flag in session.flags else (*session.flags, flag)


def seconds_of(step: Step, event: Event) -> float | None:
    """How long a step that this NOW begins is to last: its sheet's time, or the pour's own."""
    if step.kind is not StepKind.DEVELOP:
        return step.seconds
    return _usable(step, event.detail.get("develop_seconds")) or step.seconds


def _usable(step: Step, value: Json) -> float | None:
    """A time that leaves something between filling and draining; anything else is no time."""
    seconds = _number(value)
    return seconds if seconds is not None and step.span.holds(seconds) else None


def _number(value: Json) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)


def poured(session: Session, event: Event) -> Session:
    """The session with what the NOW that pours the developer says of it."""
    detail = event.detail
    told = detail.get("in_window")
    inside = told if isinstance(told, bool) else session.state is State.READY
    choice, reason = detail.get("choice"), detail.get("no_adjusted_time")
    way = choice.get("way") if isinstance(choice, dict) else None
    flags = session.flags if inside else flagged(session, "poured-outside-window")
    if isinstance(reason, str):
        flags = (*flags, "no-adjusted-time")
    return replace(
        session,
        in_window=inside,
        poured_celsius=_number(detail.get("developer_celsius")),
        poured_sd=_number(detail.get("developer_sd")),
        poured_bath_celsius=_number(detail.get("bath_celsius")),
        way=way if isinstance(way, str) else None,
        no_time_reason=reason if isinstance(reason, str) else None,
        flags=flags,
    )


def _developed(session: Session, event: Event) -> Session:
    percent, low, high = (_number(event.detail.get(key)) for key in ("percent", "low", "high"))
    develop = session.developing
    if percent is None or low is None or high is None or develop is None or develop.ended is None:
        return session
    text = str(event.detail.get("text", ""))
    return replace(session, developed=Developed(percent, low, high, text))


def _end_moved(session: Session, event: Event) -> Session:
    """The present step with another end, if all that was said of it stays as it was said."""
    step = session.present
    if step is None or step.kind is not StepKind.DEVELOP:
        return session
    seconds = _usable(step, event.detail.get("develop_seconds"))
    if seconds is None or seconds == step.seconds:
        return session
    moved = replace(
        session,
        steps=(*session.steps[:-1], replace(session.steps[-1], planned_seconds=seconds)),
        flags=flagged(session, "end-moved"),
    )
    assert moved.present is not None  # noqa: S101  # it was there above
    before, after = schedule.of_step(step), schedule.of_step(moved.present)
    said, passed = session.cursor, event.seconds - session.steps[-1].began
    if before[:said] != after[:said] or after[said].offset_seconds <= passed:
        return session
    return moved


#: Events that change what is known of the developer and leave the state as it is.
CHANGES: Mapping[Kind, Callable[[Session, Event], Session]] = {
    Kind.DEVELOPED: _developed,
    Kind.END_MOVED: _end_moved,
}
