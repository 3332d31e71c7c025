"""Runs: the list, one run, its readings."""

import re
from collections.abc import Iterator
from datetime import date
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from fastapi.responses import StreamingResponse
from pydantic import AfterValidator

from wetside.journal.reader import Reader
from wetside.journal.schema import RunFilter, RunRow
from wetside_desk import __version__, formats
from wetside_desk.access.gate import teacher
from wetside_desk.api import answers, asked, models
from wetside_desk.context import TheDesk
from wetside_desk.problems import ProblemError
from wetside_desk.review import OPEN_WORDS, checks, promises, review

router = APIRouter(
    prefix="/v1/runs",
    tags=["runs"],
    dependencies=[Depends(teacher), Depends(asked.known)],
    responses=answers.documented(
        "not-signed-in", "invalid-request", "journal-unavailable", "internal-error"
    ),
)

#: A ULID in Crockford's base 32.
_ULID = "^[0-9A-HJKMNP-TV-Z]{26}$"


def _an_id(run: str) -> str:
    """A text that no run can have for its id names nothing: that is no mistake in a form.

    Raises
    ------
    ProblemError
        ``run-not-found``; pydantic lets it through, as it is no ValueError.
    """
    if re.fullmatch(_ULID, run) is None:
        raise ProblemError("run-not-found", f"{run[:40]!r} is not the id of a run.")
    return run


RunId = Annotated[
    str,
    AfterValidator(_an_id),
    Path(
        description="id of the run, from the list",
        examples=["01KB0A7QJ8M3T5W9XYZ2C4D6EF"],
        json_schema_extra={"pattern": _ULID},
    ),
]
Word = Annotated[str | None, Query(min_length=1, max_length=64, pattern=r"^[^\x00-\x1f\x7f]+$")]

_CSV: dict[int | str, dict[str, Any]] = {
    200: {"content": {"text/csv": {"schema": {"type": "string"}}}, "description": "the table"}
}


def find(reader: Reader, run: str) -> RunRow:
    """The row of a run.

    Raises
    ------
    ProblemError
        The journal has no such run.
    """
    row = reader.run(run)
    if row is None:
        raise ProblemError("run-not-found", f"There is no run {run} in this journal.")
    return row


@router.get(
    "",
    response_model=models.RunList,
    summary="Runs, latest first",
    responses=answers.documented("invalid-request"),
)
def list_runs(
    request: Request,
    desk: TheDesk,
    state: Annotated[Word, Query(examples=["finished"])] = None,
    sheet: Annotated[Word, Query(description="name of the sheet", examples=["one reel 20"])] = None,
    station: Annotated[Word, Query(examples=["sink-1"])] = None,
    flag: Annotated[Word, Query(examples=["late-stop"])] = None,
    day: Annotated[
        date | None, Query(description="a day in the device's time zone", examples=["2026-11-25"])
    ] = None,
    window_hit: Annotated[
        bool | None,
        Query(description="poured inside the window, or outside", examples=[True]),
    ] = None,
    after: Annotated[
        str | None,
        Query(
            pattern=r"^-?[0-9]{1,18}\.[0-9]{1,18}$",
            description="where the page before ended; take it from `next`",
            examples=["1762938600000.7"],
        ),
    ] = None,
    limit: Annotated[int, Query(ge=1, le=200, examples=[50])] = 50,
) -> Response:
    """List the runs of the journal, filtered, a page at a time.

    Follow `next` for older ones: pages never repeat or skip a run, also while new ones begin.
    """
    since, before = _day(day)
    wanted = RunFilter(
        state=state,
        sheet_name=sheet,
        station=station,
        flag=flag,
        window_hit=window_hit,
        since=since,
        before=before,
    )
    try:
        page = desk.reader.runs(wanted, after=after, limit=limit)
    except ValueError as error:
        raise ProblemError("invalid-request", str(error)) from error
    following = None
    if page.after is not None:
        query = {**request.query_params, "after": page.after, "limit": str(limit)}
        following = f"/v1/runs?{urlencode(query)}"
    body = models.RunList(runs=[models.RunBrief.of(row) for row in page.rows], next=following)
    tag = answers.tag_of(body.model_dump_json())
    return answers.not_modified(request, tag) or answers.tagged(body, tag)


