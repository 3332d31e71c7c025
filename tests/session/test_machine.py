"""The state machine: every (state, event) pair, and a whole roll by hand."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace

import pytest

from wetside.session import record
from wetside.session.events import Event, Json, Kind
from wetside.session.machine import HUMAN, OPEN_STATES, TABLE, Turn, due, fold, next_due, receive
from wetside.session.run import Session, State
from wetside.session.sheet import Sheet, StepKind
from wetside.session.signals import CueName


def _begin(sheet: Sheet, seconds: float = 100.0) -> Event:
    return record.begin(seconds, "01RUN", sheet)


def _way_to(state: State, sheet: Sheet) -> Session:
    """The session after the shortest way into ``state``, in the developer step where one is."""
    run = Session()
    ways: dict[State, list[Event]] = {
        State.IDLE: [],
        State.TEMPERING: [_begin(sheet)],
        State.READY: [_begin(sheet), Event(Kind.ENTERED, 200)],
        State.POURING: [_begin(sheet), Event(Kind.ENTERED, 200), Event(Kind.NOW, 210)],
    }
    ways[State.RUNNING] = [*ways[State.POURING], Event(Kind.FILLED, 220)]
    ways[State.DRAINING] = [*ways[State.RUNNING], Event(Kind.DRAIN_DUE, 380)]
    ways[State.HANDOVER] = [*ways[State.DRAINING], Event(Kind.END_DUE, 390)]
    ways[State.LATE] = [*ways[State.HANDOVER], Event(Kind.LATE_DUE, 405)]
    ways[State.HOLDING] = [*ways[State.READY], Event(Kind.HOLD, 205)]
    ways[State.INTERRUPTED] = [*ways[State.RUNNING], Event(Kind.POWER_LOST, 230)]
    ways[State.ABANDONED] = [*ways[State.RUNNING], Event(Kind.ABANDON, 230)]
    ways[State.FINISHED] = [*ways[State.DRAINING]]
    if state is not State.FINISHED:
        return fold(ways[state], run)
    run = fold(ways[State.READY])
    seconds = 210.0
    while run.state is not State.FINISHED:
        run, _ = receive(run, Event(Kind.NOW, seconds))
        seconds += 400
        while (event := due(run, seconds)) is not None and event.kind is not Kind.LATE_DUE:
            run, _ = receive(run, event)
    return run


@pytest.mark.parametrize(("state", "kind"), list(itertools.product(State, Kind)))
def test_every_pair_goes_where_the_table_says(state: State, kind: Kind, small_sheet: Sheet) -> None:
    """Each event in each state leads to the table's target, or leaves the session as it was."""
    before = _way_to(state, small_sheet)
    assert before.state is state
    event = _begin(small_sheet, 900) if kind is Kind.BEGIN else Event(kind, 900)
    after, cues = receive(before, event)
    target = TABLE[state].get(kind)
    works = {State.RUNNING, State.DRAINING, State.HANDOVER, State.LATE}
    holds_a_chemical = kind is Kind.HOLD and state in works
    if target is None or holds_a_chemical:
        assert after is before
        names = [cue.name for cue in cues]
        assert names == ([CueName.REFUSED] if kind in HUMAN else [])
    elif target is Turn.STAY:
        assert after.state is state
    elif target is Turn.BACK:
        assert after.state is before.before
    elif target is Turn.NEXT:
        assert after.state is State.POURING
        assert after.step == before.step + 1
    else:
        assert after.state is target


@pytest.mark.parametrize("kind", sorted(HUMAN))
def test_a_refused_person_is_told_why(kind: Kind, small_sheet: Sheet) -> None:
    """In every state, an event of a person that is refused comes back with a reason."""
    for state in State:
        before = _way_to(state, small_sheet)
        event = _begin(small_sheet) if kind is Kind.BEGIN else Event(kind, 900)
        after, cues = receive(before, event)
        if after is before:
            assert cues[0].values["reason"]


