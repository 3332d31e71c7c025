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
* Only water may wait: HOLD is refused in a step whose sheet does not say ``can_wait``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import Enum, StrEnum, auto

from wetside.session import schedule
from wetside.session.events import Event, Kind
from wetside.session.sheet import Sheet, Step, StepKind
from wetside.session.signals import Cue, CueName


class State(StrEnum):
    """Where a run stands."""

    IDLE = "idle"
    TEMPERING = "tempering"
    READY = "ready"
    POURING = "pouring"
    RUNNING = "running"
    DRAINING = "draining"
    HANDOVER = "handover"
    LATE = "late"
    HOLDING = "holding"
    INTERRUPTED = "interrupted"
    FINISHED = "finished"
    ABANDONED = "abandoned"


class Turn(Enum):
    """Targets that depend on where the run came from or stands."""

    STAY = auto()  # the same state, with its cue
    NEXT = auto()  # the next step is poured in; after the last, the run is finished
    BACK = auto()  # the state before HOLDING or INTERRUPTED


_OPEN = {Kind.ABANDON: State.ABANDONED, Kind.POWER_LOST: State.INTERRUPTED}
_START = {Kind.BEGIN: State.TEMPERING}

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
        Kind.NOW: Turn.NEXT,
        Kind.HOLD: State.HOLDING,
        **_OPEN,
    },
    State.POURING: {Kind.FILLED: State.RUNNING, **_OPEN},
    State.RUNNING: {
        Kind.AGITATE: Turn.STAY,
        Kind.REST: Turn.STAY,
        Kind.PREPARE: Turn.STAY,
        Kind.DRAIN_DUE: State.DRAINING,
        Kind.END_EARLY: State.HANDOVER,
        Kind.HOLD: State.HOLDING,
        **_OPEN,
    },
    State.DRAINING: {Kind.END_DUE: State.HANDOVER, Kind.NOW: Turn.NEXT, **_OPEN},
    State.HANDOVER: {
        Kind.LATE_DUE: State.LATE,
        Kind.NOW: Turn.NEXT,
        Kind.HOLD: State.HOLDING,
        **_OPEN,
    },
    State.LATE: {Kind.NOW: Turn.NEXT, Kind.HOLD: State.HOLDING, **_OPEN},
    State.HOLDING: {Kind.RESUME: Turn.BACK, **_OPEN},
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


@dataclass(frozen=True, slots=True)
class StepRecord:
    """What a step was to be and what it was; times are monotonic seconds of the session.

    ``ended`` is None while the step lasts. For tempering ``planned_seconds`` is None.
    """

    kind: StepKind
    planned_seconds: float | None
    began: float
    ended: float | None = None

    @property
    def actual_seconds(self) -> float | None:
        """How long it lasted, or None while it lasts."""
        return None if self.ended is None else self.ended - self.began


@dataclass(frozen=True, slots=True)
class Session:
    """Everything about a run that decides what happens next.

    Times are monotonic seconds of the present boot: POWER_LOST shifts them.
    ``before`` is the state to go back to from HOLDING or INTERRUPTED. ``in_window`` says
    whether the developer was poured inside the window, None before it is poured.
    """

    state: State = State.IDLE
    run: str | None = None
    sheet: Sheet | None = None
    step: int = 0
    cursor: int = 0
    before: State | None = None
    window_entered: float | None = None
    in_window: bool | None = None
    poured_celsius: float | None = None
    agitating: bool = False
    steps: tuple[StepRecord, ...] = ()
    flags: tuple[str, ...] = ()
    gap_text: str | None = None

    @property
    def present(self) -> Step | None:
        """The present step of the sheet, None when idle."""
        return None if self.sheet is None else self.sheet.step[self.step]

    @property
    def following(self) -> Step | None:
        """The step after the present one, None after the last."""
        if self.sheet is None or self.step + 1 >= len(self.sheet.step):
            return None
        return self.sheet.step[self.step + 1]

    @property
    def began(self) -> float | None:
        """When the present step began."""
        return self.steps[-1].began if self.steps else None


def receive(session: Session, event: Event) -> tuple[Session, tuple[Cue, ...]]:
    """The session after an event, and the cues it gives, in order.

    A refused event leaves the session as it was; if a person caused it, the cue REFUSED
    carries the reason in ``values["reason"]``.
    """
    target = TABLE[session.state].get(event.kind)
    reason = _refusal(session, event) if target is not None else _no_entry(session, event)
    if target is None or reason is not None:
        if event.kind in HUMAN:
            return session, (Cue(CueName.REFUSED, event.seconds, {"reason": reason or ""}),)
        return session, ()
    after = _walk(session, event, target)
    return after, _cues(session, after, event)


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
    at = next_due(session)
    if at is None or at > now:
        return None
    entry = _entries(session)[session.cursor]
    return Event(entry.kind, at)


def next_due(session: Session) -> float | None:
    """When the clock next has something to say, monotonic seconds; None when it has not."""
    if session.state not in _TIMED or session.began is None:
        return None
    entries = _entries(session)
    if session.cursor >= len(entries):
        return None
    return session.began + entries[session.cursor].offset_seconds


def _entries(session: Session) -> tuple[schedule.Entry, ...]:
    step = session.present
    return schedule.of_step(step) if step is not None else ()


