"""Streams of what the station says, each for as long as its watcher may see it."""

from __future__ import annotations

from collections.abc import AsyncGenerator
from contextlib import aclosing
from time import monotonic

from fastapi import Request
from starlette.concurrency import run_in_threadpool

from wetside_desk.access.gate import still_watches
from wetside_desk.live import STILL_EVERY_SECONDS, Relay


async def watched(
    request: Request, relay: Relay, every_seconds: float = STILL_EVERY_SECONDS
) -> AsyncGenerator[tuple[int, str | None], None]:
    """As `Relay.watch`, until the right to it is gone: a session ended, the board was closed.

    It is asked about so often, and not at every word: hundreds may watch.
    """
    asked = monotonic()
    async with aclosing(relay.watch()) as states:
        async for told in states:
            if monotonic() - asked >= every_seconds:
                if not await run_in_threadpool(still_watches, request):
                    return
                asked = monotonic()
            yield told
