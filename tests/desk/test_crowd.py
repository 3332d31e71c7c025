"""How many streams are open at a time, and what somebody hears who finds no place."""

from __future__ import annotations

import asyncio
from contextlib import ExitStack
from typing import TYPE_CHECKING, Any

import pytest

from wetside_desk.access.crowd import MOST, MOST_OF_ONE, Crowd
from wetside_desk.app import create_app
from wetside_desk.problems import ProblemError

if TYPE_CHECKING:
    from tests.desk.invented import write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import write_live


class Watching:
    """A client that watches a stream until it goes."""

    def __init__(self, app: Any, path: str, client: str) -> None:  # noqa: ANN401  # an ASGI application
        self.begun = asyncio.Event()
        self._gone = asyncio.Event()
        self._asked = False
        self.status = 0
        self.headers: dict[bytes, bytes] = {}
        scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": "GET",
            "scheme": "http",
            "path": path,
            "raw_path": path.encode(),
            "query_string": b"",
            "root_path": "",
            "headers": [(b"host", b"192.168.1.20:8470")],
            "client": (client, 50000),
            "server": ("192.168.1.20", 8470),
        }
        self._task = asyncio.create_task(app(scope, self._receive, self._send))

    async def _receive(self) -> dict[str, object]:
        if not self._asked:
            self._asked = True
            return {"type": "http.request", "body": b"", "more_body": False}
        await self._gone.wait()
        return {"type": "http.disconnect"}

    async def _send(self, message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start":
            self.status, self.headers = message["status"], dict(message["headers"])
        self.begun.set()

    async def go(self) -> None:
        """Close the page."""
        self._gone.set()
        await asyncio.wait_for(self._task, 10)


@pytest.mark.parametrize("path", ["/v1/live", "/live/words"])
def test_one_client_has_so_many_streams(claimed: DeskSettings, path: str) -> None:
    """One more is told when to ask again, others still get theirs, and who goes leaves a place."""
    write_live(claimed.live_file)
    app = create_app(claimed)

    async def watch(client: str) -> Watching:
        made = Watching(app, path, client)
        await asyncio.wait_for(made.begun.wait(), 10)
        return made

    async def story() -> list[int]:
        there = [await watch("192.168.1.77") for _ in range(MOST_OF_ONE)]
        one_more = await watch("192.168.1.77")
        assert b"10" == one_more.headers[b"retry-after"]
        assert b"close" == one_more.headers[b"connection"]
        other = await watch("192.168.1.78")
        await there[0].go()
        again = await watch("192.168.1.77")
        for one in (*there[1:], other, again):
            await one.go()
        return [one_more.status, other.status, again.status]

    assert [503, 200, 200] == asyncio.run(story())


def test_all_together_have_so_many_streams() -> None:
    """Nobody gets one more, not even this machine; a place that was left is given again."""
    crowd = Crowd()
    with ExitStack() as there:
        for number in range(MOST - MOST_OF_ONE - 1):
            there.enter_context(crowd.place(f"192.168.{number}.1"))
        for _ in range(MOST_OF_ONE + 1):
            there.enter_context(crowd.place("127.0.0.1", counted=False))
        for client, counted in (("127.0.0.1", False), ("192.168.1.9", True)):
            with (
                pytest.raises(ProblemError, match="250 streams"),
                crowd.place(client, counted=counted),
            ):
                pass
    with crowd.place("192.168.1.9"):
        pass