def _no_entry(session: Session, event: Event) -> str:
    return {
        Kind.BEGIN: "a run is open",
        Kind.NOW: "hold now to end early" if session.state is State.RUNNING else "not now",
        Kind.HOLD: "this cannot wait",
        Kind.END_EARLY: "nothing to end",
        Kind.RESUME: "nothing is held",
        Kind.CONTINUE: "nothing to go on",
        Kind.ABANDON: "no run is open",
    }.get(event.kind, "")


def _refusal(session: Session, event: Event) -> str | None:
    if event.kind is Kind.HOLD and session.state not in {State.TEMPERING, State.READY}:
        step = session.present
        if step is not None and not step.can_wait:
            return f"{step.kind} cannot wait"
    return None


def _walk(session: Session, event: Event, target: State | Turn) -> Session:
    if event.kind is Kind.BEGIN:
        return _begin(event)
    if event.kind is Kind.POWER_LOST:
        return _interrupt(session, event)
    if target is Turn.NEXT:
        return _next_step(session, event)
    if target is Turn.BACK:
        assert session.before is not None  # noqa: S101  # set by the way in
        return replace(session, state=session.before, before=None, gap_text=None)
    after = session
    if event.kind in schedule.KINDS:
        # the cursor moves over what was received, also when it was asked for late
        after = replace(after, cursor=session.cursor + 1)
        after = replace(after, agitating=_agitating(session, event.kind))
    if event.kind is Kind.HOLD:
        after = replace(after, before=session.state, flags=_flag(after, "held"))
    if event.kind is Kind.ENTERED:
        after = replace(after, window_entered=event.seconds)
    if event.kind is Kind.LEFT:
        after = replace(after, window_entered=None)
    if event.kind is Kind.END_EARLY:
        after = _end_early(after)
    if event.kind is Kind.LATE_DUE and session.present is not None:
        after = replace(after, flags=_flag(after, f"late-{session.present.kind}"))
    if event.kind is Kind.ABANDON:
        after = replace(_close_step(after, event.seconds), before=None)
    return after if target is Turn.STAY else replace(after, state=_state(target))


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
    gap = event.detail.get("gap")
    after = replace(
        _shifted(session, float(shift)) if isinstance(shift, int | float) else session,
        gap_text=str(gap) if gap is not None else None,
        flags=_flag(session, "power-lost"),
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
        inside = session.state is State.READY
        celsius = event.detail.get("developer_celsius")
        closed = replace(
            closed,
            in_window=inside,
            poured_celsius=float(celsius) if isinstance(celsius, int | float) else None,
            flags=closed.flags if inside else _flag(closed, "poured-outside-window"),
        )
    record = StepRecord(following.kind, following.seconds, event.seconds)
    after = replace(
        closed,
        state=State.POURING,
        step=session.step + 1,
        cursor=0,
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
        session, cursor=cursor, agitating=False, flags=_flag(session, f"ended-early-{name}")
    )


def _flag(session: Session, flag: str) -> tuple[str, ...]:
    return session.flags if flag in session.flags else (*session.flags, flag)


_PLAIN_CUES: Mapping[Kind, CueName] = {
    Kind.BEGIN: CueName.TEMPERING_BEGUN,
    Kind.SOON: CueName.READY_SOON,
    Kind.ENTERED: CueName.READY,
    Kind.CLOSING: CueName.WINDOW_CLOSING,
    Kind.LEFT: CueName.WINDOW_LEFT,
    Kind.NEVER: CueName.WILL_NOT_REACH,
    Kind.CHECK_DIP: CueName.CHECK_DIP_ADVISED,
    Kind.AGITATE: CueName.AGITATE,
    Kind.REST: CueName.REST,
    Kind.PREPARE: CueName.PREPARE_NEXT,
    Kind.DRAIN_DUE: CueName.DRAIN,
    Kind.END_DUE: CueName.NEXT_NOW,
    Kind.END_EARLY: CueName.NEXT_NOW,
    Kind.LATE_DUE: CueName.LATE,
    Kind.HOLD: CueName.HELD,
    Kind.RESUME: CueName.RESUMED,
    Kind.CONTINUE: CueName.RESUMED,
    Kind.ABANDON: CueName.ABANDONED,
    Kind.POWER_LOST: CueName.INTERRUPTED,
}


def _cues(before: Session, after: Session, event: Event) -> tuple[Cue, ...]:
    if event.kind is Kind.NOW:
        name = CueName.FINISHED if after.state is State.FINISHED else CueName.POUR_BEGUN
    elif event.kind in _PLAIN_CUES:
        name = _PLAIN_CUES[event.kind]
    else:
        return ()
    return (Cue(name, event.seconds, cue_values(before, after)),)


def cue_values(before: Session, after: Session) -> dict[str, str]:
    """The words a cue's text may use: step, next, solution, prepare, gap."""
    step, following = after.present, after.following
    values = {
        "step": str(step.kind) if step else "",
        "solution": (step.solution or str(step.kind)) if step else "",
        "next": (following.solution or str(following.kind)) if following else "",
        "prepare": (step.prepare or "") if step else "",
    }
    if after.gap_text:
        values["gap"] = after.gap_text
    if before.state is State.INTERRUPTED and before.gap_text:
        values["gap"] = before.gap_text
    return values
