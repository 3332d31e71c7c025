"""The desk as one application."""

import asyncio
import logging
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse
from fastapi.routing import APIRoute
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.staticfiles import StaticFiles

from wetside.errors import FileProblem, JournalError, JournalMissing
from wetside.journal.reader import Reader
from wetside_desk import __version__, backup, house, problems
from wetside_desk.access import carried
from wetside_desk.access.carried import Typed
from wetside_desk.access.certificate import keeper_of
from wetside_desk.access.claim import Claim
from wetside_desk.access.gate import Gate, OlderForm
from wetside_desk.access.headers import Guarded
from wetside_desk.access.limits import Limiter
from wetside_desk.access.once import Once
from wetside_desk.access.uploads import Uploads
from wetside_desk.api import bells, describing, health, runs, sheets, shelf, station
from wetside_desk.bells.periods import PeriodKeeper
from wetside_desk.caretaker import Caretaker
from wetside_desk.context import Desk
from wetside_desk.files.edits import CannotEdit
from wetside_desk.live import Relay
from wetside_desk.pages import account, at_sink, board, extras, public, shelf_tools, slip, summary
from wetside_desk.pages import bells as bell_pages
from wetside_desk.pages import runs as run_pages
from wetside_desk.pages import settings as settings_page
from wetside_desk.pages import sheets as sheet_pages
from wetside_desk.pages import shelf as shelf_pages
from wetside_desk.pages import station as station_page
from wetside_desk.pages.render import here, page
from wetside_desk.problems import Problem, ProblemError
from wetside_desk.settings import DeskSettings
from wetside_desk.shelf.counting import Counter
from wetside_desk.store import accounts, preferences
from wetside_desk.store.database import Database, DiskFull, Unusable
from wetside_desk.whereabouts import address_of

_log = logging.getLogger("wetside_desk")

#: Where the page of a problem leads, beside the runs and the sink: address and words.
_LEADS = {
    "not-signed-in": ("/sign-in", "Sign in"),
    "sheet-not-found": ("/sheets", "To the sheets"),
    "bottle-not-found": ("/shelf", "To the shelf"),
    "journal-unavailable": ("/station", "To the station page"),
}

_STATIC = Path(__file__).with_name("static")


def create_app(settings: DeskSettings) -> FastAPI:
    """A desk over these paths. Nothing is opened before the first question."""
    reader = Reader(settings.journal)
    database = Database(settings.data / "desk.sqlite3")
    claim = Claim(settings.live_folder, address_of(settings))
    certificate = keeper_of(settings) if settings.self_signed else None
    counter = Counter(reader, database, settings.files_folder / "shelf.toml")
    periods = PeriodKeeper(reader, database, settings.files_folder / "bells.toml")

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:  # noqa: ARG001  # as it is called
        backup.clear_unfinished(settings)
        caretaker = Caretaker(
            settings,
            reader,
            database,
            claim,
            counter=counter,
            periods=periods,
            certificate=certificate,
        )
        task = asyncio.create_task(caretaker.run(), name="caretaker")
        try:
            yield
        finally:
            task.cancel()
            caretaker.take_away()
            reader.close()
            database.close()

    app = FastAPI(
        title="wetside desk",
        version=__version__,
        summary="Runs and the state of one sink of a teaching darkroom",
        docs_url=None,  # both would load their scripts from the internet
        redoc_url=None,
        lifespan=lifespan,
    )
    app.state.desk = Desk(
        settings=settings,
        reader=reader,
        database=database,
        gate=Gate(database, claim, Limiter()),
        relay=Relay(settings.live_file),
        board=Relay(
            settings.live_file,
            lambda now: board.text(now, preferences.known(database).temperature),
        ),
        counter=counter,
        periods=periods,
        once=Once(),
        certificate=certificate,
    )
    for router in (
        station.router,
        runs.router,
        health.router,
        shelf.router,
        bells.router,
        sheets.router,
        extras.router,
        account.router,
        public.router,
        slip.router,
        run_pages.router,
        summary.router,
        station_page.router,
        settings_page.router,
        at_sink.router,
        shelf_tools.router,
        shelf_pages.router,
        bell_pages.router,
        sheet_pages.router,
    ):
        app.include_router(_with_head(router))
    app.mount("/static", StaticFiles(directory=_STATIC), name="static")
    app.add_middleware(GZipMiddleware, minimum_size=1000)
    app.add_middleware(Uploads, answer=_refused)
    app.add_middleware(Guarded, answer=_refused)
    _answer_problems(app)
    app.openapi = lambda: _described(app)  # type: ignore[method-assign]  # FastAPI's documented way
    return app


def _with_head(router: APIRouter) -> APIRouter:
    """Let every GET that ends also answer to HEAD; FastAPI does not by itself.

    A router outlives an application: what was added for an earlier one is not added again.
    """
    routes = [route for route in router.routes if isinstance(route, APIRoute)]
    there = {route.path for route in routes if route.methods == {"HEAD"}}
    for route in routes:
        if route.methods == {"GET"} and not route.is_sse_stream and route.path not in there:
            router.add_api_route(
                route.path.removeprefix(router.prefix),
                route.endpoint,
                methods=["HEAD"],
                response_class=route.response_class,
                response_model=None,
                include_in_schema=False,
                dependencies=route.dependencies[len(router.dependencies) :],
            )
    return router


