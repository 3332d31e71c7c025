"""Bells, sheets and the log together: when to begin, how many finish, what may be left. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from wetside.development import deadline as deadlines
from wetside.development import sinks
from wetside.development.bells import Bells, Period
from wetside.development.deadline import AtBell, Deadline, Handover, Leaving, Verdict
from wetside.outlook import Quantiles
from wetside.session.bell import timings
from wetside.session.sheet import Sheet
from wetside_desk.live import LiveQuantiles
from wetside_desk.store.class_plan import ClassPlan

#: How far ahead the next class is looked for, in days.
_DAYS_AHEAD = 60


@dataclass(frozen=True, slots=True)
class Start:
    """When to begin with one sheet; ``limit`` is None where no bell is known."""

    sheet: Sheet
    limit: Deadline | None
    run: deadlines.Takes


def starts(
    table: Bells, now: datetime, sheets: Sequence[Sheet], handover: Handover
) -> tuple[Start, ...]:
    """The latest start with each sheet for the bell that comes next."""
    return tuple(
        Start(
            sheet,
            deadlines.deadline(table, now, timings(sheet), handover),
            deadlines.takes(timings(sheet), handover),
        )
        for sheet in sheets
    )


def verdict(limit: Deadline, now: datetime, ready: LiveQuantiles) -> Verdict:
    """How the run that tempers now looks against its bell."""
    return deadlines.judge(limit, now, Quantiles(ready.p05, ready.p50, ready.p95))


@dataclass(frozen=True, slots=True)
class Coming:
    """A period with its date."""

    day: date
    period: Period

    @property
    def starts(self) -> datetime:
        """When it begins."""
        return datetime.combine(self.day, self.period.starts)

    @property
    def ends(self) -> datetime:
        """Its bell."""
        return datetime.combine(self.day, self.period.ends)


def next_class(table: Bells, now: datetime) -> Coming | None:
    """The class that is on or comes next: a period with students; None in sixty days."""
    for ahead in range(_DAYS_AHEAD):
        day = now.date() + timedelta(days=ahead)
        for period in table.on(day):
            coming = Coming(day, period)
            if period.students and coming.ends > now:
                return coming
    return None


def monday_of(day: date) -> date:
    """The Monday of the week that holds a day."""
    return day - timedelta(days=day.weekday())


def classes_of_week(table: Bells, day: date) -> tuple[Coming, ...]:
    """Every period with students in the week of a day, Monday first."""
    days = [monday_of(day) + timedelta(days=ahead) for ahead in range(7)]
    return tuple(Coming(one, period) for one in days for period in table.on(one) if period.students)


def holds(
    table: Bells, period: Period, sheet: Sheet, handover: Handover, plan: ClassPlan, students: int
) -> sinks.Capacity:
    """What the sinks take through in a period, hand-overs at their mean."""
    day = date(2000, 1, 3)
    opens = datetime.combine(day, period.starts)
    closes = table.hang_by(datetime.combine(day, period.ends))
    return sinks.capacity(
        sinks.Sinks(plan.stations, plan.tanks_per_station, plan.students_per_tank),
        students,
        open_seconds=max(0.0, (closes - opens).total_seconds()),
        ready_seconds=plan.ready_minutes * 60.0,
        run_seconds=deadlines.takes(timings(sheet), handover).likely,
        again_seconds=plan.tempering_again * 60.0,
    )


@dataclass(frozen=True, slots=True)
class Left:
    """A step, and whether film may be left in it."""

    kind: str
    seconds: float | None
    leaving: Leaving


def leaving(sheet: Sheet) -> tuple[Left, ...]:
    """For each step of a sheet whether film may be left in it at the bell."""
    return tuple(
        Left(str(step.kind), step.seconds, deadlines.may_leave(str(step.kind)))
        for step in sheet.step
    )


def at_bell(sheet: Sheet, handover: Handover, started: datetime, bell: datetime) -> AtBell:
    """Where a run that starts then will stand when the bell rings."""
    return deadlines.at_bell(timings(sheet), handover, started, bell)
