"""The list of runs, one run, several runs over each other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from wetside.journal.schema import LATE, RunFilter, RunRow
from wetside.session.summary import StepOutcome
from wetside_desk import causes, diagnosis, formats, house
from wetside_desk.access.gate import Sent, teacher
from wetside_desk.api.runs import RunId, find
from wetside_desk.charts import of_run, series, svg
from wetside_desk.context import Desk, TheDesk
from wetside_desk.pages import happened, steps, told
from wetside_desk.pages.forms import Refused
from wetside_desk.pages.render import page
from wetside_desk.pages.search import Asked, Search, as_filter, said
from wetside_desk.problems import ProblemError
from wetside_desk.review import Review, checks, promises, review
from wetside_desk.store import accounts, audit, labels, notes, periods, preferences
from wetside_desk.store.notes import OUTCOMES

router = APIRouter(include_in_schema=False, dependencies=[Depends(teacher)])

#: Runs on one page of the list.
PAGE_RUNS = 40
#: Most runs that are laid over each other: more lines than inks cannot be told apart.
MOST_COMPARED = 4

#: Pages of the list that "Later runs" leads back through, and what stands for the first of them.
_TRAIL = 50
_FIRST = "-"
#: Ticked runs of other pages that are shown again.
_MOST_TICKED = 20

_HOUR = 3600.0


def listed(row: RunRow) -> float:
    """The wall time under which a run stands in lists."""
    return row.began.wall_seconds if row.listed_wall_seconds is None else row.listed_wall_seconds


Ids = Annotated[list[str] | None, Query()]
Cursor = Annotated[str, Query(max_length=64)]


@dataclass(frozen=True, slots=True)
class Place:
    """Where in the list somebody is: pages are reached from one another, latest first.

    ``after`` is the cursor of the page, empty for the first; ``trail`` are those of the pages
    before it; ``run`` are runs that were ticked, here and there.
    """

    after: str
    trail: tuple[str, ...]
    run: tuple[str, ...]


def _place(
    after: Cursor = "",
    trail: Annotated[str, Query(max_length=4000)] = "",
    run: Ids = None,
    earlier: Cursor = "",
    later: Cursor = "",
) -> Place:
    """Where an address leads; ``earlier`` and ``later`` are the buttons of the page before."""
    pages = tuple(trail.split()) if trail else ()
    if earlier:
        pages, after = (*pages, after or _FIRST)[-_TRAIL:], earlier
    elif later:
        after = pages[-1] if pages else ""
        pages = pages[:-1]
    ticked = tuple(dict.fromkeys(run or []))
    return Place("" if after == _FIRST else after, pages, ticked)


Where = Annotated[Place, Depends(_place)]


@router.get("/")
def run_list(request: Request, desk: TheDesk, search: Asked, where: Where) -> HTMLResponse:
    """Runs by day, latest first."""
    return _run_list(request, desk, search, where)


def _run_list(
    request: Request, desk: Desk, search: Search, where: Place, status: int = 200, wrong: str = ""
) -> HTMLResponse:
    wanted = as_filter(search, desk.database)
    try:
        found = desk.reader.runs(wanted, after=where.after or None, limit=PAGE_RUNS)
    except ValueError as error:
        raise ProblemError("invalid-request", str(error)) from error
    periods_of = desk.periods.of_rows(found.rows)
    ids = [row.id for row in found.rows]
    elsewhere = [desk.reader.run(one) for one in where.run[:_MOST_TICKED] if one not in ids]
    return page(
        request,
        "runs.html",
        status,
        days=_by_day(found.rows, periods_of),
        older=found.after,
        where=where,
        elsewhere=[row for row in elsewhere if row is not None],
        wrong=wrong,
        listed=listed,
        search=search,
        said=said,
        choices={
            "sheet": desk.reader.sheets(),
            "state": desk.reader.states(),
            "flag": desk.reader.flags(),
        },
        late=LATE,
        not_good=notes.NOT_GOOD,
        notes=notes.of_runs(desk.database, ids),
        labels=labels.of_runs(desk.database, ids),
        claimed=accounts.claimed(desk.database),
    )


def _by_day(
    rows: Sequence[RunRow], when: Mapping[str, periods.RunPeriod]
) -> list[tuple[float, list[tuple[str, list[RunRow]]]]]:
    """Rows that follow one another, by day and in it by period; the period of none is empty."""

    def day(row: RunRow) -> date:
        return formats.local(listed(row)).date()

    def period(row: RunRow) -> str:
        return when[row.id].name if row.id in when else ""

    days = [list(group) for _, group in groupby(rows, key=day)]
    return [
        (listed(of_day[0]), [(name, list(group)) for name, group in groupby(of_day, key=period)])
        for of_day in days
    ]


def _neighbours(desk: Desk, row: RunRow) -> tuple[str | None, str | None]:
    """The run before and the run after, by the time under which they are listed."""
    at = listed(row)
    older = desk.reader.runs(RunFilter(before=at - 0.0005), limit=1).rows
    for window in (_HOUR, 24 * _HOUR, 21 * 24 * _HOUR, 400 * 24 * _HOUR):
        newer = desk.reader.runs(RunFilter(since=at + 0.0015, before=at + window), limit=500).rows
        if newer:
            return (older[0].id if older else None), newer[-1].id
    return (older[0].id if older else None), None


def _reviewed(desk: Desk, run: str) -> tuple[RunRow, Review]:
    row = find(desk.reader, run)
    return row, review(row.began, desk.reader.events(run))


@dataclass(frozen=True, slots=True)
class RefusedForm:
    """A form of the page that was not taken: its name, why, and what was typed into it."""

    form: str
    wrong: str | list[Refused]
    typed: Mapping[str, str]


@router.get("/runs/{run}")
def run_page(request: Request, desk: TheDesk, run: RunId) -> HTMLResponse:
    """Everything about one run, for people."""
    return _run_page(request, desk, run)


def _run_page(
    request: Request, desk: Desk, run: str, status: int = 200, refused: RefusedForm | None = None
) -> HTMLResponse:
    row, seen = _reviewed(desk, run)
    prefs = preferences.load(desk.database)
    made = promises(desk.reader.forecasts(run), seen.line)
    note = notes.of_run(desk.database, run)
    older, newer = _neighbours(desk, row)
    label, period = labels.of_run(desk.database, run), desk.periods.of_rows([row]).get(run)
    return page(
        request,
        "run.html",
        status,
        row=row,
        seen=seen,
        listed=listed(row),
        older=older,
        newer=newer,
        note=note,
        label=label,
        period=period,
        wrong={"note": "", "label": "", **({refused.form: refused.wrong} if refused else {})},
        fields={
            "outcome": note.outcome,
            "note": note.note,
            "label": label.label if label else "",
            "period": period.name if period else "",
            **(refused.typed if refused else {}),
        },
        steps=_named_steps(seen),
        happened=happened.rows(seen, prefs.temperature),
        checks=checks(made, seen.entered_after_seconds),
        has_forecast=bool(made),
        effect=seen.session.developed.text if seen.session.developed else None,
        trace=svg.draw(of_run.trace(seen, desk.reader.samples(run), made, prefs.temperature)),
        forecast=svg.draw(of_run.forecast(seen, made)),
        findings=diagnosis.explain(
            note.outcome, diagnosis.facts(seen, prefs.temperature, house.bottles_of(desk, run))
        ),
        day=formats.local(listed(row)).date().isoformat(),
    )


def _named_steps(seen: Review) -> list[tuple[str, StepOutcome]]:
    there = seen.summary.steps if seen.summary else ()
    return list(zip(steps.names([str(step.kind) for step in there]), there, strict=True))


def picture(drawn: str, name: str) -> Response:
    """A drawn chart as a file to keep."""
    return Response(
        drawn,
        media_type="image/svg+xml",
        headers={
            "Content-Disposition": f'attachment; filename="{name}.svg"',
            "Cache-Control": "no-store",
        },
    )


def _chart(desk: Desk, run: str, which: str) -> series.Chart:
    _, seen = _reviewed(desk, run)
    made = promises(desk.reader.forecasts(run), seen.line)
    if which == "trace":
        unit = preferences.load(desk.database).temperature
        return of_run.trace(seen, desk.reader.samples(run), made, unit)
    if which == "forecast":
        return of_run.forecast(seen, made)
    raise ProblemError("not-found", f"There is no chart called {which}.")


@router.get("/runs/{run}/{which}.json")
def chart_json(desk: TheDesk, run: RunId, which: str) -> JSONResponse:
    """A chart's values, for the page's script."""
    return JSONResponse(
        series.as_json(_chart(desk, run, which)), headers={"Cache-Control": "no-store"}
    )


@router.get("/runs/{run}/{which}.svg")
def chart_svg(desk: TheDesk, run: RunId, which: str) -> Response:
    """A chart as a file."""
    return picture(svg.draw(_chart(desk, run, which)), f"{run}-{which}")


@router.post("/runs/{run}/note")
def write_note(
    request: Request,
    desk: TheDesk,
    who: Sent,
    run: RunId,
    version: Annotated[int, Form(ge=0)],
    outcome: Annotated[str, Form(max_length=20)] = "",
    note: Annotated[str, Form()] = "",
) -> Response:
    """Keep the teacher's outcome and note."""
    find(desk.reader, run)
    try:
        notes.write(desk.database, run, outcome, note.replace("\r\n", "\n"), version)
    except notes.Conflict:
        there = notes.of_run(desk.database, run)
        wrong = (
            "Not kept: it was changed from another place meanwhile, to "
            f"“{OUTCOMES.get(there.outcome, 'not judged yet')}”, note “{there.note}”. "
            "Keep yours again to put it in place of that."
        )
        refused = RefusedForm("note", wrong, {"outcome": outcome, "note": note})
        return _run_page(request, desk, run, 409, refused)
    except ValueError as error:
        refused = RefusedForm("note", f"Not kept: {error}.", {"outcome": outcome, "note": note})
        return _run_page(request, desk, run, 422, refused)
    audit.add(desk.database, who.name, "note written", run)
    return told.lead_to(desk, who, f"/runs/{run}#note")