def test_every_state_has_a_row() -> None:
    """No state is missing in the table."""
    assert set(State) == set(TABLE)


def test_open_states_are_those_that_can_be_abandoned() -> None:
    """A run is open from BEGIN until it is finished or abandoned."""
    assert set(State) - {State.IDLE, State.FINISHED, State.ABANDONED} == OPEN_STATES


def test_a_whole_roll_gives_its_cues_in_order(small_sheet: Sheet) -> None:
    """A student who presses on time gets every cue of the sheet, each at its moment."""
    session = fold([_begin(small_sheet), Event(Kind.ENTERED, 200)])
    heard: list[tuple[float, str]] = []

    def take(event: Event) -> None:
        nonlocal session
        session, cues = receive(session, event)
        heard.extend((cue.seconds, str(cue.name)) for cue in cues)

    take(Event(Kind.NOW, 210, {"developer_celsius": 20.05}))
    while session.state is not State.FINISHED:
        at = next_due(session)
        assert at is not None
        event = due(session, at)
        assert event is not None
        take(event)
        if session.state is State.HANDOVER:
            take(Event(Kind.NOW, at + 2))
    assert heard[:11] == [
        (210.0, "pour-begun"),
        (220.0, "agitate"),
        (250.0, "rest"),
        (270.0, "agitate"),
        (275.0, "rest"),
        (330.0, "agitate"),
        (335.0, "rest"),
        (345.0, "prepare-next"),
        (380.0, "drain"),
        (390.0, "next-now"),
        (392.0, "pour-begun"),
    ]
    assert (session.in_window, session.poured_celsius) == (True, 20.05)
    developed = next(step for step in session.steps if step.kind is StepKind.DEVELOP)
    assert (developed.planned_seconds, developed.actual_seconds) == (180.0, 182.0)
    assert heard[-1][1] == "finished"


def test_a_late_press_is_kept_as_it_happened(small_sheet: Sheet) -> None:
    """A step lasts until the next is poured in, and being late is flagged, not hidden."""
    late = _way_to(State.LATE, small_sheet)
    session, _ = receive(late, Event(Kind.NOW, 450))
    developed = session.steps[1]
    assert developed.actual_seconds == 240.0
    assert session.flags == ("late-develop",)


def test_a_step_asked_for_late_gives_every_cue_once(small_sheet: Sheet) -> None:
    """However late the clock is asked, no event of a step is skipped or doubled."""
    session = _way_to(State.POURING, small_sheet)
    kinds = []
    while (event := due(session, 10_000)) is not None:
        kinds.append(event.kind)
        session, _ = receive(session, event)
    assert [
        Kind.FILLED,
        *[Kind.AGITATE, Kind.REST] * 3,
        Kind.PREPARE,
        Kind.DRAIN_DUE,
        Kind.END_DUE,
        Kind.LATE_DUE,
    ] == kinds
    assert session.state is State.LATE


def test_a_clock_event_that_the_state_refuses_is_passed_over(small_sheet: Sheet) -> None:
    """A run that drains before it was told to prepare, as a journal may have it, comes to its end.

    Its cursor stands at what its state refuses; that is not asked for again and again.
    """
    for cursor in range(10):
        session = replace(_way_to(State.DRAINING, small_sheet), cursor=cursor)
        kinds: list[Kind] = []
        while (event := due(session, 10_000)) is not None and len(kinds) < 10:
            kinds.append(event.kind)
            assert event.seconds == next_due(session)
            session, _ = receive(session, event)
        assert [Kind.END_DUE, Kind.LATE_DUE] == kinds
        assert session.state is State.LATE


def test_events_passed_over_are_not_said_twice(small_sheet: Sheet) -> None:
    """The cursor moves behind what was received, also where something before it was refused."""
    session = replace(_way_to(State.RUNNING, small_sheet), cursor=0)
    event = due(session, 10_000)
    assert event == Event(Kind.AGITATE, 220)
    session, _ = receive(session, event)
    assert due(session, 10_000) == Event(Kind.REST, 250)


