"""What a run says of an event: its cues with their values, and why a person was refused."""

from __future__ import annotations

from collections.abc import Mapping

from wetside.session.events import Event, Kind
from wetside.session.run import Session, State
from wetside.session.sheet import Step, StepKind
from wetside.session.signals import Cue, CueName
from wetside.units import clock_text

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
    Kind.END_MOVED: CueName.END_MOVED,
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
    Kind.UNWATCHED: CueName.CHECK_DIP_ADVISED,
}

#: What a state goes on asking for until somebody answers: said again at the catalogue's pace.
STANDING: Mapping[State, CueName] = {
    State.READY: CueName.READY,
    State.HANDOVER: CueName.NEXT_NOW,
    State.LATE: CueName.LATE,
    State.HOLDING: CueName.HELD,
    State.INTERRUPTED: CueName.INTERRUPTED,
}


def cues_of(before: Session, after: Session, event: Event) -> tuple[Cue, ...]:
    """The cues that an accepted event gives, in order."""
    if event.kind is Kind.NOW:
        name = CueName.FINISHED if after.state is State.FINISHED else CueName.POUR_BEGUN
    elif event.kind in _PLAIN_CUES:
        name = _PLAIN_CUES[event.kind]
    else:
        return ()
    values = cue_values(before, after)
    if event.kind is Kind.NEVER:
        told = event.detail.get("advice")
        values["advice"] = told if isinstance(told, str) else "warm or cool the bath"
    if event.kind is Kind.END_MOVED:
        values |= _moved(before, after)
    return (Cue(name, event.seconds, values),)


def _moved(before: Session, after: Session) -> dict[str, str]:
    """By how much the end of the present step was moved, and where to."""
    old, new = (one.present.seconds or 0.0 if one.present else 0.0 for one in (before, after))
    sense = "longer" if new > old else "shorter"
    return {"change": f"{clock_text(abs(new - old))} {sense}", "total": clock_text(new)}


def cue_values(before: Session, after: Session) -> dict[str, str]:
    """The words that every cue's text may use: step, next, press, solution, prepare, gap."""
    step, following = after.present, after.following
    values = {
        "step": str(step.kind) if step else "",
        "solution": (step.solution or str(step.kind)) if step else "",
        "next": (following.solution or str(following.kind)) if following else "",
        "press": pressed_when(following),
        "prepare": (step.prepare or "") if step else "",
    }
    if gap := after.gap_text or before.gap_text:  # whoever goes on is told once more
        values["gap"] = gap
    return values


def pressed_when(following: Step | None) -> str:
    """When the button is pressed for the step that comes next: film that hangs is not poured."""
    hangs = following is not None and following.kind is StepKind.HANG
    return "press when it hangs" if hangs else "press as you pour"


def no_entry(session: Session, event: Event) -> str:
    """Why this event is not in the present state's row; empty for events of no person."""
    return {
        Kind.BEGIN: "a run is open",
        Kind.NOW: "hold now to end early" if session.state is State.RUNNING else "not now",
        Kind.HOLD: "this cannot wait",
        Kind.END_EARLY: "nothing to end",
        Kind.RESUME: "nothing is held",
        Kind.CONTINUE: "nothing to go on",
        Kind.ABANDON: "no run is open",
    }.get(event.kind, "")


def refusal(session: Session, event: Event) -> str | None:
    """Why an event that the row accepts is refused all the same, or None."""
    if event.kind is Kind.HOLD and session.state not in {State.TEMPERING, State.READY}:
        step = session.present
        if step is not None and not step.can_wait:
            return f"{step.kind} cannot wait"
    return None
