"""The list of runs as a page."""

from itertools import groupby
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from wetside.journal.schema import RunFilter, RunRow
from wetside_desk import formats
from wetside_desk.context import TheDesk
from wetside_desk.pages.render import page
from wetside_desk.problems import ProblemError

router = APIRouter(include_in_schema=False)

#: Runs on one page of the list.
PAGE_RUNS = 40


def listed(row: RunRow) -> float:
    """The wall time under which a run stands in lists."""
    return row.began.wall_seconds if row.listed_wall_seconds is None else row.listed_wall_seconds


@router.get("/")
def run_list(request: Request, desk: TheDesk, after: str | None = None) -> HTMLResponse:
    """Runs by day, latest first."""
    try:
        found = desk.reader.runs(RunFilter(), after=after, limit=PAGE_RUNS)
    except ValueError as error:
        raise ProblemError("invalid-request", str(error)) from error
    days = [
        (listed(rows[0]), rows)
        for rows in (
            list(group)
            for _, group in groupby(found.rows, key=lambda row: formats.local(listed(row)).date())
        )
    ]
    older = f"/?{urlencode({'after': found.after})}" if found.after else None
    return page(request, "runs.html", days=days, older=older, listed=listed)