def test_the_tank_is_moved_from_the_order_to_the_rest(small_sheet: Sheet) -> None:
    """Between the order to agitate and the rest the session says that the tank is moved."""
    running = _way_to(State.RUNNING, small_sheet)
    moved = fold([Event(Kind.AGITATE, 220)], running)
    still = fold([Event(Kind.REST, 250)], moved)
    assert (running.agitating, moved.agitating, still.agitating) == (False, True, False)


def test_a_tank_that_is_being_filled_is_not_moved(small_sheet: Sheet) -> None:
    """The next step begins with a tank at rest, and so does the one after continuous agitation."""
    session = _way_to(State.HANDOVER, small_sheet)
    for seconds in (392, 430):
        session, _ = receive(session, Event(Kind.NOW, seconds))
        assert (session.state, session.agitating) == (State.POURING, False)
        while session.state is not State.HANDOVER:
            event = due(session, 10_000)
            assert event is not None
            session, _ = receive(session, event)


def _held_wash(sheet: Sheet) -> Session:
    """A wash of 40 s that began at 1000 and is held from 1020 on."""
    session = fold([_begin(sheet), Event(Kind.ENTERED, 200), Event(Kind.NOW, 210)], Session())
    for _ in range(3):  # past stop and fix, into the wash
        while (event := due(session, 10_000)) is not None:
            session, _ = receive(session, event)
        session, _ = receive(session, Event(Kind.NOW, 1000))
    session, _ = receive(session, Event(Kind.FILLED, 1010))
    session, cues = receive(session, Event(Kind.HOLD, 1020))
    assert (session.state, cues[0].name) == (State.HOLDING, CueName.HELD)
    return session


def test_water_may_wait_and_its_clock_goes_on(small_sheet: Sheet) -> None:
    """A step with can_wait is held and resumed; what fell due meanwhile comes then."""
    session = _held_wash(small_sheet)
    assert next_due(session) is None
    session, _ = receive(session, Event(Kind.RESUME, 1300))
    assert (session.state, next_due(session)) == (State.RUNNING, 1050.0)


def test_a_step_that_was_allowed_to_wait_is_late_only_its_grace_after_that(
    small_sheet: Sheet,
) -> None:
    """A wash held for two hours asks for the next step, and nothing flags the two hours late."""
    session, _ = receive(_held_wash(small_sheet), Event(Kind.RESUME, 8220))
    while (event := due(session, 8220)) is not None:
        session, _ = receive(session, event)
    assert session.state is State.HANDOVER
    assert "late-wash" not in session.flags
    assert session.present is not None
    assert next_due(session) == 8220 + session.present.grace_seconds


def test_power_loss_moves_the_clock_and_asks(small_sheet: Sheet) -> None:
    """After a reboot the run asks, with every time moved onto the new boot's clock."""
    before = _way_to(State.RUNNING, small_sheet)
    gap: dict[str, Json] = {"shift_seconds": -200.0, "gap": "off for 0:45"}
    asked, cues = receive(before, Event(Kind.POWER_LOST, 60, gap))
    assert (asked.state, cues[0].name) == (State.INTERRUPTED, CueName.INTERRUPTED)
    assert cues[0].values["gap"] == "off for 0:45"
    assert next_due(asked) is None
    session, _ = receive(asked, Event(Kind.CONTINUE, 65))
    assert (session.state, session.began) == (State.RUNNING, 10.0)
    assert next_due(session) == 20.0


def test_a_second_power_loss_does_not_forget_where_it_was(small_sheet: Sheet) -> None:
    """Power lost while the question stands keeps the state to go back to."""
    asked = _way_to(State.INTERRUPTED, small_sheet)
    again, _ = receive(asked, Event(Kind.POWER_LOST, 20, {"shift_seconds": 5.0}))
    session, _ = receive(again, Event(Kind.CONTINUE, 30))
    assert State.RUNNING is session.state


