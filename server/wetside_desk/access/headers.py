"""Headers of every answer, and the largest body that is taken. Plain ASGI, so streams pass."""

from __future__ import annotations

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from wetside_desk import problems
from wetside_desk.problems import ProblemError

#: Everything a page loads comes from this device, and nothing in a page runs or styles itself.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)

_HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}

LARGEST_FORM = 64 * 1024
LARGEST_BACKUP = 512 * 1024 * 1024


class Guarded:
    """Puts the headers on and counts what comes in."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        largest = LARGEST_BACKUP if scope["path"] == "/settings/restore" else LARGEST_FORM
        length = Headers(scope=scope).get("content-length", "0")
        if not length.isdecimal() or int(length) > largest:
            await _too_large(scope, receive, send, largest)
            return
        taken = 0

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > largest:  # a body without its length
                raise ProblemError("too-large", f"At most {largest} bytes are taken here.")
            return message

        async def marked(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, counted, marked)


async def _too_large(scope: Scope, receive: Receive, send: Send, largest: int) -> None:
    body = problems.body(
        problems.PROBLEMS["too-large"],
        f"At most {largest} bytes are taken here.",
        scope["path"],
        {},
    )
    answer = JSONResponse(body, status_code=413, media_type=problems.MEDIA_TYPE)
    answer.headers.update({**_HEADERS, "Connection": "close"})
    await answer(scope, receive, send)