@router.post("/runs/{run}/label")
def write_label(
    request: Request,
    desk: TheDesk,
    who: Sent,
    run: RunId,
    label: Annotated[str, Form(max_length=400)] = "",
    period: Annotated[str, Form(max_length=400)] = "",
    seen_label: Annotated[str, Form(max_length=20)] = "",
    seen_period: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """Give, change or remove the label of a run, and say in which period it was.

    A field that stands as it was shown changes nothing, whatever happened meanwhile.
    """
    found = desk.periods.of_rows([find(desk.reader, run)]).get(run)
    known = found.name if found else ""

    def refused(status: int, field: str, wrong: str) -> Response:
        typed = {"label": label, "period": period}
        told = [Refused(field.capitalize(), wrong, field)]
        return _run_page(request, desk, run, status, RefusedForm("label", told, typed))

    field = "label"
    try:
        given, field = labels.checked(label) if label.strip() else None, "period"
        period = periods.checked(period)
    except ValueError as error:
        return refused(422, field, f"{error}.")
    writes_period = period not in {seen_period, known}
    if writes_period and known != seen_period:
        return refused(
            409, "period", f"it is {known or 'empty'} by now. Keep yours again to replace it."
        )
    if (given.label if given else "") != seen_label:
        try:
            labels.give(desk.database, run, given, seen_label)
        except labels.Conflict:
            there = labels.of_run(desk.database, run)
            now = there.label if there else "empty"
            wrong = f"it is {now} by now, from another place. Keep yours again to replace it."
            return refused(409, "label", wrong)
        audit.add(desk.database, who.name, "label given" if given else "label removed", run)
    if writes_period:
        periods.write(desk.database, run, period)
        audit.add(desk.database, who.name, "period written", run)
    return told.lead_to(desk, who, f"/runs/{run}#label")


def _wanted(run: list[str]) -> list[str]:
    unique = list(dict.fromkeys(run))
    if _unlike(len(unique)):
        raise ProblemError("invalid-request", _unlike(len(unique)))
    return unique


def _unlike(number: int) -> str:
    """Why so many runs are not laid over each other; empty where they are."""
    if 2 <= number <= MOST_COMPARED:
        return ""
    return f"Choose 2 to {MOST_COMPARED} runs to lay over each other, not {number}."


def _compared(desk: Desk, ids: list[str]) -> tuple[list[tuple[RunRow, Review]], series.Chart]:
    found = [_reviewed(desk, run) for run in ids]
    unit = preferences.load(desk.database).temperature
    chart = of_run.compare(
        [
            of_run.Compared(
                f"{formats.local(listed(row)):%d %b %H:%M}",
                seen,
                desk.reader.samples(row.id),
                promises(desk.reader.forecasts(row.id), seen.line),
            )
            for row, seen in found
        ],
        unit,
    )
    return found, chart


@router.get("/compare")
def compare_page(
    request: Request, desk: TheDesk, search: Asked, where: Where, run: Ids = None
) -> HTMLResponse:
    """Two to four runs over each other; the list again where others are chosen."""
    chosen = list(dict.fromkeys(run or []))
    if wrong := _unlike(len(chosen)):
        return _run_list(request, desk, search, where, 422, wrong)
    found, chart = _compared(desk, chosen)
    taken = [_by_place(seen) for _, seen in found]
    places = steps.together([list(of) for of in taken])
    rows = [row for row, _ in found]
    ids = [row.id for row in rows]
    return page(
        request,
        "compare.html",
        found=found,
        steps=[(steps.name(place, places), [of.get(place) for of in taken]) for place in places],
        listed=listed,
        chart=svg.draw(chart),
        query="&".join(f"run={run}" for run in ids),
        notes=notes.of_runs(desk.database, ids),
        labels=labels.of_runs(desk.database, ids),
        periods=desk.periods.of_rows(rows),
    )


def _by_place(seen: Review) -> dict[steps.Place, StepOutcome]:
    there = seen.summary.steps if seen.summary else ()
    return dict(zip(steps.places(str(step.kind) for step in there), there, strict=True))


@router.get("/compare.json")
def compare_json(
    desk: TheDesk,
    run: Ids = None,
) -> JSONResponse:
    """The same for the page's script."""
    _, chart = _compared(desk, _wanted(run or []))
    return JSONResponse(series.as_json(chart), headers={"Cache-Control": "no-store"})


@router.get("/compare.svg")
def compare_svg(
    desk: TheDesk,
    run: Ids = None,
) -> Response:
    """The same as a file."""
    _, chart = _compared(desk, _wanted(run or []))
    return picture(svg.draw(chart), "runs-over-each-other")


@router.get("/rules")
def rules_page(request: Request) -> HTMLResponse:
    """The table of causes as it stands."""
    return page(request, "rules.html", rules=causes.RULES, counts=diagnosis.COUNTS)
