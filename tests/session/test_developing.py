"""A developer poured before the window: its own time, an end that moves, what it amounted to."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wetside.session import record, schedule
from wetside.session import sheet as sheets
from wetside.session.events import Event, Json, Kind
from wetside.session.machine import due, fold, next_due, receive
from wetside.session.run import Session, State
from wetside.session.sheet import Sheet
from wetside.session.signals import CueName
from wetside.session.summary import summarise

ONE_REEL = next(
    sheet
    for sheet in map(sheets.load, sheets.available([sheets.shipped_folder()]))
    if sheet.name == "one reel 20"
)
POUR: dict[str, Json] = {
    "developer_celsius": 22.0,
    "developer_sd": 0.1,
    "bath_celsius": 18.0,
    "choice": {"way": "pour now"},
    "develop_seconds": 370.0,
}


def poured(sheet: Sheet = ONE_REEL, **changes: Json) -> Session:
    """A session whose developer was poured at 300 s, before the window."""
    return fold([record.begin(0.0, "01RUN", sheet), Event(Kind.NOW, 300.0, {**POUR, **changes})])


def walk(session: Session, until: float) -> tuple[Session, list[Event]]:
    """Let the clock run; the session after it, and its events."""
    events = []
    while (event := due(session, until)) is not None:
        session, _ = receive(session, event)
        events.append(event)
    return session, events


def test_the_pours_own_time_makes_the_schedule_and_the_record() -> None:
    """At 22 degC the table gives 6:00, so with 10 s of filling the tank is empty after 370 s."""
    session, events = walk(poured(), 10_000.0)
    at = {event.kind: event.seconds - 300.0 for event in events}
    # the sheet: 10 s of draining, 60 s of preparing, 10 s of grace
    assert (360.0, 370.0, 310.0, 380.0) == (
        at[Kind.DRAIN_DUE],
        at[Kind.END_DUE],
        at[Kind.PREPARE],
        at[Kind.LATE_DUE],
    )
    assert [10.0, 60.0, 120.0, 180.0, 240.0, 300.0] == [
        event.seconds - 300.0 for event in events if event.kind is Kind.AGITATE
    ]
    assert 370.0 == session.steps[1].planned_seconds
    assert session.sheet == ONE_REEL  # the run keeps the exact sheet
    assert (True, "pour now", ("poured-outside-window", "late-develop")) == (
        session.adjusted,
        session.way,
        session.flags,
    )


def test_the_steps_after_it_keep_their_own_times() -> None:
    """Only developing is adjusted."""
    session, _ = walk(poured(), 671.0)
    session, _ = receive(session, Event(Kind.NOW, 672.0))
    assert (session.steps[2].planned_seconds, session.present) == (45.0, ONE_REEL.step[2])


def test_a_pour_without_a_time_runs_the_nominal_one_and_is_flagged() -> None:
    """Outside the table the press still pours; the run says why it is not adjusted."""
    session = poured(develop_seconds=None, no_adjusted_time="27.3 degC is outside the table")
    assert (430.0, False) == (session.steps[1].planned_seconds, session.adjusted)
    assert ("poured-outside-window", "no-adjusted-time") == session.flags
    assert "27.3 degC is outside the table" == session.no_time_reason


@pytest.mark.parametrize("value", [0, 20, -5.0, 7201, True, "370", None, [370], float("nan")])
def test_a_time_that_cannot_be_is_no_time(value: Json) -> None:
    """Filling and draining take 20 s, two hours is the longest step; else the sheet's stands."""
    assert 430.0 == poured(develop_seconds=value).steps[1].planned_seconds


@pytest.mark.parametrize("value", [True, "22.0", [22.0], float("inf")])
def test_a_temperature_that_cannot_be_is_none(value: Json) -> None:
    """What is no number leaves the temperature at the pour unknown: a true is no degree."""
    assert poured(developer_celsius=value).poured_celsius is None


def test_a_time_survives_the_power_cut() -> None:
    """After a reboot the adjusted step goes on to its own end on the new clock."""
    session, _ = walk(poured(), 400.0)
    lost = Event(Kind.POWER_LOST, 60.0, {"shift_seconds": -350.0})
    session = fold([lost, Event(Kind.CONTINUE, 65.0)], session)
    _, events = walk(session, 10_000.0)
    assert -50.0 + 370.0 == next(e.seconds for e in events if e.kind is Kind.END_DUE)


def test_the_end_moves_and_says_so() -> None:
    """Half-way the end is moved by 12 s; the cue names by how much and the whole time."""
    session, _ = walk(poured(), 400.0)
    moved, cues = receive(session, Event(Kind.END_MOVED, 400.0, {"develop_seconds": 358.0}))
    assert [(CueName.END_MOVED, "0:12 shorter", "5:58")] == [
        (cue.name, cue.values["change"], cue.values["total"]) for cue in cues
    ]
    _, events = walk(moved, 10_000.0)
    assert 658.0 == next(event.seconds for event in events if event.kind is Kind.END_DUE)
    assert (358.0, "end-moved" in moved.flags) == (moved.steps[1].planned_seconds, True)


