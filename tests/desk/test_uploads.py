"""Large bodies: who sends them is asked before the first byte, and the disk before a backup."""

from __future__ import annotations

import asyncio
import shutil
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from starlette.testclient import TestClient
    from tests.desk.invented import distant

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import distant

RESTORE = "/settings/restore"
LONG = 300 * 1024 * 1024
FORM = b"multipart/form-data; boundary=b"


class Sending:
    """A request whose body comes only when it is asked for, or never."""

    def __init__(self, client: TestClient, length: int | None = LONG, **headers: str) -> None:
        self.app: Any = client.app
        self.asked = 0
        self.status = 0
        self.headers: dict[bytes, bytes] = {}
        self.body = b""
        self.begun = asyncio.Event()
        self.gone = asyncio.Event()
        given = {"host": "192.168.1.20:8470", **headers}
        if length is not None:
            given["content-length"] = str(length)
        cookies = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
        self.scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": "POST",
            "scheme": "http",
            "query_string": b"",
            "root_path": "",
            "client": ("192.168.1.77", 50000),
            "server": ("192.168.1.20", 8470),
            "headers": [
                (b"content-type", FORM),
                (b"cookie", cookies.encode()),
                *((name.encode(), value.encode()) for name, value in given.items()),
            ],
        }

    async def receive(self) -> dict[str, object]:
        """The body does not come: the client waits, then goes."""
        self.asked += 1
        self.begun.set()
        await self.gone.wait()
        return {"type": "http.disconnect"}

    async def send(self, message: dict[str, Any]) -> None:
        """What the desk answers."""
        if message["type"] == "http.response.start":
            self.status, self.headers = message["status"], dict(message["headers"])
        self.body += message.get("body", b"")

    async def to(self, path: str = RESTORE) -> Sending:
        """Send it there; gives itself with the answer."""
        scope = {**self.scope, "path": path, "raw_path": path.encode()}
        await asyncio.wait_for(self.app(scope, self.receive, self.send), 15)
        return self


def asked(sending: Callable[[], Awaitable[Sending]]) -> Sending:
    """One request from begin to end."""

    async def one() -> Sending:
        return await sending()

    return asyncio.run(one())


@pytest.mark.parametrize(
    ("path", "length"), [(RESTORE, LONG), (RESTORE, None), ("/sheets/one.toml/text", None)]
)
def test_a_stranger_is_refused_before_the_first_byte(
    claimed: DeskSettings, path: str, length: int | None
) -> None:
    """Nothing of the body is asked for, however long it is and whether it says so or not."""
    client = distant(claimed)
    found = asked(lambda: Sending(client, length).to(path))
    assert (401, 0) == (found.status, found.asked)
    assert b"close" == found.headers[b"connection"]


def test_a_form_of_another_site_is_refused_before_the_first_byte(teacher: TestClient) -> None:
    """The teacher's browser sends the cookie along, and the origin too."""
    found = asked(lambda: Sending(teacher, origin="http://elsewhere.example").to())
    assert (403, 0) == (found.status, found.asked)


def test_a_backup_that_the_disk_cannot_hold_is_refused(
    teacher: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Room for it twice and some to spare is asked for, and the answer says what is missing."""
    usage = shutil.disk_usage("/")
    monkeypatch.setattr(
        "wetside_desk.backup.disk_usage", lambda _: usage._replace(free=LONG + 60_000_000)
    )
    found = asked(lambda: Sending(teacher).to())
    assert (503, 0) == (found.status, found.asked)
    assert b"The disk is full" in found.body
    assert b"375 MB are free" in found.body


def test_one_backup_is_taken_at_a_time(teacher: TestClient) -> None:
    """The second is told to wait; when the first has ended, the next is taken."""

    async def three() -> tuple[Sending, Sending, Sending]:
        first, second, third = (Sending(teacher, 4096) for _ in range(3))
        taken = asyncio.create_task(first.to())
        await first.begun.wait()
        second.gone.set()
        await second.to()
        first.gone.set()
        third.gone.set()
        await taken
        return first, second, await third.to()

    first, second, third = asyncio.run(three())
    assert (400, 400) == (first.status, third.status)  # they were taken, and ended too early
    assert 0 < third.asked
    assert 503 == second.status
    assert b"60" == second.headers[b"retry-after"]
    assert b"being restored already" in second.body
