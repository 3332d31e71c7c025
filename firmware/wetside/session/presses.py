"""What a press of one of the three buttons means, by the state of the run. Pure.

now    short  it happens now: begin, pour in, hung;     long  end the step early / pour anyway
              before the window: wait, or pour now?
probe  short  the probe moved to its next place         long  lights out, or lights on again
wait   short  be quiet / another sheet                  long  hold; if it stands, twice: give up
                                                              between runs: the desk's address
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from wetside.session.events import Kind
from wetside.session.machine import OPEN_STATES, Session, State


class Button(StrEnum):
    """The three wet-hand buttons."""

    NOW = "now"
    PROBE = "probe"
    WAIT = "wait"


@dataclass(frozen=True, slots=True)
class Press:
    """A button was pressed; ``seconds`` is when it went down, ``long`` when it was held."""

    seconds: float
    button: Button
    long: bool = False


class Act(StrEnum):
    """What a press does that is no event of the run."""

    MOVE_PROBE = "move-probe"
    LIGHTS = "lights"
    HUSH = "hush"
    NEXT_SHEET = "next-sheet"
    TOO_EARLY = "too-early"
    ASK_ABANDON = "ask-abandon"
    ADDRESS = "address"


#: A second long ``wait`` within this time gives the run up.
ABANDON_WITHIN_SECONDS = 10.0

_NOW_SHORT: Mapping[State, Kind | Act] = {
    State.TEMPERING: Act.TOO_EARLY,
    State.HOLDING: Kind.RESUME,
    State.INTERRUPTED: Kind.CONTINUE,
    State.IDLE: Kind.BEGIN,
    State.FINISHED: Kind.BEGIN,
    State.ABANDONED: Kind.BEGIN,
}

_NOW_LONG: Mapping[State, Kind | Act] = {
    **_NOW_SHORT,
    State.TEMPERING: Kind.NOW,
    State.RUNNING: Kind.END_EARLY,
}


def meaning(session: Session, press: Press, asked_abandon: float | None = None) -> Kind | Act:
    """What this press asks for.

    ``asked_abandon`` is when the last press was answered with ASK_ABANDON, if one was.
    """
    if press.button is Button.PROBE:
        return Act.LIGHTS if press.long else Act.MOVE_PROBE
    if press.button is Button.NOW:
        return (_NOW_LONG if press.long else _NOW_SHORT).get(session.state, Kind.NOW)
    if not press.long:
        return Act.HUSH if session.state in OPEN_STATES else Act.NEXT_SHEET
    return _wait_long(session, press.seconds, asked_abandon)


def _wait_long(session: Session, seconds: float, asked_abandon: float | None) -> Kind | Act:
    if session.state not in OPEN_STATES:
        return Act.ADDRESS
    if asked_abandon is not None and seconds - asked_abandon <= ABANDON_WITHIN_SECONDS:
        return Kind.ABANDON
    step = session.present
    may_hold = session.state in {State.TEMPERING, State.READY} or (
        step is not None
        and step.can_wait
        and session.state in {State.RUNNING, State.HANDOVER, State.LATE}
    )
    return Kind.HOLD if may_hold else Act.ASK_ABANDON
