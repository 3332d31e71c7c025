"""What the station says of the bell, with times worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time

import pytest

from wetside.development.bells import Bells, Period, Weekday
from wetside.development.deadline import Handover
from wetside.outlook import Outlook, Quantiles, Temperature
from wetside.session import bell, record
from wetside.session import sheet as sheets
from wetside.session.bell import BellView
from wetside.session.events import Event, Kind
from wetside.session.machine import due, fold, receive
from wetside.session.run import Session, State
from wetside.session.sheet import Sheet, StepKind

#: Monday, 6 October 2031: a period from 9:30 to 10:50, five minutes of clearing up.
BELLS = Bells(
    format=1,
    period=(Period(name="3", days=(Weekday.MONDAY,), starts=time(9, 30), ends=time(10, 50)),),
)
ONE_REEL = next(
    sheet
    for sheet in map(sheets.load, sheets.available([sheets.shipped_folder()]))
    if sheet.name == "one reel 20"
)
#: Twenty seconds between two steps, always.
EXACT = Handover(20.0, 0.0)


def at(clock: str) -> datetime:
    return datetime.fromisoformat(f"2031-10-06T{clock}")


def look(
    clock: str,
    session: Session | None = None,
    outlook: Outlook | None = None,
    seconds: float = 0.0,
    sheet: Sheet | None = ONE_REEL,
) -> BellView:
    return bell.look(BELLS, at(clock), EXACT, session or Session(), sheet, outlook, seconds)


def waiting(ready: float | None) -> tuple[Session, Outlook]:
    session = fold([record.begin(0.0, "01RUN", ONE_REEL)])
    wait = Quantiles(ready, ready, ready)
    nowhere = Quantiles(None, None, None)
    return session, Outlook(0.0, Temperature(22.0, 0.1), None, wait, nowhere, 0.0)


def test_the_latest_start_is_counted_back_from_the_bell() -> None:
    """The steps last 430+45+310+40+130+310+70 = 22:15, seven hand-overs 2:20, clearing up 5:00.

    The last hand-over is the one to the line on which the film hangs: 10:50 less 29:35 is 10:20:25.
    """
    said = look("10:00:00")
    assert ("start by 10:20 to hang", "bell at 10:50") == said.lines
    assert ("2031-10-06T10:20:25", "2031-10-06T10:45:00", 1225) == (
        said.values["start_by"],
        said.values["hang_by"],
        said.values["to_start"],
    )


def test_the_last_ten_minutes_are_counted_down() -> None:
    """At 10:16:00 there are 4:25 left."""
    assert ("start by 10:20 to hang", "4:25 left to start", "bell at 10:50") == (
        look("10:16:00").lines
    )


def test_too_late_to_hang_may_be_early_enough_for_water() -> None:
    """Film may stand in the rinse: 430+45+310 and three hand-overs before 10:45 is 10:30:55."""
    assert ("begun by 10:30 it gets", "to water, not hung", "bell at 10:50") == (
        look("10:25:00").lines
    )
    assert ("too late for this bell", "bell at 10:50") == look("10:31:00").lines


@pytest.mark.parametrize(
    ("ready", "prospect"),
    [(600.0, "easy"), (1500.0, "left half-way"), (2400.0, "too late"), (None, "too late")],
)
def test_the_forecast_is_judged_while_the_developer_is_tempered(
    ready: float | None, prospect: str
) -> None:
    """At 10:00: ready at 10:10, 10:25, 10:40 or never, against 10:21 and 10:30."""
    session, outlook = waiting(ready)
    assert prospect == look("10:00:00", session, outlook).values["prospect"]


@pytest.mark.parametrize(("late", "tight"), [(700.0, ()), (1500.0, ("it will be tight",))])
def test_the_display_says_that_it_will_be_tight(late: float, tight: tuple[str, ...]) -> None:
    """Ready likely at 10:10; at the latest at 10:11:40, or at 10:25, which is past 10:20."""
    session, outlook = waiting(600.0)
    outlook = replace(outlook, ready_in=Quantiles(500.0, 600.0, late))
    said = look("10:00:00", session, outlook).lines
    assert ("start by 10:20 to hang", *tight, "bell at 10:50") == said


def running(until: float) -> Session:
    """A run poured at 100 s and walked until then, its presses at once."""
    session = fold([record.begin(0.0, "01RUN", ONE_REEL), Event(Kind.ENTERED, 90.0)])
    session, _ = receive(session, Event(Kind.NOW, 100.0))
    while (event := due(session, until)) is not None:
        session, _ = receive(session, event)
        if event.kind is Kind.END_DUE:
            session, _ = receive(session, Event(Kind.NOW, event.seconds))
    return session


def test_what_cannot_be_left_at_the_bell_says_how_long_to_stay() -> None:
    """Poured 5 min before the bell: developing until 10:52:10, then stop and fix.

    With hand-overs: stop from 10:52:30, fix from 10:53:35, rinse from 10:59:05 - there it may
    stand.
    """
    said = look("10:46:40", running(200.0), seconds=200.0)
    assert ("bell 10:50: stay to 11:00", "develop cannot be left") == said.lines
    assert (False, "2031-10-06T10:59:05") == (said.values["may_leave"], said.values["safe_at"])


def forgotten_in(kind: StepKind, late: float) -> tuple[Session, float]:
    """A run whose film is still in this step so long after its end, and the moment that is."""
    place = next(place for place, step in enumerate(ONE_REEL.step) if step.kind is kind)
    now = 100.0 + sum(step.seconds or 0.0 for step in ONE_REEL.step[1 : place + 1]) + late
    session = running(now - late - 1.0)
    while (event := due(session, now)) is not None:
        session, _ = receive(session, event)
    assert session.state is State.LATE
    return session, now


@pytest.mark.parametrize("late", [600.0, 1800.0])
@pytest.mark.parametrize(
    ("kind", "clock", "there", "safe_at"),
    [
        # stop from 10:45:20, fix from 10:46:25, rinse from 10:51:55: there it may stand
        (StepKind.DEVELOP, "10:45:00", "fix", "10:51:55"),
        # stop from 10:49:50, fix from 10:50:55, rinse from 10:56:25
        (StepKind.DEVELOP, "10:49:30", "stop", "10:56:25"),
        # rinse from 10:50:10
        (StepKind.FIX, "10:49:50", "fix", "10:50:10"),
    ],
)
def test_film_that_is_late_is_counted_on_from_now(
    kind: StepKind, clock: str, there: str, safe_at: str, late: float
) -> None:
    """Film still in the developer or the fixer long after its time has all its steps before it."""
    session, now = forgotten_in(kind, late)
    said = look(clock, session, seconds=now)
    assert (there, False, f"2031-10-06T{safe_at}") == (
        said.values["at_bell"],
        said.values["may_leave"],
        said.values["safe_at"],
    )
    assert f"{there} cannot be left" == said.lines[1]


@pytest.mark.parametrize("late", [600.0, 1800.0])
def test_film_late_in_the_fixer_may_still_come_to_water_in_time(late: float) -> None:
    """Poured out now, at 10:45, it is rinsed, cleared, and in the wash from 10:48:50 on."""
    session, now = forgotten_in(StepKind.FIX, late)
    assert ("bell 10:50: it may stand",) == look("10:45:00", session, seconds=now).lines


@pytest.mark.parametrize(
    ("kind", "clock", "safe_at"),
    [
        # poured at 10:45, so stop from 10:52:10; with hand-overs fix from 10:53:15, rinse 10:58:45
        (StepKind.STOP, "10:52:20", "10:58:45"),
        # with presses at once fix from 10:52:55, rinse 310 s and 20 s later
        (StepKind.FIX, "10:55:00", "10:58:25"),
    ],
)
def test_film_that_is_not_safe_when_the_bell_has_rung_is_late_for_it(
    kind: StepKind, clock: str, safe_at: str
) -> None:
    """Past the bell of 10:50 the stop bath and the fixer still cannot be left."""
    seconds = 100.0 + (at(clock) - at("10:45:00")).total_seconds()
    session = running(seconds)
    assert session.present is not None
    assert kind is session.present.kind
    said = look(clock, session, seconds=seconds)
    assert ("bell 10:50: stay to 10:59", f"{kind} cannot be left") == said.lines
    assert ("2031-10-06T10:50", str(kind), False, f"2031-10-06T{safe_at}") == (
        said.values["bell"],
        said.values["at_bell"],
        said.values["may_leave"],
        said.values["safe_at"],
    )


def test_film_that_came_to_water_after_the_bell_is_judged_by_the_next() -> None:
    """Rinsed since 10:58:05 the film may be left, and the next bell is a week away."""
    said = look("10:58:20", running(900.0), seconds=900.0)
    assert ((), "2031-10-13T10:50") == (said.lines, said.values["bell"])


def test_film_in_water_at_the_bell_is_late_for_no_bell() -> None:
    """Hung after the bell though it could have stood in the wash then: nobody was late."""
    wash = 100.0 + 430 + 45 + 310 + 40 + 130
    # in the wash from 10:46 to 10:51, in the wetting agent when it is looked at
    said = look("10:51:30", running(wash + 330.0), seconds=wash + 330.0)
    assert ((), "2031-10-13T10:50", "hang") == (
        said.lines, said.values["bell"], said.values["at_bell"]
    )  # fmt: skip


def test_the_wash_may_stand_through_the_bell() -> None:
    """In the wash since 10:46, which lasts 5 min: it is there at the bell."""
    began = 100.0 + 430 + 45 + 310 + 40 + 130
    said = look("10:47:00", running(began + 60.0), seconds=began + 60.0)
    assert ("bell 10:50: it may stand",) == said.lines
    assert True is said.values["may_leave"]


def test_a_run_that_will_hang_says_so() -> None:
    """In the wetting agent at 10:46: a minute, and it hangs."""
    began = 100.0 + 430 + 45 + 310 + 40 + 130 + 300
    assert ("bell 10:50: it will hang",) == look(
        "10:46:30", running(began + 30.0), seconds=began + 30.0
    ).lines


def test_a_bell_that_is_not_near_is_kept_from_the_display() -> None:
    """Developing 15 minutes before: nothing on the display, the values are there."""
    said = look("10:35:00", running(200.0), seconds=200.0)
    assert () == said.lines
    assert "at_bell" in said.values
    assert () == look("08:00:00").lines


def test_without_a_bell_or_a_sheet_the_reason_is_told() -> None:
    """No period in sixty days; no sheet to count with."""
    empty = BELLS.model_copy(update={"closed": ()})
    assert look("10:00:00", sheet=None).values == {"known": False, "why": "no sheet is there"}
    closed = Bells(
        format=1,
        period=empty.period,
        closed=tuple(
            datetime.fromordinal(at("00:00:00").toordinal() + day).date() for day in range(70)
        ),
    )
    said = bell.look(closed, at("10:00:00"), EXACT, Session(), ONE_REEL, None, 0.0)
    assert ((), False) == (said.lines, said.values["known"])
