"""The bell table of a school: periods of each weekday, A and B weeks, days without school.

Times are the school's wall clock, without time zone: a bell rings at 10:50 whatever the offset.
The caller gives ``now`` in the same clock and says elsewhere whether it can be trusted.
docs/bells.md explains every key with an example.
"""

from datetime import date, datetime, time, timedelta
from enum import StrEnum
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Self, TypeVar

from pydantic import (
    AfterValidator,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from wetside.development import problems
from wetside.development.problems import raise_together
from wetside.errors import BellsError
from wetside.tomlfile import Format, Table, shaped

_Any = TypeVar("_Any")

#: How far ahead the next period is looked for.
_DAYS_AHEAD = 60


class Weekday(StrEnum):
    """Days of the week, Monday first."""

    MONDAY = "monday"
    TUESDAY = "tuesday"
    WEDNESDAY = "wednesday"
    THURSDAY = "thursday"
    FRIDAY = "friday"
    SATURDAY = "saturday"
    SUNDAY = "sunday"


def weekday_of(day: date) -> Weekday:
    """The weekday of a date."""
    return list(Weekday)[day.weekday()]


def _some(given: tuple[_Any, ...]) -> tuple[_Any, ...]:
    # A plain min_length would complain a second time where every item is wrong already.
    if not given:
        raise ValueError("none is given")
    return given


def _plain(given: time) -> time:
    if given.tzinfo is not None:
        raise ValueError("is a plain time such as 10:00:00, without time zone")
    return given


WeekName = Annotated[str, shaped("[A-Z]", "one capital letter")]


class Weeks(Table):
    """Weeks that alternate. ``first_week_of`` is any day in a week of the first name."""

    names: Annotated[tuple[WeekName, ...], Field(min_length=2, max_length=4)]
    first_week_of: date

    @model_validator(mode="after")
    def _distinct(self) -> Self:
        if len(set(self.names)) != len(self.names):
            raise ValueError("names: a week stands twice")
        return self

    def name_of(self, day: date) -> str:
        """Name of the week that holds a day; weeks begin on Monday."""
        monday = day - timedelta(days=day.weekday())
        first = self.first_week_of - timedelta(days=self.first_week_of.weekday())
        return self.names[(monday - first).days // 7 % len(self.names)]


class Period(Table):
    """One period, on one or more weekdays, in all weeks or in the weeks named."""

    name: Annotated[str, Field(min_length=1, max_length=12)]
    days: Annotated[tuple[Weekday, ...], AfterValidator(_some)]
    weeks: tuple[WeekName, ...] = ()
    starts: Annotated[time, AfterValidator(_plain)]
    ends: Annotated[time, AfterValidator(_plain)]
    group: Annotated[str, Field(max_length=16)] = ""
    students: Annotated[int, Field(ge=0, le=60)] = 0

    @field_validator("ends")
    @classmethod
    def _after_starts(cls, ends: time, info: ValidationInfo) -> time:
        # Judged with the key, so that it is told together with other mistakes of the period.
        starts = info.data.get("starts")
        if starts is not None and ends <= starts:
            raise ValueError(f"{ends:%H:%M} is not after {starts:%H:%M}, when it starts")
        return ends


class Bells(Table):
    """A bell table.

    ``closed`` are days without school; ``clear_up_minutes`` the time before the bell at which
    film should hang and the sink be left clean.
    """

    format: Format
    clear_up_minutes: Annotated[float, Field(ge=0, le=60)] = 5.0
    weeks: Weeks | None = None
    period: Annotated[tuple[Period, ...], AfterValidator(_some)]
    closed: tuple[date, ...] = ()

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        raise_together([*self._wrong_weeks(), *self._overlaps()])
        return self

    def _wrong_weeks(self) -> list[str]:
        known = self.weeks.names if self.weeks is not None else ()
        wrong: list[str] = []
        for place, period in enumerate(self.period, start=1):
            for week in period.weeks:
                if week in known:
                    continue
                listed = f"the table has {', '.join(known)}" if known else "add a [weeks] table"
                wrong.append(f"period[{place}].weeks: week {week} is not known; {listed}")
        return wrong

    def _overlaps(self) -> list[str]:
        wrong: list[str] = []
        for week in self.weeks.names if self.weeks is not None else ("",):
            for day in Weekday:
                rows = sorted(
                    (period.starts, period.ends, place)
                    for place, period in enumerate(self.period, start=1)
                    if day in period.days and (not period.weeks or week in period.weeks)
                )
                for (_, ends, first), (starts, _, second) in pairwise(rows):
                    text = f"period[{second}].starts: overlaps period[{first}] on {day}"
                    if starts < ends and text not in wrong:
                        wrong.append(text)
        return wrong

    def on(self, day: date) -> tuple[Period, ...]:
        """The periods of a date in order of time; none on a closed day."""
        if day in self.closed:
            return ()
        week = None if self.weeks is None else self.weeks.name_of(day)
        weekday = weekday_of(day)
        found = [
            period
            for period in self.period
            if weekday in period.days and (not period.weeks or week in period.weeks)
        ]
        return tuple(sorted(found, key=lambda period: period.starts))

    def current(self, now: datetime) -> Period | None:
        """The period that is on at ``now``; None between periods."""
        for period in self.on(now.date()):
            if period.starts <= now.time() < period.ends:
                return period
        return None

    def bell_after(self, now: datetime) -> datetime | None:
        """End of the current period, or of the next one; None if there is none in sixty days."""
        for ahead in range(_DAYS_AHEAD):
            day = now.date() + timedelta(days=ahead)
            for period in self.on(day):
                bell = datetime.combine(day, period.ends)
                if bell > now:
                    return bell
        return None

    def hang_by(self, bell: datetime) -> datetime:
        """When film should hang so that the sink is clean at the bell."""
        return bell - timedelta(minutes=self.clear_up_minutes)


def parse(text: str, name: str) -> Bells:
    """Check the text of a bell table; ``name`` is the file for the message.

    Raises
    ------
    BellsError
        Names the file, every wrong key and the reason.
    """
    return problems.parse(text, Bells, name, BellsError)


def load(path: Path) -> Bells:
    """Read a bell table.

    Raises
    ------
    BellsError
        Names the file, every wrong key and the reason.
    """
    return problems.load(path, Bells, BellsError)
