"""Refusing a request before its body is taken."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.types import Send

from wetside_desk.problems import ProblemError

#: How a refusal is told: a page for people, problem details for programs.
Answer = Callable[[Request, ProblemError], Response]

#: A body up to this size is read to its end and thrown away: browsers show an answer only
#: when they could send all. A larger one ends with the connection.
_READ_OUT_BYTES = 1024 * 1024
_READ_OUT_SECONDS = 5.0


async def refuse(request: Request, send: Send, error: ProblemError, answer: Answer) -> None:
    """Answer with a problem; nothing of the body is kept."""
    length = request.headers.get("content-length", "")
    if length.isdecimal() and int(length) <= _READ_OUT_BYTES:
        try:
            async with asyncio.timeout(_READ_OUT_SECONDS):
                async for _ in request.stream():
                    pass
        except (TimeoutError, ClientDisconnect):
            pass
    told = await run_in_threadpool(answer, request, error)
    told.headers["Connection"] = "close"
    await told(request.scope, request.receive, send)
