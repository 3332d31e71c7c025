"""Connections on which nothing is asked are closed, so that they take no others' places."""

from __future__ import annotations

import asyncio
from typing import cast

from uvicorn.protocols.http.h11_impl import H11Protocol

#: The first request is there by then, even from far away over a poor network.
FIRST_SECONDS = 20.0

_HEAD_ENDS = b"\r\n\r\n"


class Punctual(H11Protocol):
    """HTTP on one connection, which is closed where its first request does not come in time.

    What happens later is uvicorn's: it closes a connection that waits for a further request.
    """

    _late: asyncio.TimerHandle | None = None
    _tail = b""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Somebody is there."""
        super().connection_made(cast("asyncio.Transport", transport))
        self._late = asyncio.get_running_loop().call_later(FIRST_SECONDS, transport.close)

    def data_received(self, data: bytes) -> None:
        """A part of a request, perhaps of its head alone."""
        if self._late is not None:
            seen = self._tail + data
            self._tail = seen[1 - len(_HEAD_ENDS) :]
            if _HEAD_ENDS in seen:
                self._in_time()
        super().data_received(data)

    def connection_lost(self, exc: Exception | None) -> None:
        """It is over."""
        self._in_time()
        super().connection_lost(exc)

    def _in_time(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None
