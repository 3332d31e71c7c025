"""The page that the QR code on the display opens on a student's phone."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse

from wetside_desk.access import limits
from wetside_desk.access.gate import check_origin, client_of
from wetside_desk.context import Desk, TheDesk
from wetside_desk.pages.render import page
from wetside_desk.problems import ProblemError
from wetside_desk.store import labels, periods

router = APIRouter(include_in_schema=False)


def _counted(request: Request, desk: Desk) -> None:
    desk.gate.limiter.take(limits.LABEL, client_of(request))
    desk.gate.limiter.take(limits.LABEL_ALL, "everybody")


def _asks_period(desk: Desk, token: str) -> bool:
    """Whether the bells do not tell in which period the run of this link was.

    Raises
    ------
    ProblemError
        The link is for no run any more.
    """
    run = labels.run_of_link(desk.database, token)
    if run is None:
        raise ProblemError("link-not-valid")
    row = desk.reader.run(run)
    return row is None or run not in desk.periods.of_rows([row])


def _page(
    request: Request, desk: Desk, token: str, status: int = 200, wrong: str = ""
) -> HTMLResponse:
    ask = _asks_period(desk, token)
    return page(request, "slip.html", status, token=token, wrong=wrong, done=False, ask_period=ask)


# capital letters: they make the smallest QR code
@router.get("/L/{token}")
def label_page(request: Request, desk: TheDesk, token: str) -> HTMLResponse:
    """Ask for the label of the run that this link is for; nothing else is shown of it."""
    _counted(request, desk)
    return _page(request, desk, token)


@router.post("/L/{token}")
def give_label(
    request: Request,
    desk: TheDesk,
    token: str,
    label: Annotated[str, Form(max_length=40)] = "",
    period: Annotated[str, Form(max_length=40)] = "",
) -> HTMLResponse:
    """Keep the label; the link ends with it."""
    _counted(request, desk)
    check_origin(request)
    try:
        made, period = labels.checked(label), periods.checked(period)
    except ValueError as error:
        return _page(request, desk, token, 422, wrong=f"{error}.")
    ask = _asks_period(desk, token)
    run = labels.use_link(desk.database, token, made)
    if run is None:
        raise ProblemError("link-not-valid")
    if ask and period:
        periods.write(desk.database, run, period)
    return page(request, "slip.html", token=token, wrong="", done=True, ask_period=False)
