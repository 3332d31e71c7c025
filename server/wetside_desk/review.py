"""A run as it was, read back from the journal's rows. Pure.

A run that outlived a power cut has moments of several boots, whose clocks all count from
zero. `Timeline` puts them on one axis: seconds since the run began.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from wetside.clock import Moment
from wetside.errors import RunUnreadable
from wetside.journal.schema import EventRow, Forecast
from wetside.outlook import Quantiles
from wetside.session import record
from wetside.session.events import Kind
from wetside.session.machine import OPEN_STATES
from wetside.session.run import Session
from wetside.session.summary import RunSummary, summarise

#: States of a run that has not ended, as the journal names them.
OPEN_WORDS = frozenset(str(state) for state in OPEN_STATES)


@dataclass(frozen=True, slots=True)
class Timeline:
    """Where each boot's clock stood when the run began; ``zero[boot]`` may be negative.

    ``certain`` is False when nobody knows how long the power was gone: the station then went
    on from the shortest gap possible, and so does this axis.
    """

    zero: dict[str, float]
    certain: bool = True

    def seconds(self, moment: Moment) -> float | None:
        """Seconds since the run began, None for a boot the run knows nothing of."""
        zero = self.zero.get(moment.boot)
        return None if zero is None else moment.seconds - zero


def timeline(began: Moment, events: Sequence[EventRow]) -> Timeline:
    """Lay every boot that the events of a run name on one axis, from the press that began it."""
    zero = {began.boot: _pressed(began, events)}
    certain = True
    last = began
    for event in events:
        moment = event.moment
        if moment.boot not in zero:
            shift = event.detail.get("shift_seconds") if event.kind == Kind.POWER_LOST else None
            if isinstance(shift, int | float):
                zero[moment.boot] = zero[last.boot] + float(shift)
                certain = certain and event.detail.get("gap_seconds") is not None
            elif last.trusted and moment.trusted:
                gap = max(moment.wall_seconds - last.wall_seconds, 0.0)
                zero[moment.boot] = moment.seconds - (last.seconds - zero[last.boot]) - gap
            else:
                zero[moment.boot] = moment.seconds - (last.seconds - zero[last.boot])
                certain = False
        last = moment
    return Timeline(zero, certain)


def _pressed(began: Moment, events: Sequence[EventRow]) -> float:
    """When the run was begun on its first boot's clock: its row is written a little later."""
    first = events[0] if events else None
    at = first.detail.get("at") if first and first.kind == Kind.BEGIN else None
    return float(at) if isinstance(at, int | float) else began.seconds


@dataclass(frozen=True, slots=True)
class Promise:
    """What was forecast at one moment, in seconds since the run began.

    ``ready`` and ``leaves`` are moments, not durations; None members lie beyond the horizon.
    """

    after_seconds: float
    ready: Quantiles
    leaves: Quantiles
    never: float
    developer_celsius: float | None
    developer_sd: float | None
    bath_celsius: float | None
    bath_sd: float | None


@dataclass(frozen=True, slots=True)
class Check:
    """A forecast held against what happened, at a share of the wait.

    ``late_seconds`` is how much later than the median it happened (below zero: earlier);
    ``held`` says whether it happened inside the 5-95 % interval.
    """

    share: float
    after_seconds: float
    promised_seconds: float | None
    late_seconds: float | None
    held: bool


@dataclass(frozen=True, slots=True)
class Review:
    """Everything about a run that follows from its rows alone.

    ``unread`` is why the rows could not be told again, empty where they could.
    """

    session: Session
    summary: RunSummary | None
    line: Timeline
    events: tuple[EventRow, ...]
    entered_after_seconds: float | None
    left_after_seconds: float | None
    poured_after_seconds: float | None
    unread: str = ""

    def after(self, event: EventRow) -> float | None:
        """When an event happened, in seconds since the run began."""
        at = event.detail.get("at")
        if isinstance(at, int | float) and event.moment.boot in self.line.zero:
            return float(at) - self.line.zero[event.moment.boot]
        return self.line.seconds(event.moment)


def review(began: Moment, rows: Sequence[EventRow]) -> Review:
    """Fold the rows of one run into its review; one of another version has no steps in it."""
    session, unread = Session(), ""
    try:
        session = record.rebuild((row.kind, row.detail) for row in rows)
    except RunUnreadable as error:
        unread = str(error)
    line = timeline(began, rows)
    bare = Review(session, summarise(session), line, tuple(rows), None, None, None)

    def first(*kinds: Kind, since: float = 0.0) -> float | None:
        for row in rows:
            after = bare.after(row)
            if row.kind in kinds and after is not None and after >= since:
                return after
        return None

    entered = first(Kind.ENTERED)
    return Review(
        session=session,
        summary=bare.summary,
        line=line,
        events=bare.events,
        entered_after_seconds=entered,
        left_after_seconds=None
        if entered is None
        else first(Kind.LEFT, Kind.UNWATCHED, since=entered),
        poured_after_seconds=first(Kind.NOW),
        unread=unread,
    )


def promises(forecasts: Iterable[Forecast], line: Timeline) -> list[Promise]:
    """The forecasts of a run on its own axis, in time order."""
    made = []
    for forecast in forecasts:
        after = line.seconds(forecast.moment)
        if after is None:
            continue
        outlook = forecast.outlook
        made.append(
            Promise(
                after_seconds=after,
                ready=_moved(outlook.ready_in, after),
                leaves=_moved(outlook.leaves_in, after),
                never=outlook.never,
                developer_celsius=outlook.developer.celsius if outlook.developer else None,
                developer_sd=outlook.developer.sd if outlook.developer else None,
                bath_celsius=outlook.bath.celsius if outlook.bath else None,
                bath_sd=outlook.bath.sd if outlook.bath else None,
            )
        )
    return sorted(made, key=lambda promise: promise.after_seconds)


def _moved(quantiles: Quantiles, by: float) -> Quantiles:
    def moved(value: float | None) -> float | None:
        return None if value is None else value + by

    return Quantiles(moved(quantiles.p05), moved(quantiles.p50), moved(quantiles.p95))


def checks(made: Sequence[Promise], happened: float | None) -> list[Check]:
    """Hold forecasts made after each quarter of the wait against what happened.

    ``happened`` is when the developer entered the window; without it there is nothing to
    hold a forecast against, and the list is empty.
    """
    if happened is None or happened <= 0:
        return []
    held = []
    for share in (0.25, 0.5, 0.75):
        before = [promise for promise in made if promise.after_seconds <= share * happened]
        if not before:
            continue
        promise = before[-1]
        p50 = promise.ready.p50
        held.append(
            Check(
                share=share,
                after_seconds=promise.after_seconds,
                promised_seconds=p50,
                late_seconds=None if p50 is None else happened - p50,
                held=(
                    promise.ready.p05 is not None
                    and promise.ready.p05 <= happened
                    and (promise.ready.p95 is None or happened <= promise.ready.p95)
                ),
            )
        )
    return held
