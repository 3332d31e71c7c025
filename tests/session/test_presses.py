"""What the three buttons mean."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from wetside.session import record
from wetside.session.events import Event, Kind
from wetside.session.machine import TABLE, fold
from wetside.session.presses import Act, Button, Press, Question, meaning, overtaken
from wetside.session.run import Session, State
from wetside.session.sheet import Sheet


def _in(state: State, sheet: Sheet) -> Session:
    session = fold([record.begin(0, "01RUN", sheet)])
    before_pour = state in {State.TEMPERING, State.READY}
    return replace(session, state=state, step=0 if before_pour else 1)


@pytest.mark.parametrize(
    ("state", "button", "long"), list(itertools.product(State, Button, (False, True)))
)
def test_every_press_means_something_the_run_knows(
    state: State, button: Button, long: bool, small_sheet: Sheet
) -> None:
    """Every press in every state is an act, or an event of a person."""
    asked = meaning(_in(state, small_sheet), Press(5.0, button, long))
    kinds = {kind for row in TABLE.values() for kind in row}
    assert isinstance(asked, Act) or asked in kinds


def test_a_short_press_does_not_pour_before_the_window(small_sheet: Sheet) -> None:
    """While tempering, a short now is refused and a long one pours: nobody pours by a slip."""
    tempering = _in(State.TEMPERING, small_sheet)
    assert Act.TOO_EARLY is meaning(tempering, Press(5, Button.NOW))
    assert Kind.NOW is meaning(tempering, Press(5, Button.NOW, long=True))


def test_giving_up_takes_two_long_presses_within_ten_seconds(small_sheet: Sheet) -> None:
    """In a step that cannot wait, a long wait asks first; the second soon after gives up."""
    running = _in(State.RUNNING, small_sheet)
    press = Press(100.0, Button.WAIT, long=True)
    assert Act.ASK_ABANDON is meaning(running, press)
    assert Kind.ABANDON is meaning(running, press, Question(Act.ASK_ABANDON, 91.0))
    assert Act.ASK_ABANDON is meaning(running, press, Question(Act.ASK_ABANDON, 89.0))


def test_a_solution_on_the_film_is_ended_early_by_two_long_presses(small_sheet: Sheet) -> None:
    """The first only asks; the second within ten seconds ends the step, no other button does."""
    developing, press = _in(State.RUNNING, small_sheet), Press(100.0, Button.NOW, long=True)
    assert Act.ASK_END is meaning(developing, press)
    assert Kind.END_EARLY is meaning(developing, press, Question(Act.ASK_END, 91.0))
    assert Act.ASK_END is meaning(developing, press, Question(Act.ASK_END, 89.0))
    assert Act.ASK_END is meaning(developing, press, Question(Act.ASK_ABANDON, 95.0))
    wait = Press(100.0, Button.WAIT, long=True)
    assert Act.ASK_ABANDON is meaning(developing, wait, Question(Act.ASK_END, 95.0))


def test_water_is_ended_early_by_one_long_press(small_sheet: Sheet) -> None:
    """What may wait may also be shorter: a wash that is long enough asks nothing."""
    washing = replace(_in(State.RUNNING, small_sheet), step=4)
    assert Kind.END_EARLY is meaning(washing, Press(5, Button.NOW, long=True))


def test_a_step_of_water_is_held(small_sheet: Sheet) -> None:
    """A long wait holds a step that may wait."""
    washing = replace(_in(State.RUNNING, small_sheet), step=4)
    assert Kind.HOLD is meaning(washing, Press(5, Button.WAIT, long=True))


def test_tempering_is_held(small_sheet: Sheet) -> None:
    """A long wait holds a run whose developer is not poured yet: nothing works on film then."""
    for state in (State.TEMPERING, State.READY):
        assert Kind.HOLD is meaning(_in(state, small_sheet), Press(5, Button.WAIT, long=True))


def test_the_probe_button_never_touches_the_run(small_sheet: Sheet) -> None:
    """Whatever the state, probe moves the probe's place or the lights."""
    for state in State:
        session = _in(state, small_sheet)
        assert Act.MOVE_PROBE is meaning(session, Press(5, Button.PROBE))
        assert Act.LIGHTS is meaning(session, Press(5, Button.PROBE, long=True))


def test_a_fresh_session_begins_by_now() -> None:
    """Without a run, now begins one and wait offers another sheet."""
    assert Kind.BEGIN is meaning(Session(), Press(1, Button.NOW))
    assert Act.NEXT_SHEET is meaning(Session(), Press(1, Button.WAIT))


def test_after_an_event_kind_the_machine_accepts_it(small_sheet: Sheet) -> None:
    """What short presses ask for in hand-over is accepted by the machine."""
    session = fold(
        [
            record.begin(0, "01RUN", small_sheet),
            Event(Kind.ENTERED, 5),
            Event(Kind.NOW, 10),
            Event(Kind.FILLED, 20),
            Event(Kind.DRAIN_DUE, 180),
        ]
    )
    asked = meaning(session, Press(185, Button.NOW))
    assert isinstance(asked, Kind)
    assert asked in TABLE[session.state]


@pytest.mark.parametrize("state", [State.HOLDING, State.INTERRUPTED])
def test_a_roll_that_stands_is_given_up_by_two_long_presses_too(
    state: State, small_sheet: Sheet
) -> None:
    """No single press throws a roll away, and holding now goes on like a short press."""
    stands, press = _in(state, small_sheet), Press(100.0, Button.WAIT, long=True)
    assert Act.ASK_ABANDON is meaning(stands, press)
    assert Kind.ABANDON is meaning(stands, press, Question(Act.ASK_ABANDON, 95.0))
    short, long = (meaning(stands, Press(5, Button.NOW, held)) for held in (False, True))
    assert short is long


@pytest.mark.parametrize("state", State)
def test_a_question_is_overtaken_where_the_clock_answered_it(
    state: State, small_sheet: Sheet
) -> None:
    """Wait or pour is asked while tempering, the early end of a step while it runs."""
    session = _in(state, small_sheet)
    assert overtaken(Act.TOO_EARLY, session) is (state is not State.TEMPERING)
    for asked in (Act.ASK_END, Kind.END_EARLY):
        assert overtaken(asked, session) is (state is not State.RUNNING)
    assert not overtaken(Kind.NOW, session)


def test_water_that_is_drained_is_held_too(small_sheet: Sheet) -> None:
    """Whoever empties the wash may wait before the next step; a solution is not held."""
    press = Press(5, Button.WAIT, long=True)
    draining = _in(State.DRAINING, small_sheet)
    assert Kind.HOLD is meaning(replace(draining, step=4), press)
    assert Act.ASK_ABANDON is meaning(draining, press)
