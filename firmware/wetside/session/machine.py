"""The state machine of a run: one tank through one sheet.

Rules
-----
* A session is a value. ``receive(session, event)`` gives the next session and the cues that
  the student should get; it asks no clock and touches no part. Folding ``receive`` over the
  journal's events gives the same session again, which is how a run survives a power cut.
* ``TABLE`` is the whole machine: a row for each state, an entry for each event it accepts.
  What is not in the table is refused: the session stays as it was, and a person who caused
  the event is told why.
* The clock of a step starts at the press when pouring in begins, and its planned end
  includes the draining. A step's actual end is the press when the next one is poured in:
  until then its solution still works on the film. Late presses are kept as they happened.
* Events of the clock (agitate, drain ...) come from ``due``: the present step's schedule,
  walked by a cursor, so none is skipped and none comes twice, however late it is asked for.
  Only one that the state refuses is passed over: asked for again and again it would never end.
* Going on with a run that was READY asks again: nothing was watched meanwhile. The station says
  so in the event (``unwatched``); without the word, as in older journals, it is READY at once.
* A press counts from when it went down. What the clock brought between that and its end stands;
  NOW says with ``in_window`` which state it was an answer to. Without it, as in older journals,
  it is the present one.
* Only water may wait: HOLD is refused in a step whose sheet does not say ``can_wait``.
* A developer poured outside the window brings its own time: ``develop_seconds`` of NOW. While
  it develops the end may be moved (END_MOVED), but only so that whatever was said of the step
  stays as it was said; else the move is ignored.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from enum import Enum, auto

from wetside.session import developing, schedule
from wetside.session.events import Event, Kind
from wetside.session.outage import outage_of
from wetside.session.run import Session, State, StepRecord
from wetside.session.sheet import Sheet, StepKind
from wetside.session.signals import Cue, CueName
from wetside.session.telling import cues_of, no_entry, refusal

__all__ = [
    "HUMAN",
    "OPEN_STATES",
    "TABLE",
    "Turn",
    "due",
    "fold",
    "next_due",
    "receive",
]


class Turn(Enum):
    """Targets that depend on where the run came from or stands."""

    STAY = auto()  # the same state, with its cue
    NEXT = auto()  # the next step is poured in; after the last, the run is finished
    BACK = auto()  # the state before HOLDING or INTERRUPTED


_OPEN: Mapping[Kind, State | Turn] = {
    Kind.ABANDON: State.ABANDONED,
    Kind.POWER_LOST: State.INTERRUPTED,
}
_START = {Kind.BEGIN: State.TEMPERING}
#: States that the run may be in when it is known what the develop step amounted to.
_AFTER = {Kind.DEVELOPED: Turn.STAY, **_OPEN}

TABLE: Mapping[State, Mapping[Kind, State | Turn]] = {
    State.IDLE: _START,
    State.TEMPERING: {
        Kind.SOON: Turn.STAY,
        Kind.NEVER: Turn.STAY,
        Kind.CHECK_DIP: Turn.STAY,
        Kind.ENTERED: State.READY,
        Kind.NOW: Turn.NEXT,
        Kind.HOLD: State.HOLDING,
        **_OPEN,
    },
    State.READY: {
        Kind.CLOSING: Turn.STAY,
        Kind.LEFT: State.TEMPERING,
        Kind.UNWATCHED: State.TEMPERING,
        Kind.NOW: Turn.NEXT,
        Kind.HOLD: State.HOLDING,
        **_OPEN,
    },
    State.POURING: {Kind.FILLED: State.RUNNING, **_AFTER},
    State.RUNNING: {
        Kind.AGITATE: Turn.STAY,
        Kind.REST: Turn.STAY,
        Kind.PREPARE: Turn.STAY,
        Kind.DRAIN_DUE: State.DRAINING,
        Kind.END_EARLY: State.HANDOVER,
        Kind.HOLD: State.HOLDING,
        Kind.END_MOVED: Turn.STAY,
        **_AFTER,
    },
    State.DRAINING: {
        Kind.END_DUE: State.HANDOVER,
        Kind.NOW: Turn.NEXT,
        Kind.HOLD: State.HOLDING,
        **_AFTER,
    },
    State.HANDOVER: {
        Kind.LATE_DUE: State.LATE,
        Kind.NOW: Turn.NEXT,
        Kind.HOLD: State.HOLDING,
        **_AFTER,
    },
    State.LATE: {Kind.NOW: Turn.NEXT, Kind.HOLD: State.HOLDING, **_AFTER},
    State.HOLDING: {Kind.RESUME: Turn.BACK, **_AFTER},
    State.INTERRUPTED: {
        Kind.CONTINUE: Turn.BACK,
        Kind.POWER_LOST: Turn.STAY,
        Kind.ABANDON: State.ABANDONED,
    },
    State.FINISHED: _START,
    State.ABANDONED: _START,
}

#: States in which a run is open: something at the sink still needs somebody.
OPEN_STATES = frozenset(state for state, row in TABLE.items() if Kind.ABANDON in row)

#: States in which the schedule of the present step is walked.
_TIMED = frozenset({State.POURING, State.RUNNING, State.DRAINING, State.HANDOVER})

#: Events that people cause; refusing one is told, refusing the others is not.
HUMAN = frozenset(
    {Kind.BEGIN, Kind.NOW, Kind.END_EARLY, Kind.HOLD, Kind.RESUME, Kind.ABANDON, Kind.CONTINUE}
)


def receive(session: Session, event: Event) -> tuple[Session, tuple[Cue, ...]]:
    """The session after an event, and the cues it gives, in order.

    A refused event leaves the session as it was; if a person caused it, the cue REFUSED
    carries the reason in ``values["reason"]``.
    """
    target = TABLE[session.state].get(event.kind)
    reason = refusal(session, event) if target is not None else no_entry(session, event)
    if target is None or reason is not None:
        if event.kind in HUMAN:
            return session, (Cue(CueName.REFUSED, event.seconds, {"reason": reason or ""}),)
        return session, ()
    after = _walk(session, event, target)
    if after is session and event.kind in developing.CHANGES:
        return session, ()  # it changes nothing, so nothing is said of it
    return after, cues_of(session, after, event)


def fold(events: Iterable[Event], session: Session | None = None) -> Session:
    """The session that these events lead to, cues dropped."""
    session = session or Session()
    for event in events:
        session, _ = receive(session, event)
    return session


def due(session: Session, now: float) -> Event | None:
    """The next event of the clock that is due at ``now``, or None.

    Its ``seconds`` is the moment it was due, which may lie before ``now``. Receive it and
    ask again until there is none.
    """
    coming = _coming(session)
    return None if coming is None or coming.seconds > now else coming


def next_due(session: Session) -> float | None:
    """When the clock next has something to say, monotonic seconds; None when it has not."""
    coming = _coming(session)
    return None if coming is None else coming.seconds


def _coming(session: Session) -> Event | None:
    """The next event of the clock that the state accepts."""
    if session.state not in _TIMED or session.began is None:
        return None
    entry = next(
        (one for one in _entries(session)[session.cursor :] if one.kind in TABLE[session.state]),
        None,
    )
    if entry is None:
        return None
    at = session.began + entry.offset_seconds
    if entry.kind is Kind.LATE_DUE and session.went_on is not None and session.present is not None:
        at = max(at, session.went_on + session.present.grace_seconds)  # waiting was allowed
    return Event(entry.kind, at)


def _entries(session: Session) -> tuple[schedule.Entry, ...]:
    step = session.present
    return schedule.of_step(step) if step is not None else ()


def _walk(session: Session, event: Event, target: State | Turn) -> Session:
    if event.kind is Kind.BEGIN:
        return _begin(event)
    if event.kind is Kind.POWER_LOST:
        return _interrupt(session, event)
    if target is Turn.NEXT:
        return _next_step(session, event)
    if target is Turn.BACK:
        return _go_on(session, event)
    if event.kind in developing.CHANGES:
        return developing.CHANGES[event.kind](session, event)
    after = session
    if event.kind in schedule.KINDS:
        # the cursor moves over what was received, also when it was asked for late
        after = replace(after, cursor=_past(session, event.kind))
        after = replace(after, agitating=_agitating(session, event.kind))
    if event.kind is Kind.HOLD:
        after = replace(after, before=session.state, flags=developing.flagged(after, "held"))
    if event.kind in {Kind.ENTERED, Kind.LEFT, Kind.UNWATCHED}:
        entered = event.seconds if event.kind is Kind.ENTERED else None
        after = replace(after, window_entered=entered)
    if event.kind is Kind.END_EARLY:
        after = _end_early(after)
    if event.kind is Kind.LATE_DUE and session.present is not None:
        after = replace(after, flags=developing.flagged(after, f"late-{session.present.kind}"))
    if event.kind is Kind.ABANDON:
        after = replace(_close_step(after, event.seconds), before=None)
    return after if target is Turn.STAY else replace(after, state=_state(target))


def _go_on(session: Session, event: Event) -> Session:
    """The session back where it was held or lost power; READY only if it was watched."""
    assert session.before is not None  # noqa: S101  # set by the way in
    waits = session.present is not None and session.present.can_wait
    after = replace(
        session,
        state=session.before,
        before=None,
        gap_text=None,
        outage=None,
        went_on=event.seconds if waits else None,
    )
    if after.state is State.READY and event.detail.get("unwatched") is True:
        return replace(after, state=State.TEMPERING, window_entered=None)
    return after


def _past(session: Session, kind: Kind) -> int:
    """The cursor behind this event of the clock, and behind what was passed over before it."""
    entries = _entries(session)
    places = range(session.cursor, len(entries))
    place = next((place for place in places if entries[place].kind is kind), session.cursor)
    return place + 1


def _state(target: State | Turn) -> State:
    assert isinstance(target, State)  # noqa: S101  # the other turns were taken before
    return target


def _agitating(session: Session, kind: Kind) -> bool:
    if kind is Kind.AGITATE:
        return True
    if kind in {Kind.REST, Kind.DRAIN_DUE, Kind.END_DUE}:
        return False
    return session.agitating


def _begin(event: Event) -> Session:
    sheet = Sheet.model_validate(event.detail["sheet"])
    return Session(
        state=State.TEMPERING,
        run=str(event.detail["run"]),
        sheet=sheet,
        steps=(StepRecord(StepKind.TEMPER, None, event.seconds),),
    )


def _interrupt(session: Session, event: Event) -> Session:
    shift = event.detail.get("shift_seconds")
    gap, outage = event.detail.get("gap"), outage_of(event)
    if session.outage is not None and outage is not None:
        # lost again before anybody answered
        outage = outage.with_earlier(session.outage)
        gap = outage.text
    after = replace(
        _shifted(session, float(shift)) if isinstance(shift, int | float) else session,
        gap_text=str(gap) if gap is not None else None,
        outage=outage,
        flags=developing.flagged(session, "power-lost"),
    )
    if session.state is State.INTERRUPTED:
        return after
    return replace(after, state=State.INTERRUPTED, before=session.before or session.state)


def _shifted(session: Session, seconds: float) -> Session:
    """The session with every time moved by ``seconds``: a new boot counts from zero."""

    def moved(at: float | None) -> float | None:
        return None if at is None else at + seconds

    return replace(
        session,
        window_entered=moved(session.window_entered),
        went_on=moved(session.went_on),
        steps=tuple(
            replace(record, began=record.began + seconds, ended=moved(record.ended))
            for record in session.steps
        ),
    )


def _next_step(session: Session, event: Event) -> Session:
    following = session.following
    assert following is not None  # noqa: S101  # every sheet ends with hang, which ends the run
    closed = _close_step(session, event.seconds)
    if session.state in {State.TEMPERING, State.READY}:
        closed = developing.poured(closed, event)
    seconds = developing.seconds_of(following, event)
    record = StepRecord(following.kind, seconds, event.seconds)
    after = replace(
        closed,
        state=State.POURING,
        step=session.step + 1,
        cursor=0,
        went_on=None,
        agitating=False,
        steps=(*closed.steps, record),
    )
    if following.kind is StepKind.HANG:
        return replace(_close_step(after, event.seconds), state=State.FINISHED)
    return after


def _close_step(session: Session, seconds: float) -> Session:
    if not session.steps or session.steps[-1].ended is not None:
        return session
    return replace(session, steps=(*session.steps[:-1], replace(session.steps[-1], ended=seconds)))


def _end_early(session: Session) -> Session:
    entries = _entries(session)
    cursor = next(index for index, entry in enumerate(entries) if entry.kind is Kind.LATE_DUE)
    name = session.present.kind if session.present else ""
    return replace(
        session,
        cursor=cursor,
        agitating=False,
        flags=developing.flagged(session, f"ended-early-{name}"),
    )
