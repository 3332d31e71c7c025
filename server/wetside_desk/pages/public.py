"""Pages that need no sign-in: the board, what a problem means, the API in words."""

from collections.abc import AsyncIterable
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from fastapi.sse import EventSourceResponse, ServerSentEvent

from wetside_desk import live, problems
from wetside_desk.access.gate import seat, watcher
from wetside_desk.access.streams import watched
from wetside_desk.context import TheDesk
from wetside_desk.pages import board
from wetside_desk.pages.account import inside
from wetside_desk.pages.render import THEMES, page
from wetside_desk.problems import ProblemError
from wetside_desk.store import preferences

router = APIRouter(include_in_schema=False)


@router.get("/live", dependencies=[Depends(watcher)])
def live_page(request: Request, desk: TheDesk) -> HTMLResponse:
    """The board: what the display shows, and what it means."""
    now = live.read(desk.settings.live_file)
    return page(
        request, "live.html", board=board.words(now, preferences.known(desk.database).temperature)
    )


@router.get(
    "/live/words",
    response_class=EventSourceResponse,
    dependencies=[Depends(watcher), Depends(seat)],
)
async def live_words(request: Request, desk: TheDesk) -> AsyncIterable[ServerSentEvent]:
    """The board's texts, whenever one of them changes; between them that they still hold."""
    async for serial, text in watched(request, desk.board):
        if text is None:
            yield ServerSentEvent(event="still", raw_data=str(serial))
        else:
            yield ServerSentEvent(event="words", id=str(serial), raw_data=text, retry=2000)


@router.get("/problems")
def all_problems(request: Request) -> HTMLResponse:
    """Every problem on one page."""
    return page(request, "problems.html", problems=tuple(problems.PROBLEMS.values()))


@router.get("/problems/{name}")
def one_problem(request: Request, name: str) -> HTMLResponse:
    """What one problem means; the ``type`` of problem details leads here."""
    if name not in problems.PROBLEMS:
        raise ProblemError("not-found", f"No problem is called {name}.")
    return page(request, "problems.html", problems=(problems.PROBLEMS[name],))


@router.get("/api")
def api_page(request: Request) -> HTMLResponse:
    """The API in words, made from its own description."""
    return page(request, "api.html", api=request.app.openapi())


@router.post("/theme")
def choose_theme(
    request: Request,
    theme: Annotated[str, Form()],
    back: Annotated[str, Form(max_length=8000)] = "/",
) -> RedirectResponse:
    """Remember the look for this browser."""
    if theme not in THEMES:
        raise ProblemError("invalid-request", f"There is no look called {theme}.")
    answer = RedirectResponse(inside(back), status_code=303)
    answer.set_cookie(
        "theme",
        theme,
        max_age=366 * 86400,
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )
    return answer
