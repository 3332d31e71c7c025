"""Bell tables."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.development import bells
from wetside.development.bells import Weekday, weekday_of
from wetside.errors import BellsError, FileProblem

GOOD = """
format = 1
clear_up_minutes = 5
closed = [2031-10-13]

[weeks]
names = ["A", "B"]
first_week_of = 2031-09-01

[[period]]
name = "1"
days = ["monday", "wednesday"]
starts = 08:30:00
ends = 09:20:00
group = "Photo 1"
students = 12

[[period]]
name = "2"
days = ["monday"]
weeks = ["A"]
starts = 09:25:00
ends = 10:15:00

[[period]]
name = "2b"
days = ["monday"]
weeks = ["B"]
starts = 09:40:00
ends = 11:10:00
"""


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def reasons(text: str) -> list[tuple[str, str]]:
    with pytest.raises(BellsError) as caught:
        bells.parse(text, "bells.toml")
    return list(caught.value.problems)


TABLE = bells.parse(GOOD, "bells.toml")


def test_a_table_loads_from_its_file(tmp_path: Path) -> None:
    """A correct file gives its periods."""
    path = tmp_path / "bells.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert bells.load(path) == TABLE


def test_a_missing_file_names_itself(tmp_path: Path) -> None:
    """A bell table that is not there is told by its name."""
    with pytest.raises(BellsError, match=r"absent\.toml: cannot be read"):
        bells.load(tmp_path / "absent.toml")


def test_monday_is_a_monday() -> None:
    """1 September 2031 is a Monday (ISO 8601 week date 2031-W36-1)."""
    assert date(2031, 9, 1).isocalendar() == (2031, 36, 1)
    assert weekday_of(date(2031, 9, 1)) is Weekday.MONDAY


@pytest.mark.parametrize(
    ("day", "names"),
    [
        (date(2031, 9, 1), ["1", "2"]),  # Monday of an A week
        (date(2031, 9, 8), ["1", "2b"]),  # Monday of a B week
        (date(2031, 9, 15), ["1", "2"]),  # A again
        (date(2031, 8, 25), ["1", "2b"]),  # the week before the first A week
        (date(2031, 9, 3), ["1"]),  # Wednesday
        (date(2031, 9, 6), []),  # Saturday
        (date(2031, 10, 13), []),  # a closed Monday
    ],
)
def test_periods_follow_weekday_week_and_closed_days(day: date, names: list[str]) -> None:
    """Each day has the periods a teacher would read off the table."""
    assert [period.name for period in TABLE.on(day)] == names


def test_the_current_period_begins_with_its_first_second_and_ends_at_the_bell() -> None:
    """08:30:00 is in the period, 09:20:00 is not."""
    found = [TABLE.current(at(f"2031-09-01T{clock}")) for clock in ("08:29:59", "08:30", "09:20")]
    assert [period.name if period else None for period in found] == [None, "1", None]


@pytest.mark.parametrize(
    ("now", "bell"),
    [
        ("2031-09-01T08:00", "2031-09-01T09:20"),
        ("2031-09-01T09:20", "2031-09-01T10:15"),
        ("2031-09-01T12:00", "2031-09-03T09:20"),
        ("2031-10-08T12:00", "2031-10-15T09:20"),  # the 13th is closed
    ],
)
def test_the_next_bell(now: str, bell: str) -> None:
    """The bell that ends the current period or the next one, over days without school."""
    assert TABLE.bell_after(at(now)) == at(bell)


def test_no_bell_in_a_long_holiday() -> None:
    """A table whose days are all closed knows no bell."""
    days = ", ".join(f"2031-{month:02d}-{day:02d}" for month in (9, 10, 11) for day in range(1, 31))
    closed = bells.parse(GOOD.replace("closed = [2031-10-13]", f"closed = [{days}]"), "b")
    assert closed.bell_after(at("2031-09-01T08:00")) is None


@pytest.mark.parametrize(
    ("change", "place", "reason"),
    [
        (("09:20:00", "08:20:00"), "period[1].ends", "08:20 is not after 08:30, when it starts"),
        (("09:20:00", "08:30:00"), "period[1].ends", "08:30 is not after 08:30, when it starts"),
        (("08:30:00", '"08:30:00+02:00"'), "period[1].starts", "without time zone"),
        (('days = ["monday", "wednesday"]', "days = []"), "period[1].days", "none is given"),
        (("09:20:00", "09:30:00"), "period[2].starts", "overlaps period[1] on monday"),
        (('weeks = ["A"]', 'weeks = ["C"]'), "period[2].weeks", "week C is not known"),
        (('weeks = ["A"]\n', ""), "period[3].starts", "overlaps period[2] on monday"),
        (('"wednesday"', '"wensday"'), "period[1].days[2]", "'wednesday'"),
        (('names = ["A", "B"]', 'names = ["A", "A"]'), "weeks.names", "a week stands twice"),
        (("students = 12", "pupils = 12"), "period[1].pupils", "is it misspelt"),
        (("starts = 08:30:00", 'starts = "half past"'), "period[1].starts", "time"),
        (("clear_up_minutes = 5", "clear_up_minutes = 500"), "clear_up_minutes", "60"),
        (("format = 1", ""), "format", "is missing"),
    ],
)
def test_each_mistake_names_key_and_reason(
    change: tuple[str, str], place: str, reason: str
) -> None:
    """One wrong line is found where it stands."""
    assert change[0] in GOOD
    found = reasons(GOOD.replace(change[0], change[1], 1))
    assert [entry[0] for entry in found] == [place]
    assert reason in found[0][1]


def test_all_mistakes_are_named_at_once() -> None:
    """Two wrong periods and a wrong key give three places."""
    text = (
        GOOD.replace("09:20:00", "08:20:00")
        .replace('"monday"]\nweeks = ["B"]', '"someday"]\nweeks = ["B"]')
        .replace("students = 12", "pupils = 12")
    )
    assert sorted(place for place, _ in reasons(text)) == [
        "period[1].ends",
        "period[1].pupils",
        "period[3].days[1]",
    ]


def test_weeks_named_without_a_table_of_weeks() -> None:
    """A period in week A asks for the table that says which week is A."""
    text = GOOD.split("[weeks]", maxsplit=1)[0] + "[[period]]" + GOOD.split("[[period]]")[2]
    assert "add a [weeks] table" in reasons(text)[0][1]


def test_a_bells_problem_is_a_file_problem() -> None:
    """Callers that catch file problems or ValueError catch this one."""
    assert issubclass(BellsError, FileProblem)
    assert issubclass(BellsError, ValueError)


@given(st.dates(date(2025, 1, 1), date(2040, 1, 1)))
def test_weeks_alternate(day: date) -> None:
    """A week and the next one never have the same name; the week after next has it again."""
    assert TABLE.weeks is not None
    names = [TABLE.weeks.name_of(date.fromordinal(day.toordinal() + 7 * n)) for n in range(3)]
    assert names[0] != names[1]
    assert names[0] == names[2]


@given(st.datetimes(datetime(2031, 1, 1), datetime(2032, 1, 1)))  # noqa: DTZ001  # school clock
def test_the_next_bell_is_the_first_one_after_now(now: datetime) -> None:
    """No bell rings between now and the one that is told, and it lies ahead."""
    bell = TABLE.bell_after(now)
    assert bell is not None
    assert bell > now
    between = [
        datetime.combine(day, period.ends)
        for ordinal in range(now.toordinal(), bell.toordinal() + 1)
        for day in [date.fromordinal(ordinal)]
        for period in TABLE.on(day)
    ]
    assert min(moment for moment in between if moment > now) == bell