def test_power_loss_while_holding_asks_and_then_holds_no_more(small_sheet: Sheet) -> None:
    """A held run that lost power goes back to what was held, not to holding."""
    held = _way_to(State.HOLDING, small_sheet)
    session = fold([Event(Kind.POWER_LOST, 20), Event(Kind.CONTINUE, 30)], held)
    assert State.READY is session.state


@pytest.mark.parametrize("stop", [Kind.HOLD, Kind.POWER_LOST])
def test_a_run_that_was_ready_and_not_watched_is_not_ready_when_it_goes_on(
    stop: Kind, small_sheet: Sheet
) -> None:
    """It tempers again until the window is seen; journals without the word fold as they did."""
    back = Kind.RESUME if stop is Kind.HOLD else Kind.CONTINUE
    stood = fold([Event(stop, 220)], _way_to(State.READY, small_sheet))
    plain, _ = receive(stood, Event(back, 500))
    assert (State.READY, 200) == (plain.state, plain.window_entered)
    anew, cues = receive(stood, Event(back, 500, {"unwatched": True}))
    assert (State.TEMPERING, None, None) == (anew.state, anew.window_entered, anew.before)
    assert [CueName.RESUMED] == [cue.name for cue in cues]
    twice = fold([Event(Kind.POWER_LOST, 300)], stood)
    anew, _ = receive(twice, Event(Kind.CONTINUE, 500, {"unwatched": True}))
    assert State.TEMPERING is anew.state


def test_only_a_ready_run_is_asked_to_look_again(small_sheet: Sheet) -> None:
    """A step that waited, or lost power, goes on where it was, whatever the press says."""
    asked = _way_to(State.INTERRUPTED, small_sheet)
    session, _ = receive(asked, Event(Kind.CONTINUE, 240, {"unwatched": True}))
    assert State.RUNNING is session.state


def test_rows_of_the_journal_rebuild_the_same_session(small_sheet: Sheet) -> None:
    """Encoding events as rows, with JSON between, and folding them gives an equal session."""
    events = [
        _begin(small_sheet, 100.125),
        Event(Kind.ENTERED, 200.0625, {"developer_celsius": 20.1}),
        Event(Kind.NOW, 210.3, {"developer_celsius": 20.2}),
        Event(Kind.FILLED, 220.3),
        Event(Kind.AGITATE, 220.3),
    ]
    rows = [(str(event.kind), json.loads(json.dumps(record.encode(event)))) for event in events]
    rows.insert(2, ("probe-condition", {"probe": "a", "condition": "fine"}))
    assert fold(events) == record.rebuild(rows)


@pytest.mark.parametrize(
    ("first", "second", "told"),
    [
        ({"gap_seconds": 600.0}, {"gap_seconds": 20.0}, "off for 10:20"),
        ({"at_least_seconds": 600.0}, {"gap_seconds": 20.0}, "off 10:20 or longer"),
        ({"gap_seconds": 600.0}, {"at_least_seconds": 20.0}, "off 10:20 or longer"),
        ({}, {"gap_seconds": 20.0}, "off again"),
    ],
)
def test_cuts_that_nobody_answered_are_told_together(
    first: dict[str, Json], second: dict[str, Json], told: str, small_sheet: Sheet
) -> None:
    """Cut again before somebody went on, the run says how long it was dark in all, then forgets."""
    session = _way_to(State.RUNNING, small_sheet)
    session, _ = receive(session, Event(Kind.POWER_LOST, 230, {"gap": "off", **first}))
    session, cues = receive(session, Event(Kind.POWER_LOST, 260, {"gap": "off again", **second}))
    assert (told, told) == (session.gap_text, cues[0].values["gap"])
    session, _ = receive(session, Event(Kind.CONTINUE, 270))
    session, cues = receive(session, Event(Kind.POWER_LOST, 280, {"gap": "off", "gap_seconds": 9}))
    assert "off" == session.gap_text
