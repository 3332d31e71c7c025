"""After a start: was a run left open, and what is known of the time in between."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from wetside.clock import Moment
from wetside.errors import RunUnreadable
from wetside.journal import gap as gaps
from wetside.journal.gap import Gap
from wetside.journal.schema import OpenRun
from wetside.session import record
from wetside.session.events import Event, Json, Kind
from wetside.session.machine import OPEN_STATES
from wetside.session.outage import Outage
from wetside.session.run import Session, State
from wetside.station import places
from wetside.station.diary import Journal
from wetside.station.places import Told


@dataclass(frozen=True, slots=True)
class TakeUp:
    """A run to go on with.

    ``meanwhile`` is what the time in between did to the run: power was lost, or nobody watched a
    developer that was ready; None where, on the same boot, nothing of the run is unknown.
    ``told`` is where the probes were when somebody was last heard.
    """

    session: Session
    began: Moment
    meanwhile: Event | None
    told: Told = field(default_factory=Told)


def take_up(open_run: OpenRun | None, now: Moment) -> TakeUp | None:
    """What the station should take up at ``now``, or None.

    On the same boot the monotonic clock went on, so the session goes on exactly, but that a
    developer that was ready has to be seen to be so again. After a
    reboot the session's times are moved onto the new clock by what is known of the gap, and
    the run asks before it goes on.

    Raises
    ------
    RunUnreadable
        Another version's run.
    """
    if open_run is None:
        return None
    session = record.rebuild((row.kind, row.detail) for row in open_run.events)
    if session.state not in OPEN_STATES:
        return None
    gap = gaps.between(open_run.last, now)
    told = places.restored(row.detail for row in open_run.events if row.kind == "place")
    if gap.same_boot:
        ready = session.state is State.READY
        unwatched = Event(Kind.UNWATCHED, now.seconds) if ready else None
        return TakeUp(session, open_run.row.began, unwatched, told)
    known = gap.seconds if gap.seconds is not None else gap.at_least
    detail: dict[str, Json] = {
        # a moment t of the old clock is t + shift on the new one
        "shift_seconds": now.seconds - known - open_run.last.seconds,
        "gap": _short(gap),
        "gap_text": gap.text,
        "gap_seconds": gap.seconds,
        "at_least_seconds": gap.at_least,
        "at_most_seconds": gap.at_most,
    }
    power_lost = Event(Kind.POWER_LOST, now.seconds, detail)
    return TakeUp(session, open_run.row.began, power_lost, told)


def take_up_or_end(open_run: OpenRun | None, now: Moment, journal: Journal) -> TakeUp | None:
    """As `take_up`; a run that cannot go on is ended where it stood, so that others can begin."""
    if open_run is None:
        return None
    why = "its events lead to no open run"
    try:
        found = take_up(open_run, now)
    except RunUnreadable as problem:
        found, why = None, str(problem)
    if found is None:
        row = replace(open_run.row, state=str(State.ABANDONED), ended=open_run.last)
        journal.append(now, "run-unreadable", {"why": why}, row.id, row)
    return found


def _short(gap: Gap) -> str:
    """What is known of the gap, for one line of the display."""
    if gap.seconds is None:
        return Outage(gap.at_least, exact=False).text
    return Outage(gap.seconds, exact=True).text