@pytest.mark.parametrize(
    ("at", "seconds"),
    [
        (615.0, 400.0),  # PREPARE was said for the old end, at 610
        (500.0, 210.0),  # the new draining would lie in the past
        (500.0, 500.0 - 300.0 + 60.0),  # PREPARE would be due at this very moment
        (500.0, 370.0),  # no change
        (500.0, 5.0),  # no time
    ],
)
def test_what_was_said_is_not_said_again_or_left_out(at: float, seconds: float) -> None:
    """A move that would contradict what was said of the step is ignored, without a cue."""
    session, _ = walk(poured(), at)
    event = Event(Kind.END_MOVED, at, {"develop_seconds": seconds})
    assert (session, ()) == receive(session, event)


def test_other_steps_have_no_end_that_moves() -> None:
    """The stop bath is no developer."""
    session, _ = walk(poured(), 671.0)
    session, _ = walk(receive(session, Event(Kind.NOW, 672.0))[0], 685.0)
    assert State.RUNNING is session.state
    event = Event(Kind.END_MOVED, 685.0, {"develop_seconds": 60.0})
    assert (session, ()) == receive(session, event)


def test_what_the_step_amounted_to_is_kept_and_summed_up() -> None:
    """The event after developing gives the run its percent and bounds, the summary its words."""
    session, _ = walk(poured(), 671.0)
    effect: dict[str, Json] = {"percent": 94.2, "low": 92.0, "high": 96.4, "text": "94 %"}
    early, _ = receive(session, Event(Kind.DEVELOPED, 671.0, effect))
    assert early.developed is None  # developing is not over before the next pour
    session, _ = receive(session, Event(Kind.NOW, 672.0))
    session, cues = receive(session, Event(Kind.DEVELOPED, 672.0, effect))
    summary = summarise(session)
    assert summary is not None
    assert () == cues
    assert ("pour now", "94 %") == (summary.chosen, summary.effective_text)
    assert session.developed is not None
    assert (94.2, 92.0, 96.4) == (
        session.developed.percent,
        session.developed.low,
        session.developed.high,
    )


def test_a_run_ended_when_its_last_step_did() -> None:
    """Hung or given up: the end is that of what was done last, and an open run has none."""

    def end(session: Session) -> float | None:
        summary = summarise(session)
        assert summary is not None
        return summary.ended_seconds

    session, ended = poured(), 300.0
    while session.state is not State.FINISHED:
        session, _ = walk(session, 100_000.0)
        assert end(session) is None
        ended = session.steps[-1].began + 2_000.0
        session, _ = receive(session, Event(Kind.NOW, ended))
    assert ended == end(session)
    assert 350.0 == end(fold([Event(Kind.ABANDON, 350.0)], poured()))


@pytest.mark.parametrize("effect", [{}, {"percent": "much"}, {"percent": 90.0}])
def test_an_effect_without_numbers_is_none(effect: dict[str, Json]) -> None:
    """A damaged event leaves nothing half known."""
    session, _ = walk(poured(), 671.0)
    session, _ = receive(session, Event(Kind.NOW, 672.0))
    assert receive(session, Event(Kind.DEVELOPED, 672.0, effect))[0].developed is None


@pytest.mark.parametrize("kind", [Kind.SOON, Kind.NEVER, Kind.CHECK_DIP])
def test_events_that_change_nothing_are_still_said(kind: Kind) -> None:
    """The bath's news leave a run as it is, and give their cue."""
    session = fold([record.begin(0.0, "01RUN", ONE_REEL)])
    after, cues = receive(session, Event(kind, 10.0))
    assert (session, 1) == (after, len(cues))


@settings(max_examples=150, deadline=None)
@given(
    seconds=st.floats(25.0, 1200.0),
    moves=st.lists(st.tuples(st.floats(0.0, 1300.0), st.floats(0.0, 1300.0)), max_size=6),
    looks=st.floats(0.5, 90.0),
)
def test_every_cue_comes_once_whatever_moves_and_rows_fold_to_the_same(
    seconds: float, moves: list[tuple[float, float]], looks: float
) -> None:
    """Any time, any moves of the end, asked for seldom or often.

    What was said is the last schedule, each entry once and in order; and the journal's rows,
    through JSON, fold to the very same session.
    """
    events = [
        record.begin(0.0, "01RUN", ONE_REEL),
        Event(Kind.NOW, 300.0, {**POUR, "develop_seconds": seconds}),
    ]
    session = fold(events)
    coming, now, said = sorted(moves), 300.0, []
    while session.state is not State.LATE:
        while (event := due(session, now)) is not None:
            session, _ = receive(session, event)
            events.append(event)
            said.append((event.seconds, event.kind))
        if coming and 300.0 + coming[0][0] <= now:
            move = Event(Kind.END_MOVED, now, {"develop_seconds": coming.pop(0)[1]})
            before = session
            session, _ = receive(session, move)
            events.append(move)
            upcoming = next_due(session)
            assert session is before or (upcoming is not None and upcoming > now)
        now += looks
    assert session.present is not None
    assert [
        (300.0 + entry.offset_seconds, entry.kind) for entry in schedule.of_step(session.present)
    ] == said
    rows = [(str(event.kind), json.loads(json.dumps(record.encode(event)))) for event in events]
    assert session == record.rebuild(rows)
