"""When a step's cues fall, against the figures of published manuals.

Sources: US Navy, Photography (Basic), NAVEDTRA 14209, p. 10-24 (small tank: filled in 10 to
20 s, agitated for 30 s, then for 5 s each minute, pouring out begins 10 s before the end);
US Army Signal Center, subcourse SS0509-8, p. 24 (fixer: 15 s, then 10 s each minute; stop
bath: all the time for 30 to 60 s) and p. 18 (rinse 30 s, clearing bath 2 min, wash 5 min).
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.session import record, schedule
from wetside.session import sheet as sheets
from wetside.session.agitation import Agitation, Pattern
from wetside.session.events import Event, Kind
from wetside.session.machine import due, fold, receive
from wetside.session.run import State
from wetside.session.schedule import Entry, agitation_spans, of_step
from wetside.session.sheet import Sheet, Step, StepKind

SHIPPED = [sheets.load(path) for path in sheets.available([sheets.shipped_folder()])]


def step(kind: StepKind = StepKind.DEVELOP, **keys: object) -> Step:
    return Step.model_validate({"kind": kind, "solution": "developer", **keys})


def times(of: Step, kind: Kind) -> list[float]:
    return [entry.offset_seconds for entry in of_step(of) if entry.kind is kind]


def shipped(kind: StepKind) -> list[tuple[Sheet, Step]]:
    return [(sheet, one) for sheet in SHIPPED for one in sheet.step if one.kind is kind]


NAVY = step(
    seconds=430,
    fill_seconds=10,
    drain_seconds=10,
    agitation={
        "pattern": "intermittent",
        "first_seconds": 30,
        "for_seconds": 5,
        "every_seconds": 60,
    },
)


def test_agitation_of_a_small_tank_follows_the_navy_manual() -> None:
    """30 s from the full tank, then 5 s at each whole minute."""
    assert [10.0, 60.0, 120.0, 180.0, 240.0, 300.0, 360.0] == times(NAVY, Kind.AGITATE)
    assert [40.0, 65.0, 125.0, 185.0, 245.0, 305.0, 365.0] == times(NAVY, Kind.REST)


def test_draining_begins_ten_seconds_before_the_end() -> None:
    """NAVEDTRA 14209 p. 10-24."""
    assert ([420.0], [430.0]) == (times(NAVY, Kind.DRAIN_DUE), times(NAVY, Kind.END_DUE))


@pytest.mark.parametrize("sheet", SHIPPED, ids=lambda sheet: str(sheet.name))
def test_shipped_sheets_develop_as_the_navy_manual_says(sheet: Sheet) -> None:
    """Filled in 10 to 20 s, 30 s of first agitation, drained in the last 10 s or a little more."""
    develop = sheet.step[1]
    assert 10 <= develop.fill_seconds <= 20
    first = agitation_spans(
        develop.agitation,
        filled_seconds=develop.fill_seconds,
        drain_seconds=(develop.seconds or 0) - develop.drain_seconds,
    )[0]
    assert 30 == first[1] - first[0]
    assert 10 <= develop.drain_seconds <= 15


def test_one_reel_sheet_moves_the_tank_five_seconds_each_minute() -> None:
    """NAVEDTRA 14209 p. 10-24, on the sheet that claims it."""
    one = next(sheet for sheet in SHIPPED if sheet.name == "one reel 20").step[1]
    starts, stops = times(one, Kind.AGITATE), times(one, Kind.REST)
    assert {5.0} == {stop - start for start, stop in zip(starts[1:], stops[1:], strict=True)}
    assert {60.0} == {b - a for a, b in pairwise(starts[1:])}


@pytest.mark.parametrize(("sheet", "stop"), shipped(StepKind.STOP))
def test_shipped_stop_baths_last_30_to_60_s_and_are_moved_all_the_time(
    sheet: Sheet, stop: Step
) -> None:
    """US Army SS0509-8 p. 24."""
    del sheet
    assert stop.seconds is not None
    assert 30 <= stop.seconds <= 60
    assert stop.agitation.pattern is Pattern.CONTINUOUS
    assert [stop.fill_seconds] == times(stop, Kind.AGITATE)


@pytest.mark.parametrize(("sheet", "fix"), shipped(StepKind.FIX))
def test_shipped_fixing_takes_five_minutes_from_the_full_tank(sheet: Sheet, fix: Step) -> None:
    """SS0509-8 p. 15 and p. 24; never over 15 min (USAF T.O. 33B-1-1 p. 6-77)."""
    del sheet
    assert fix.seconds is not None
    assert fix.seconds - fix.fill_seconds == 300
    assert fix.seconds <= 15 * 60
    agitation = fix.agitation
    assert (15, 10, 60) == (
        agitation.first_seconds, agitation.for_seconds, agitation.every_seconds
    )  # fmt: skip


@pytest.mark.parametrize("sheet", SHIPPED, ids=lambda sheet: str(sheet.name))
def test_shipped_washing_is_what_the_manuals_ask_with_or_without_clearing(sheet: Sheet) -> None:
    """With clearing: rinse 30 s, clear 2 min (SS0509-8 p. 18); without: wash 20 min (p. 10-8)."""
    kinds = {one.kind: one for one in sheet.step}
    wash = sum(one.seconds or 0 for one in sheet.step if one.kind is StepKind.WASH)
    if StepKind.CLEAR in kinds:
        rinse, clear = kinds[StepKind.RINSE], kinds[StepKind.CLEAR]
        assert (rinse.seconds or 0) - rinse.fill_seconds >= 30
        assert (clear.seconds or 0) - clear.fill_seconds == 120
        assert wash >= 170
    else:
        assert wash >= 20 * 60


def test_continuous_agitation_starts_once_and_ends_with_the_draining() -> None:
    """From the full tank to the draining, with no REST in between."""
    stop = step(StepKind.STOP, seconds=45, agitation={"pattern": "continuous"})
    assert ([10.0], [], [35.0]) == (
        times(stop, Kind.AGITATE), times(stop, Kind.REST), times(stop, Kind.DRAIN_DUE)
    )  # fmt: skip


def test_agitation_that_would_not_end_before_the_draining_is_left_out() -> None:
    """At 420 s the tank is emptied: no agitation begins at 416 s for 5 s."""
    late = NAVY.model_copy(update={"seconds": 365.0 + 9.0})
    assert [10.0, 60.0, 120.0, 180.0, 240.0, 300.0] == times(late, Kind.AGITATE)


def test_a_step_without_time_has_no_schedule() -> None:
    """Tempering lasts until the window, hanging ends the run."""
    sheet = SHIPPED[0]
    assert () == of_step(sheet.step[0])
    assert () == of_step(sheet.step[-1])


def test_prepare_never_comes_before_the_tank_is_full() -> None:
    """A lead longer than the step is cut to what there is."""
    short = step(StepKind.STOP, seconds=45, prepare="fixer", prepare_seconds=900)
    assert [10.0] == times(short, Kind.PREPARE)


def test_prepare_never_comes_after_draining_began() -> None:
    """A lead of 5 s before the end is said as pouring out begins, 10 s before it, and first."""
    short = step(seconds=430, drain_seconds=10, prepare="stop bath", prepare_seconds=5)
    assert [Kind.PREPARE, Kind.DRAIN_DUE] == [
        entry.kind for entry in of_step(short) if entry.offset_seconds == 420.0
    ]


steps = st.builds(
    lambda seconds, fill, drain, lead, pattern: step(
        seconds=seconds,
        fill_seconds=fill,
        drain_seconds=drain,
        agitation=pattern,
        prepare="x",
        prepare_seconds=lead,
    ),
    seconds=st.floats(130, 7200),
    fill=st.floats(0, 60),
    drain=st.floats(0, 60),
    lead=st.one_of(st.floats(0, 60), st.floats(60, 900)),
    pattern=st.one_of(
        st.just({"pattern": "none"}),
        st.just({"pattern": "continuous"}),
        st.builds(
            lambda first, on, rest: {
                "pattern": "intermittent",
                "first_seconds": first,
                "for_seconds": on,
                "every_seconds": min(600.0, max(5.0, on + rest)),
            },
            first=st.one_of(st.just(0.0), st.floats(1, 600)),
            on=st.floats(1, 100),
            rest=st.floats(0.5, 400),
        ),
    ),
)


@given(steps)
def test_any_step_is_scheduled_in_order_and_inside_itself(of: Step) -> None:
    """Filled, drained and ended once; agitation and rest take turns between full and draining."""
    entries = of_step(of)
    assert of.seconds is not None
    drain = of.seconds - of.drain_seconds
    assert entries == tuple(
        sorted(entries, key=lambda e: (e.offset_seconds, schedule.KINDS.index(e.kind)))
    )
    for kind in (Kind.FILLED, Kind.PREPARE, Kind.DRAIN_DUE, Kind.END_DUE, Kind.LATE_DUE):
        assert 1 == sum(entry.kind is kind for entry in entries)
    moved = [entry for entry in entries if entry.kind in {Kind.AGITATE, Kind.REST}]
    assert all(of.fill_seconds <= entry.offset_seconds <= drain for entry in moved)
    assert [Kind.AGITATE, Kind.REST] * (len(moved) // 2) == [
        entry.kind for entry in moved[: len(moved) // 2 * 2]
    ]


@given(steps)
def test_the_clock_of_any_sheet_comes_to_an_end(of: Step) -> None:
    """A run accepts every entry of the schedule once, in order, and then waits for a person."""
    temper, _, *after = SHIPPED[0].step
    sheet = SHIPPED[0].model_copy(update={"step": (temper, of, *after)})
    run = fold([record.begin(0.0, "01RUN", sheet), Event(Kind.NOW, 100.0)])
    said = []
    for _ in range(2 * len(of_step(of))):
        event = due(run, 100_000.0)
        if event is None:
            break
        said.append(event.kind)
        run, _ = receive(run, event)
    assert [entry.kind for entry in of_step(of)] == said
    assert (State.LATE, None) == (run.state, due(run, 100_000.0))


def test_entries_are_plain_values() -> None:
    """Two equal entries are one."""
    assert {Entry(1.0, Kind.REST)} == {Entry(1.0, Kind.REST), Entry(1.0, Kind.REST)}
    assert Agitation(pattern=Pattern.NONE).first_seconds == 0
