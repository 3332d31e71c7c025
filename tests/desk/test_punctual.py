"""Connections that ask nothing, and those that ask in time."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
import uvicorn

from wetside_desk.access import punctual
from wetside_desk.app import create_app

if TYPE_CHECKING:
    from tests.desk.invented import write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import write_live

#: What a silent connection is given in these tests, and long enough for it to be over.
SHORT, AFTER = 0.5, 1.5


@pytest.fixture
def port(folder: DeskSettings, monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """The port of a desk that waits only a short time for a first request."""
    monkeypatch.setattr(punctual, "FIRST_SECONDS", SHORT)
    write_live(folder.live_file)
    config = uvicorn.Config(
        create_app(folder), port=0, http=punctual.Punctual, log_level="critical", lifespan="on"
    )
    server = uvicorn.Server(config)
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        yield listening.getsockname()[1]
        server.should_exit = server.force_exit = True
        thread.join(timeout=10)


def drain(connection: socket.socket) -> None:
    """Read what is there, to the end where there is one."""
    while connection.recv(65536):
        pass


@pytest.mark.parametrize("begun", [b"", b"GET /live HTTP/1.1\r\nHost: 127.0.0.1\r\n"])
def test_who_asks_nothing_is_not_waited_for(port: int, begun: bytes) -> None:
    """A connection without a whole first request is closed, and leaves its place to others."""
    with socket.create_connection(("127.0.0.1", port), timeout=10) as silent:
        silent.sendall(begun)
        assert b"" == silent.recv(1)


def test_who_asked_in_time_is_served_for_as_long_as_it_takes(port: int) -> None:
    """The head may come in pieces, and a stream stays open."""
    with socket.create_connection(("127.0.0.1", port), timeout=10) as watching:
        for piece in (b"GET /v1/live HTTP/1.1\r\nHost: 127.0.0.1\r\n\r", b"\n"):
            watching.sendall(piece)
            time.sleep(0.05)
        assert watching.recv(65536).startswith(b"HTTP/1.1 200")
        time.sleep(AFTER)
        watching.setblocking(False)
        with pytest.raises(BlockingIOError):
            drain(watching)
