"""A press is an answer to what stood when it went down, and a double press is one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sinks.rolls import Roll

from wetside.session import record
from wetside.session.presses import Button, Press
from wetside.session.run import State
from wetside.session.sheet import Sheet, StepKind
from wetside.session.signals import CueName
from wetside.sim.situation import Situation

#: A sink that is ready after a minute.
QUICK = Situation(developer_celsius=20.5, bath_celsius=18.0)


@pytest.fixture
def roll(tmp_path: Path, small_sheet: Sheet) -> Iterator[Roll]:
    """A sink on virtual time, whose student goes away where a test says so."""
    one = Roll(tmp_path, small_sheet, situation=QUICK)
    yield one
    one.close()


def _state(one: Roll) -> State:
    return one.rig.station.session.state


def _step(one: Roll) -> StepKind | None:
    present = one.rig.station.session.present
    return None if present is None else present.kind


def _to(one: Roll, kind: StepKind, state: State) -> float:
    """Go on to this state of a step, where nobody answers any more; when it began."""
    before = State.RUNNING if state is State.DRAINING else State.DRAINING
    one.rig.turn_until(lambda: (_step(one), _state(one)) == (kind, before) or one.at > 3600)
    one.rig.student.left = True
    one.turn_until(state)
    return one.cues[-1].seconds


def _to_ready(one: Roll) -> float:
    """Go on until READY, where nobody answers any more; when it came."""
    one.turn_until(State.TEMPERING)
    one.go_on(20.0)
    one.rig.student.left = True
    one.turn_until(State.READY)
    return one.cues[-1].seconds


def _press(one: Roll, monkeypatch: pytest.MonkeyPatch, *presses: Press) -> list[CueName]:
    """A turn in which these presses have just ended; what was said to them in two seconds."""
    said = len(one.cues)
    with monkeypatch.context() as patch:
        patch.setattr(one.rig.station._parts.buttons, "take", lambda: presses)
        one.rig.station.turn()
    one.go_on(2.0)
    return [cue.name for cue in one.cues[said:]]


def _kept(one: Roll) -> None:
    """The journal's events lead to the same run again."""
    one.close()
    rows = [(row.kind, row.detail) for row in one.events()]
    assert one.rig.station.session == record.rebuild(rows)


def test_a_question_that_ready_answered_pours_nothing(
    roll: Roll, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pressed a tenth of a second before READY, to ask whether to wait: READY stands."""
    ready = _to_ready(roll)
    assert [] == _press(roll, monkeypatch, Press(ready - 0.1, Button.NOW))
    assert State.READY is _state(roll)


def test_a_pour_in_the_last_moment_of_the_window_is_taken(
    roll: Roll, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pressed a tenth of a second before the window was left: it runs, and hit the window."""
    _to_ready(roll)
    roll.turn_until(State.TEMPERING)
    left = roll.cues[-1]
    assert CueName.WINDOW_LEFT is left.name
    said = _press(roll, monkeypatch, Press(left.seconds - 0.1, Button.NOW))
    session = roll.rig.station.session
    assert [CueName.POUR_BEGUN] == said
    assert (StepKind.DEVELOP, left.seconds - 0.1) == (_step(roll), session.began)
    assert (True, ()) == (session.in_window, session.flags)
    _kept(roll)
    assert True is roll.row().window_hit


@pytest.mark.parametrize("kind", [StepKind.DEVELOP, StepKind.FIX])
def test_a_hold_to_end_a_step_that_ended_meanwhile_pours_nothing(
    roll: Roll, monkeypatch: pytest.MonkeyPatch, kind: StepKind
) -> None:
    """Held from a second before it is to be drained: the order to pour out stands."""
    drain = _to(roll, kind, State.DRAINING)
    assert [] == _press(roll, monkeypatch, Press(drain - 1.1, Button.NOW, long=True))
    assert (kind, State.DRAINING) == (_step(roll), _state(roll))


def test_a_press_just_before_draining_is_refused(
    roll: Roll, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pressed a tenth of a second too early it pours nothing, and is told so."""
    drain = _to(roll, StepKind.FIX, State.DRAINING)
    assert [CueName.REFUSED] == _press(roll, monkeypatch, Press(drain - 0.1, Button.NOW))
    assert "too early" == roll.cues[-1].values["reason"]
    assert (StepKind.FIX, State.DRAINING) == (_step(roll), _state(roll))
    assert CueName.POUR_BEGUN in _press(roll, monkeypatch, Press(drain + 4.0, Button.NOW))


def test_a_wash_that_was_to_be_held_before_it_is_drained_is_held(
    roll: Roll, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Held from a second before draining it stands, and goes on to its end when told so."""
    drain = _to(roll, StepKind.WASH, State.DRAINING)
    held = Press(drain - 1.0, Button.WAIT, long=True)
    assert [CueName.HELD] == _press(roll, monkeypatch, held)
    assert State.HOLDING is _state(roll)
    roll.go_on(60.0)
    now = Press(roll.rig.clock.now(), Button.NOW)
    assert [CueName.RESUMED, CueName.NEXT_NOW] == _press(roll, monkeypatch, now)
    assert State.HANDOVER is _state(roll)
    _kept(roll)


def test_a_press_after_the_call_is_taken_though_the_station_was_busy(
    roll: Roll, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The call was due before the press, though both are seen at once."""
    roll.turn_until(State.RUNNING)
    roll.rig.student.left = True
    step, began = roll.rig.station.session.present, roll.rig.station.session.began
    assert step is not None
    assert step.seconds is not None
    assert began is not None
    due = began + step.seconds - step.drain_seconds
    roll.rig.turn_until(lambda: roll.rig.clock.now() > due - 1.0)
    roll.rig.clock.run_for(due + 0.5 - roll.rig.clock.now())
    said = _press(roll, monkeypatch, Press(due + 0.2, Button.NOW))
    assert CueName.REFUSED not in said
    assert (StepKind.STOP, due + 0.2) == (_step(roll), roll.rig.station.session.began)


@pytest.mark.parametrize("kind", [StepKind.DEVELOP, StepKind.FIX])
def test_a_second_press_of_the_same_hand_is_nothing(
    roll: Roll, monkeypatch: pytest.MonkeyPatch, kind: StepKind
) -> None:
    """Pressed twice at a hand-over, the next step is poured in and nothing else is said."""
    _to(roll, kind, State.HANDOVER)
    roll.go_on(1.0)
    now = roll.rig.clock.now()
    twice = Press(now, Button.NOW), Press(now + 0.45, Button.NOW)
    assert [CueName.POUR_BEGUN] == _press(roll, monkeypatch, *twice)
    assert State.POURING is _state(roll)


def test_two_presses_begin_one_run_and_ask_nothing(
    roll: Roll, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second press of the hand that begins is no question whether to pour."""
    roll.rig.student.left = True
    now = roll.rig.clock.now()
    twice = Press(now, Button.NOW), Press(now + 0.45, Button.NOW)
    assert [CueName.TEMPERING_BEGUN] == _press(roll, monkeypatch, *twice)
