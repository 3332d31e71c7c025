"""Bells over the API: the table, a day, when to begin, what the sinks hold."""

from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import BaseModel, Field

from wetside.development.bells import Bells, Period
from wetside_desk import house, live, schooltime
from wetside_desk.access.gate import teacher
from wetside_desk.api import answers, asked, changing
from wetside_desk.api.shelf import Day, SheetName, usual_sheet
from wetside_desk.api.shelf_models import FileState
from wetside_desk.bells import timing
from wetside_desk.context import Desk, TheDesk
from wetside_desk.files import papers
from wetside_desk.problems import ProblemError
from wetside_desk.store import class_plan

router = APIRouter(
    prefix="/v1/bells",
    tags=["bells"],
    dependencies=[Depends(teacher), Depends(asked.known)],
    responses=answers.documented("not-signed-in", "invalid-request", "internal-error"),
)

EXAMPLE = """\
format = 1
clear_up_minutes = 5

[[period]]
name = "3"
days = ["monday", "thursday"]
starts = 10:00:00
ends = 10:50:00
group = "Photo 1"
students = 12
"""


class PeriodAnswer(BaseModel):
    """One period; times are the school's wall clock."""

    name: str
    days: list[str]
    weeks: list[str] = Field(description="empty: every week")
    starts: str = Field(examples=["10:00"])
    ends: str = Field(examples=["10:50"])
    group: str
    students: int


class BellsAnswer(BaseModel):
    """The whole table; ``this_week`` is the name of the week that is now."""

    file: FileState
    clear_up_minutes: float | None
    weeks: list[str]
    this_week: str | None
    closed: list[date]
    periods: list[PeriodAnswer]


class DayAnswer(BaseModel):
    """The periods of one day in order of time."""

    day: date
    week: str | None
    periods: list[PeriodAnswer]


class StartAnswer(BaseModel):
    """When to begin with one sheet for the bell that comes next.

    Times are the school's wall clock. ``start_by`` makes it in 95 of 100 runs,
    ``likely_start_by`` in half; started by ``left_start_by`` film can be left in water.
    """

    sheet: str
    run_seconds: float
    bell: datetime | None
    hang_by: datetime | None
    start_by: datetime | None
    likely_start_by: datetime | None
    left_start_by: datetime | None
    seconds_left: float | None
    prospect: str | None = Field(description="of the run that tempers now with this sheet")


class StartsAnswer(BaseModel):
    """Latest starts, and what the hand-over times were learnt from."""

    now: datetime
    clock_doubt: str
    handover_mean_seconds: float
    handover_sd_seconds: float
    learnt_from_runs: int
    starts: list[StartAnswer]


class CapacityAnswer(BaseModel):
    """What one period holds; ``starts_seconds`` count from the bell that opens it."""

    sheet: str
    tanks: int
    students: int
    periods_needed: int | None
    starts_seconds: list[float]
    text: str


def period_answer(period: Period) -> PeriodAnswer:
    """A period as the API gives it."""
    return PeriodAnswer(
        name=period.name,
        days=[str(day) for day in period.days],
        weeks=list(period.weeks),
        starts=f"{period.starts:%H:%M}",
        ends=f"{period.ends:%H:%M}",
        group=period.group,
        students=period.students,
    )


def _table(desk: Desk) -> Bells:
    read = house.bell_table(desk)
    if read.content is None:
        says = "The bell table has mistakes." if read.problems else "There is no bell table yet."
        raise ProblemError("not-found", says)
    return read.content


@router.get("", response_model=BellsAnswer, summary="The bell table")
def show_bells(request: Request, desk: TheDesk) -> Response:
    """Periods of every weekday, weeks that alternate, days without school."""
    read = house.bell_table(desk)
    table = read.content
    weeks = table.weeks if table is not None else None
    body = BellsAnswer(
        file=FileState.of(read),
        clear_up_minutes=table.clear_up_minutes if table is not None else None,
        weeks=list(weeks.names) if weeks is not None else [],
        this_week=weeks.name_of(schooltime.now().date()) if weeks is not None else None,
        closed=list(table.closed) if table is not None else [],
        periods=[period_answer(period) for period in table.period] if table is not None else [],
    )
    tag = answers.tag_of(body.model_dump_json())
    return answers.not_modified(request, tag) or answers.tagged(body, tag)


changing.file_routes(router, papers.bell_table, "bell", "There is no bell table yet.", EXAMPLE)


@router.get("/day", summary="The periods of a day", responses=answers.documented("not-found"))
def show_day(desk: TheDesk, day: Day = None) -> DayAnswer:
    """Today, or another day; none on a day without school."""
    table = _table(desk)
    on = day or schooltime.now().date()
    return DayAnswer(
        day=on,
        week=table.weeks.name_of(on) if table.weeks is not None else None,
        periods=[period_answer(period) for period in table.on(on)],
    )


@router.get("/starts", summary="When to begin", responses=answers.documented("not-found"))
def show_starts(desk: TheDesk) -> StartsAnswer:
    """For each sheet the latest start of developing that hangs film before the next bell."""
    table, now = _table(desk), schooltime.now()
    mean, runs = house.handover(desk)
    station = live.read(desk.settings.live_file)
    at_sink = house.at_sink(desk)
    found = []
    for start in timing.starts(table, now, house.sheets(desk), mean):
        limit = start.limit
        prospect = None
        if at_sink is not None and limit is not None and at_sink[0].name == start.sheet.name:
            prospect = str(timing.verdict(limit, now, at_sink[1]).prospect)
        found.append(
            StartAnswer(
                sheet=start.sheet.name,
                run_seconds=start.run.likely,
                bell=limit.bell if limit else None,
                hang_by=limit.hang_by if limit else None,
                start_by=limit.start_by if limit else None,
                likely_start_by=limit.likely_start_by if limit else None,
                left_start_by=limit.rest_start_by if limit else None,
                seconds_left=limit.seconds_left if limit else None,
                prospect=prospect,
            )
        )
    return StartsAnswer(
        now=now,
        clock_doubt=schooltime.doubt(station),
        handover_mean_seconds=mean.mean_seconds,
        handover_sd_seconds=mean.sd_seconds,
        learnt_from_runs=runs,
        starts=found,
    )


@router.get(
    "/capacity",
    summary="What the sinks hold in a period",
    responses=answers.documented("not-found", "sheet-not-found"),
)
def show_capacity(
    desk: TheDesk,
    period: Annotated[str, Query(max_length=12, description="name of a period", examples=["3"])],
    students: Annotated[int, Query(ge=0, le=200, examples=[12])],
    sheet: SheetName = "",
) -> CapacityAnswer:
    """How many tanks go through between two bells with the usual sinks, and from when."""
    table = _table(desk)
    wanted = next((one for one in table.period if one.name == period), None)
    if wanted is None:
        raise ProblemError("not-found", f"The bell table has no period {period!r}.")
    chosen = usual_sheet(desk, sheet)
    plan = class_plan.load(desk.database)
    found = timing.holds(table, wanted, chosen, house.handover(desk)[0], plan, students)
    return CapacityAnswer(
        sheet=chosen.name,
        tanks=found.tanks,
        students=found.students,
        periods_needed=found.periods,
        starts_seconds=list(found.starts),
        text=found.text,
    )
