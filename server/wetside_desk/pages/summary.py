"""Many runs in figures, and the reports and exports made of the same search."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse, Response, StreamingResponse

from wetside.development.bells import Bells
from wetside.journal.schema import RunFilter, RunPage, RunRow
from wetside.session.events import Kind
from wetside.session.run import State
from wetside_desk import digest, formats, house
from wetside_desk.access.gate import teacher
from wetside_desk.api.models import RunBrief
from wetside_desk.charts import bars
from wetside_desk.context import Desk, TheDesk
from wetside_desk.pages import summary_charts, words
from wetside_desk.pages.render import page
from wetside_desk.pages.runs import listed, picture
from wetside_desk.pages.search import Asked, Search, as_filter, said
from wetside_desk.problems import ProblemError
from wetside_desk.store import labels, notes

router = APIRouter(include_in_schema=False, dependencies=[Depends(teacher)])

#: Runs that a summary looks at, at most; the page says when there were more.
MOST_RUNS = 5_000
#: Runs that are read at a time.
_PAGE = 500
#: Runs on a printed report, at most.
MOST_PRINTED = 400
#: Slips on one print, at most.
MOST_SLIPS = 60


def _pages(desk: Desk, wanted: RunFilter, most: int) -> Iterator[tuple[RunRow, ...]]:
    """All runs of a search, latest first, a page at a time."""
    after: str | None = None
    given = 0
    while given < most:
        found = desk.reader.runs(wanted, after=after, limit=min(_PAGE, most - given))
        yield found.rows
        given += len(found.rows)
        after = found.after
        if after is None:
            return


def _every_run(desk: Desk, search: Search, most: int) -> list[RunRow]:
    return [row for rows in _pages(desk, as_filter(search, desk.database), most) for row in rows]


def _digest(desk: Desk, search: Search) -> digest.Digest:
    outcomes = notes.outcomes_of(desk.database)

    def told() -> Iterator[digest.Told]:
        for rows in _pages(desk, as_filter(search, desk.database), MOST_RUNS):
            when = desk.periods.of_rows(rows)
            for row in rows:
                yield digest.Told(
                    row,
                    formats.local(listed(row)),
                    when[row.id].name if row.id in when else "",
                    outcomes.get(row.id, ""),
                )

    return digest.digest(told())


def _charts(
    desk: Desk, found: digest.Digest, search: Search
) -> list[tuple[str, list[summary_charts.Drawn]]]:
    return summary_charts.groups(found, search, _taught(house.bell_table(desk).content))


def _taught(table: Bells | None) -> dict[str, str]:
    """The group of each period that always has the same one."""
    found: dict[str, set[str]] = {}
    for period in table.period if table else ():
        found.setdefault(period.name, set()).add(period.group or "")
    return {name: groups.pop() for name, groups in found.items() if len(groups) == 1}


@router.get("/summary")
def summary_page(request: Request, desk: TheDesk, search: Asked) -> HTMLResponse:
    """What goes wrong here, and when."""
    found = _digest(desk, search)
    return page(
        request,
        "summary.html",
        search=search,
        found=found,
        most=MOST_RUNS,
        sheets=desk.reader.sheets(),
        groups=[
            (head, [(one, bars.draw(one.title, one.bars) if one.bars else "") for one in charts])
            for head, charts in _charts(desk, found, search)
        ],
    )


@router.get("/summary/{which}.svg")
def summary_svg(desk: TheDesk, search: Asked, which: str) -> Response:
    """A chart of the summary as a file."""
    for _, charts in _charts(desk, _digest(desk, search), search):
        for one in charts:
            if one.name == which:
                drawn = bars.draw(one.title, one.bars, headed=True)
                return picture(drawn, f"summary-{which}")
    raise ProblemError("not-found", f"There is no chart called {which}.")


@router.get("/report")
def report_page(request: Request, desk: TheDesk, search: Asked) -> HTMLResponse:
    """A table of runs made for paper; the browser prints it or saves it as PDF."""
    rows = _every_run(desk, search, MOST_PRINTED)
    ids = [row.id for row in rows]
    return page(
        request,
        "report.html",
        rows=rows,
        span=words.span(listed(rows[-1]), listed(rows[0])) if rows else "",
        most=MOST_PRINTED,
        search=search,
        said=said,
        listed=listed,
        percents={row.id: _percent(desk, row) for row in rows},
        notes=notes.of_runs(desk.database, ids),
        labels=labels.of_runs(desk.database, ids),
        periods=desk.periods.of_rows(rows),
    )


def _percent(desk: Desk, row: RunRow) -> float | None:
    """The development in per cent of the nominal one, None where the station did not say."""
    told = [event for event in desk.reader.events(row.id) if event.kind == Kind.DEVELOPED]
    percent = told[-1].detail.get("percent") if told else None
    return float(percent) if isinstance(percent, int | float) else None


@router.get("/slips")
def slips_page(request: Request, desk: TheDesk, search: Asked) -> HTMLResponse:
    """Slips for the drying line: one for each film that was hung, to cut and clip to it."""
    hung = replace(as_filter(search, desk.database), state=State.FINISHED)
    rows = desk.reader.runs(hung, limit=MOST_SLIPS).rows
    ids = [row.id for row in rows]
    return page(
        request,
        "slips.html",
        rows=rows,
        most=MOST_SLIPS,
        search=search,
        listed=listed,
        labels=labels.of_runs(desk.database, ids),
        periods=desk.periods.of_rows(rows),
    )


_COLUMNS = (
    "run", "station", "utc", "local", "clock_trusted", "sheet", "state", "target_celsius",
    "poured_celsius", "window_hit", "planned_develop_seconds", "actual_develop_seconds",
    "flags", "outcome", "note", "label", "period",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Ours:
    """A run with what only the desk knows of it."""

    row: RunRow
    note: notes.Note
    label: str | None
    period: str | None


def _cells(found: _Ours) -> list[object]:
    row, note = found.row, found.note
    return [
        row.id,
        row.station,
        formats.iso_utc(listed(row)),
        formats.iso_local(listed(row)),
        "yes" if row.began.trusted else "no",
        row.sheet_name,
        row.state,
        row.target_celsius,
        row.poured_celsius,
        {None: None, True: "yes", False: "no"}[row.window_hit],
        row.planned_develop_seconds,
        row.actual_develop_seconds,
        " ".join(row.flags),
        note.outcome,
        note.note,
        found.label,
        found.period,
    ]


def _with_ours(desk: Desk, wanted: RunFilter) -> Iterator[_Ours]:
    """The runs of a search, read a page at a time.

    The first page is read at once: a journal that cannot be read is an answer of its own, not an
    export that breaks off.
    """
    return _from_page(desk, wanted, desk.reader.runs(wanted, limit=_PAGE))


def _from_page(desk: Desk, wanted: RunFilter, found: RunPage) -> Iterator[_Ours]:
    while True:
        ids = [row.id for row in found.rows]
        written = notes.of_runs(desk.database, ids)
        given = labels.of_runs(desk.database, ids)
        when = desk.periods.of_rows(found.rows)
        for row in found.rows:
            yield _Ours(
                row,
                written.get(row.id, notes.Note()),
                given[row.id].label if row.id in given else None,
                when[row.id].name if row.id in when else None,
            )
        if found.after is None:
            return
        found = desk.reader.runs(wanted, after=found.after, limit=_PAGE)


@router.get("/export/runs.csv")
def export_csv(
    desk: TheDesk, search: Asked, *, semicolon: bool = False, mark: bool = False
) -> StreamingResponse:
    """All runs of a search as a table, with what the teacher wrote."""
    rows = (_cells(found) for found in _with_ours(desk, as_filter(search, desk.database)))
    return StreamingResponse(
        formats.csv_lines(_COLUMNS, rows, semicolon=semicolon, mark=mark),
        media_type="text/csv; charset=utf-8",
        headers={
            "Content-Disposition": 'attachment; filename="wetside-runs.csv"',
            "Cache-Control": "no-store",
        },
    )


@router.get("/export/runs.jsonl")
def export_json(desk: TheDesk, search: Asked) -> StreamingResponse:
    """All runs of a search as one JSON object a line."""
    runs = _with_ours(desk, as_filter(search, desk.database))

    def lines() -> Iterator[str]:
        for found in runs:
            brief = RunBrief.of(found.row).model_dump()
            brief |= {
                "outcome": found.note.outcome or None,
                "note": found.note.note or None,
                "label": found.label,
                "period": found.period,
            }
            yield formats.json_line(brief)

    return StreamingResponse(
        lines(),
        media_type="application/jsonl",
        headers={
            "Content-Disposition": 'attachment; filename="wetside-runs.jsonl"',
            "Cache-Control": "no-store",
        },
    )
