"""The page that the QR code on the display opens on a student's phone."""

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse

from wetside.journal.schema import RunRow
from wetside.session.run import State
from wetside_desk.access import limits
from wetside_desk.access.gate import check_origin, client_of
from wetside_desk.context import Desk, TheDesk
from wetside_desk.pages import words
from wetside_desk.pages.forms import Refused
from wetside_desk.pages.render import page
from wetside_desk.problems import ProblemError
from wetside_desk.store import labels, periods

router = APIRouter(include_in_schema=False)


def _counted(request: Request, desk: Desk) -> None:
    desk.gate.limiter.take(limits.LABEL, client_of(request))
    desk.gate.limiter.take(limits.LABEL_ALL, "everybody")


def _run_of(desk: Desk, token: str) -> RunRow:
    """The run of this link.

    Raises
    ------
    ProblemError
        The link is for no run any more.
    """
    run = labels.run_of_link(desk.database, token)
    row = None if run is None else desk.reader.run(run)
    if row is None:
        raise ProblemError("link-not-valid")
    return row


def which(row: RunRow) -> str:
    """The roll as whoever hung it knows it: when, and with which sheet; nothing else of it."""
    if row.ended is None:
        return f"Roll of {row.sheet_name}"
    did = "hung" if row.state == State.FINISHED else "ended"
    doubt = "" if row.ended.trusted else " by a clock that was not set"
    return f"Roll {did} at {words.clock(row.ended.wall_seconds)}{doubt}, {row.sheet_name}"


def _page(
    request: Request,
    desk: Desk,
    token: str,
    status: int = 200,
    *,
    stage: str = "ask",
    wrong: Sequence[Refused] = (),
    label: str = "",
    period: str = "",
) -> HTMLResponse:
    row = _run_of(desk, token)
    return page(
        request,
        "slip.html",
        status,
        token=token,
        stage=stage,
        roll=which(row),
        wrong=wrong,
        label=label,
        period=period,
        # the bells tell most periods
        ask_period=row.id not in desk.periods.of_rows([row]),
    )


# capital letters: they make the smallest QR code
@router.get("/L/{token}")
def label_page(request: Request, desk: TheDesk, token: str) -> HTMLResponse:
    """Ask for the label of the run that this link is for."""
    _counted(request, desk)
    return _page(request, desk, token)


@router.post("/L/{token}")
def give_label(
    request: Request,
    desk: TheDesk,
    token: str,
    label: Annotated[str, Form(max_length=40)] = "",
    period: Annotated[str, Form(max_length=40)] = "",
    sure: Annotated[str, Form(max_length=3)] = "",
) -> HTMLResponse:
    """Show the label once more; keep it when ``sure`` is yes, and the link ends with it."""
    _counted(request, desk)
    check_origin(request)
    field = "label"
    try:
        made, field = labels.checked(label), "period"
        period = periods.checked(period)
    except ValueError as error:
        wrong = [Refused("", f"{error}.", field)]
        return _page(request, desk, token, 422, wrong=wrong, label=label, period=period)
    if sure != "yes":
        stage = "ask" if sure == "no" else "sure"
        return _page(request, desk, token, stage=stage, label=made.label, period=period)
    row = _run_of(desk, token)
    ask = row.id not in desk.periods.of_rows([row])
    if labels.use_link(desk.database, token, made) is None:
        raise ProblemError("link-not-valid")
    if ask and period:
        periods.write(desk.database, row.id, period)
    return page(request, "slip.html", stage="done", label=made.label, roll=which(row))
