"""The page of the sink: the display, the three buttons and the taps, in any browser."""

import asyncio
import threading
from collections.abc import AsyncIterator, Callable, Mapping
from pathlib import Path

import uvicorn
from fastapi import FastAPI, HTTPException
from fastapi.responses import FileResponse
from fastapi.sse import EventSourceResponse, ServerSentEvent
from fastapi.staticfiles import StaticFiles
from pydantic import BaseModel, Field
from starlette.middleware.trustedhost import TrustedHostMiddleware

from wetside.commands.bench import hands
from wetside.commands.bench.desk import claim
from wetside.commands.bench.rig import Rig
from wetside.errors import BenchError
from wetside.units import clock_text

_HOST = "127.0.0.1"
_STATIC = Path(__file__).with_name("static")
_POLL_SECONDS = 0.1


class WishBody(BaseModel):
    """A wish as the page sends it."""

    deed: str = Field(max_length=20)
    what: str = Field(default="", max_length=20)
    amount: float = 0.0


class SpeedBody(BaseModel):
    """How fast the sink's time runs."""

    speed: float = Field(gt=0, le=200)


class Board:
    """The latest state, handed from the bench's thread to the page's."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._latest: dict[str, object] = {}
        self.version = 0

    def put(self, values: dict[str, object]) -> None:
        """Show this from now on."""
        with self._lock:
            self._latest = values
            self.version += 1

    def get(self) -> tuple[int, dict[str, object]]:
        """What is shown, and a number that grows with each change."""
        with self._lock:
            return self.version, self._latest


def create_app(
    board: Board,
    wish: Callable[[hands.Wish], None],
    set_speed: Callable[[float], None],
    stopping: threading.Event,
) -> FastAPI:
    """The page's application.

    ``wish`` and ``set_speed`` hand over to the bench's thread; ``stopping`` ends the streams.
    """
    app = FastAPI(title="wetside bench", docs_url=None, redoc_url=None, openapi_url=None)
    # other sites must not reach the bench under a name of theirs
    app.add_middleware(TrustedHostMiddleware, allowed_hosts=[_HOST, "localhost"])
    app.mount("/static", StaticFiles(directory=_STATIC), name="static")

    @app.get("/", include_in_schema=False)
    def page() -> FileResponse:
        return FileResponse(_STATIC / "sink.html")

    @app.get("/live", response_class=EventSourceResponse)
    async def live() -> AsyncIterator[ServerSentEvent]:
        seen = -1
        while not stopping.is_set():
            version, values = board.get()
            if version != seen and values:
                seen = version
                yield ServerSentEvent(data=values)
            await asyncio.sleep(_POLL_SECONDS)

    @app.post("/hands", status_code=202)
    def hands_do(body: WishBody) -> dict[str, str]:
        asked = hands.Wish(body.deed, body.what, body.amount)
        try:
            hands.check(asked)
        except BenchError as problem:
            raise HTTPException(422, str(problem)) from None
        wish(asked)
        return {"accepted": asked.deed}

    @app.post("/speed", status_code=202)
    def speed(body: SpeedBody) -> dict[str, float]:
        set_speed(body.speed)
        return {"speed": body.speed}

    return app


class SinkPage:
    """Serves the page while the block lasts."""

    def __init__(self, rig: Rig, port: int) -> None:
        claim(port, "--sink-port")
        self.url = f"http://{_HOST}:{port}/"
        self._rig = rig
        self._board = Board()
        self._stopping = threading.Event()
        app = create_app(self._board, self._wish, self._set_speed, self._stopping)
        self._server = uvicorn.Server(
            uvicorn.Config(
                app, host=_HOST, port=port, log_level="warning", timeout_graceful_shutdown=1
            )
        )
        self._thread = threading.Thread(target=self._server.run, name="sink page", daemon=True)

    def __enter__(self) -> "SinkPage":
        """Begin to serve."""
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Serve no more."""
        self._stopping.set()
        self._server.should_exit = True
        self._thread.join(timeout=5.0)

    def live(self, values: Mapping[str, object]) -> None:
        """Show a new screen; called on the bench's thread."""
        actions = [
            {"at": clock_text(at - self._rig.started), "text": text}
            for at, text in self._rig.world.actions[-12:]
        ]
        self._board.put(
            {
                "live": values,
                "truth": self._rig.world.truth(),
                "actions": actions,
                "speed": self._rig.clock.speed,
                "sounding": self._rig.sounding_hertz(),
            }
        )

    def _wish(self, wish: hands.Wish) -> None:
        def do() -> None:
            # what cannot be done now, such as standing poured developer in the bath, is told
            try:
                hands.check(wish)(self._rig.world, wish)
            except BenchError as problem:
                self._rig.world.say(f"cannot: {problem}")

        self._rig.clock.inject(do)

    def _set_speed(self, speed: float) -> None:
        def do() -> None:
            self._rig.clock.speed = speed

        self._rig.clock.inject(do)
