"""Headers of every answer, and the largest body that is taken. Plain ASGI, so streams pass."""

from __future__ import annotations

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from wetside_desk.access.refusing import Answer, refuse
from wetside_desk.access.sizes import largest
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


class Guarded:
    """Puts the headers on and counts what comes in; ``answer`` tells of a refusal."""

    def __init__(self, app: ASGIApp, answer: Answer) -> None:
        self._app = app
        self._answer = answer

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        taken, begun, broken_off = 0, False, False

        async def headed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        async def marked(message: Message) -> None:
            nonlocal begun
            if broken_off and not begun:
                return  # what the form's reader makes of it; the refusal is told below
            begun = True
            await headed(message)

        most = largest(scope["path"])
        too_large = ProblemError("too-large", f"At most {most} bytes are taken here.")
        length = Headers(scope=scope).get("content-length", "0")
        if not length.isdecimal() or int(length) > most:
            await refuse(Request(scope, receive), headed, too_large, self._answer)
            return

        async def counted() -> Message:
            nonlocal taken, broken_off
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > most:  # a body without its length
                broken_off = True
                raise too_large
            return message

        await self._app(scope, counted, marked)
        if broken_off and not begun:
            await refuse(Request(scope, receive), headed, too_large, self._answer)
