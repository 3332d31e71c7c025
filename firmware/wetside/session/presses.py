"""What a press of one of the three buttons means, by the state of the run. Pure.

The state is the one in which the button went down: that is what the hand answered.

now    short  it happens now: begin, pour in, hung;     long  end the step early (where it
                                                              cannot wait: twice) / pour anyway
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
from wetside.session.machine import OPEN_STATES
from wetside.session.run import Session, State


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
    ASK_END = "ask-end"
    ADDRESS = "address"


@dataclass(frozen=True, slots=True)
class Question:
    """What the last press was answered with: ASK_ABANDON or ASK_END, and when, seconds."""

    act: Act
    seconds: float


#: A second long press of the same button within this time means what the first one asked.
MEANT_WITHIN_SECONDS = 10.0

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


def meaning(session: Session, press: Press, asked: Question | None = None) -> Kind | Act:
    """What this press asks for; ``asked`` is the question that stands since the last press."""
    if press.button is Button.PROBE:
        return Act.LIGHTS if press.long else Act.MOVE_PROBE
    if press.button is Button.NOW:
        wanted = (_NOW_LONG if press.long else _NOW_SHORT).get(session.state, Kind.NOW)
        spoils = wanted is Kind.END_EARLY and not _may_wait(session)
        return Act.ASK_END if spoils and not _meant(asked, Act.ASK_END, press) else wanted
    if not press.long:
        return Act.HUSH if session.state in OPEN_STATES else Act.NEXT_SHEET
    return _wait_long(session, press, asked)


def overtaken(asked: Kind | Act, session: Session) -> bool:
    """Whether what a press asked for when it went down was settled by the clock meanwhile.

    The window opened before it could be asked whether to wait for it, or a step that was to be
    ended came to its end.
    """
    if asked is Act.TOO_EARLY:
        return session.state is not State.TEMPERING
    return asked in {Act.ASK_END, Kind.END_EARLY} and session.state is not State.RUNNING


def _meant(asked: Question | None, act: Act, press: Press) -> bool:
    """Whether this press says yes to a question that was just asked."""
    return (
        asked is not None
        and asked.act is act
        and press.seconds - asked.seconds <= MEANT_WITHIN_SECONDS
    )


def _may_wait(session: Session) -> bool:
    return session.present is not None and session.present.can_wait


def _wait_long(session: Session, press: Press, asked: Question | None) -> Kind | Act:
    if session.state not in OPEN_STATES:
        return Act.ADDRESS
    if _meant(asked, Act.ASK_ABANDON, press):
        return Kind.ABANDON
    may_hold = session.state in {State.TEMPERING, State.READY} or (
        _may_wait(session)
        and session.state in {State.RUNNING, State.DRAINING, State.HANDOVER, State.LATE}
    )
    return Kind.HOLD if may_hold else Act.ASK_ABANDON