def _wants_page(request: Request) -> bool:
    """Whether a browser asked, so that the answer should be a page."""
    accepts = request.headers.get("accept", "")
    return not request.url.path.startswith("/v1/") and "text/html" in accepts


def _to_sign_in(request: Request, *, claimed: bool) -> Response:
    """A person is led to the door, with the way back."""
    if not claimed:
        return RedirectResponse("/first-start", status_code=303)
    return RedirectResponse(f"/sign-in?{urlencode({'back': here(request)})}", status_code=303)


def _answer(
    request: Request,
    problem: Problem,
    detail: str,
    headers: dict[str, str] | None = None,
    extra: dict[str, Any] | None = None,
    typed: Sequence[Typed] = (),
) -> Response:
    status = int(problem.status)
    if _wants_page(request) and problem.name == "not-signed-in":
        try:
            claimed = accounts.claimed(request.app.state.desk.database)
        except JournalError as error:
            return _answer(request, problems.PROBLEMS["desk-unavailable"], str(error))
        if request.method == "GET":
            return _to_sign_in(request, claimed=claimed)
        if claimed:
            return account.sign_in_again(request, status, headers or {}, typed)
    if _wants_page(request):
        answer: Response = page(
            request, "problem.html", status, problem=problem, detail=detail, leads=_LEADS
        )
        answer.headers.update(headers or {})
        return answer
    return JSONResponse(
        problems.body(problem, detail, request.url.path, extra or {}),
        status_code=status,
        headers={"Cache-Control": "no-store", **(headers or {})},
        media_type=problems.MEDIA_TYPE,
    )


def _refused(request: Request, error: ProblemError, typed: Sequence[Typed] = ()) -> Response:
    late = isinstance(error, OlderForm) and typed and _wants_page(request)
    who = request.app.state.desk.gate.who(request) if late else None
    if who is not None:
        return account.send_again(request, int(error.problem.status), who, here(request), typed)
    return _answer(request, error.problem, error.detail, error.headers, error.extra, typed)


def _answer_problems(app: FastAPI) -> None:
    @app.exception_handler(ProblemError)
    async def refused(request: Request, error: ProblemError) -> Response:
        over = isinstance(error, OlderForm) or error.problem.name == "not-signed-in"
        typed = await carried.of_request(request) if over and _wants_page(request) else ()
        return await run_in_threadpool(_refused, request, error, typed)

    @app.exception_handler(DiskFull)
    def disk_is_full(request: Request, error: DiskFull) -> Response:
        return _answer(request, problems.PROBLEMS["disk-full"], str(error))

    @app.exception_handler(Unusable)
    def own_file_failed(request: Request, error: Unusable) -> Response:
        _log.error("%s %s: %s", request.method, request.url.path, error)
        return _answer(request, problems.PROBLEMS["desk-unavailable"], str(error))

    @app.exception_handler(JournalMissing)
    def never_started(request: Request, error: JournalMissing) -> Response:
        if not _wants_page(request):
            return journal_failed(request, error)
        claimed = accounts.claimed(request.app.state.desk.database)
        # a list without runs is no error; the page of one run that is not there is
        status = 404 if request.path_params else 200
        return page(request, "unstarted.html", status, claimed=claimed)

    @app.exception_handler(JournalError)
    def journal_failed(request: Request, error: JournalError) -> Response:
        return _answer(request, problems.PROBLEMS["journal-unavailable"], str(error))

    @app.exception_handler(FileProblem)
    def file_not_usable(request: Request, error: FileProblem) -> Response:
        told = house.refused(Path(error.file).name, error)
        return _answer(request, told.problem, told.detail, extra=told.extra)

    @app.exception_handler(CannotEdit)
    def file_not_editable(request: Request, error: CannotEdit) -> Response:
        return _answer(request, problems.PROBLEMS["file-refused"], f"{error}.")

    @app.exception_handler(HTTPException)
    def plain_status(request: Request, error: HTTPException) -> Response:
        problem = problems.for_status(error.status_code)
        detail = "" if error.detail in {"Not Found", "Method Not Allowed"} else str(error.detail)
        return _answer(request, problem, detail, dict(error.headers or {}))

    @app.exception_handler(RequestValidationError)
    def request_invalid(request: Request, error: RequestValidationError) -> Response:
        found = [
            {"place": ".".join(str(part) for part in entry["loc"]), "reason": str(entry["msg"])}
            for entry in error.errors()
        ]
        detail = "; ".join(f"{entry['place']}: {entry['reason']}" for entry in found)
        return _answer(
            request, problems.PROBLEMS["invalid-request"], detail, extra={"errors": found}
        )

    @app.exception_handler(Exception)
    def mistake(request: Request, error: Exception) -> Response:
        _log.error("%s %s failed", request.method, request.url.path, exc_info=error)
        return _answer(request, problems.PROBLEMS["internal-error"], "")


def _described(app: FastAPI) -> dict[str, Any]:
    """OpenAPI, made once."""
    if app.openapi_schema is None:
        app.openapi_schema = describing.described(
            app.title, app.version, app.summary or "", app.routes
        )
    return app.openapi_schema