def _day(day: date | None) -> tuple[float | None, float | None]:
    if day is None:
        return None, None
    try:
        return formats.day_bounds(day)
    except ValueError:  # before there was Unix time, or far ahead: a day without runs
        return 0.0, 0.0


@router.get(
    "/{run}",
    response_model=models.RunAnswer,
    summary="One run",
    responses=answers.documented("run-not-found"),
)
def show_run(request: Request, desk: TheDesk, run: RunId) -> Response:
    """Everything logged of one run: steps, events, forecasts against what happened.

    A finished run does not change, so its answer carries a tag: send it as If-None-Match.
    """
    row = find(desk.reader, run)
    ended = row.state not in OPEN_WORDS
    tag = answers.tag_of(__version__, row)
    if ended and (short := answers.not_modified(request, tag)):
        return short
    seen = review(row.began, desk.reader.events(run))
    made = promises(desk.reader.forecasts(run), seen.line)
    body = models.RunAnswer(
        **models.RunBrief.of(row).model_dump(),
        axis_certain=seen.line.certain,
        steps=models.steps_of(seen),
        events=[models.event_of(seen, event) for event in seen.events],
        happened=models.Happened(
            entered_after_seconds=seen.entered_after_seconds,
            left_after_seconds=seen.left_after_seconds,
            poured_after_seconds=seen.poured_after_seconds,
        ),
        forecasts=[models.ForecastAnswer.of(promise) for promise in made],
        checks=[
            models.ForecastCheckAnswer.of(check)
            for check in checks(made, seen.entered_after_seconds)
        ],
        trace=f"/v1/runs/{run}/trace.csv",
    )
    if ended:
        return answers.tagged(body, tag)
    return Response(
        body.model_dump_json(),
        media_type="application/json",
        headers={"Cache-Control": "no-store"},
    )


@router.get(
    "/{run}/trace.csv",
    summary="The readings of one run",
    response_class=StreamingResponse,
    responses={**_CSV, **answers.documented("run-not-found")},
)
def trace(
    desk: TheDesk,
    run: RunId,
    *,
    columns: Annotated[
        str,
        Query(
            pattern="^(replay|all)$",
            description="`replay`: seconds,probe,place,celsius, which `wetside replay` reads; "
            "`all`: with condition and wall time",
            examples=["replay", "all"],
        ),
    ] = "replay",
    semicolon: Annotated[
        bool,
        Query(
            description="separate by semicolons, and write numbers with a decimal comma",
            examples=[True],
        ),
    ] = False,
    mark: Annotated[
        bool, Query(description="byte order mark for spreadsheets", examples=[True])
    ] = False,
) -> StreamingResponse:
    """Every reading from the begin of the run to its end; an empty temperature failed."""
    row = find(desk.reader, run)
    seen = review(row.began, desk.reader.events(run))
    header = ["seconds", "probe", "place", "celsius"]
    if columns == "all":
        header += ["condition", "utc", "local", "clock_trusted"]

    def rows() -> Iterator[list[object]]:
        for sample in desk.reader.samples(run):
            after = seen.line.seconds(sample.moment)
            if after is None:
                continue
            cells: list[object] = [
                round(after, 3),
                sample.probe,
                str(sample.place),
                sample.celsius,
            ]
            if columns == "all":
                cells += [
                    str(sample.condition),
                    formats.iso_utc(sample.moment.wall_seconds),
                    formats.iso_local(sample.moment.wall_seconds),
                    "yes" if sample.moment.trusted else "no",
                ]
            yield cells

    return StreamingResponse(
        formats.csv_lines(header, rows(), semicolon=semicolon, mark=mark),
        media_type="text/csv; charset=utf-8",
        headers={
            "Content-Disposition": f'attachment; filename="{run}.csv"',
            "Cache-Control": "no-store",
        },
    )
