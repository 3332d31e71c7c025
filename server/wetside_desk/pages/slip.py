"""The page that the QR code on the display opens on a student's phone."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse

from wetside_desk.access import limits
from wetside_desk.access.gate import check_origin, client_of
from wetside_desk.context import Desk, TheDesk
from wetside_desk.pages.render import page
from wetside_desk.problems import ProblemError
from wetside_desk.store import labels

router = APIRouter(include_in_schema=False)


def _counted(request: Request, desk: Desk) -> None:
    desk.gate.limiter.take(limits.LABEL, client_of(request))
    desk.gate.limiter.take(limits.LABEL_ALL, "everybody")


# capital letters: they make the smallest QR code
@router.get("/L/{token}")
def label_page(request: Request, desk: TheDesk, token: str) -> HTMLResponse:
    """Ask for the label of the run that this link is for; nothing else is shown of it."""
    _counted(request, desk)
    if labels.run_of_link(desk.database, token) is None:
        raise ProblemError("link-not-valid")
    return page(request, "slip.html", token=token, wrong="", done=False)


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
        made = labels.checked(label, period)
    except ValueError as error:
        if labels.run_of_link(desk.database, token) is None:
            raise ProblemError("link-not-valid") from error
        return page(request, "slip.html", 422, token=token, wrong=f"{error}.", done=False)
    if labels.use_link(desk.database, token, made) is None:
        raise ProblemError("link-not-valid")
    return page(request, "slip.html", token=token, wrong="", done=True)
