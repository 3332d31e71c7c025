"""Streams end with the right to them."""

from __future__ import annotations

import asyncio
import time
from contextlib import aclosing
from typing import TYPE_CHECKING

import pytest
from starlette.requests import Request

from wetside_desk.access.gate import COOKIE, still_watches
from wetside_desk.access.streams import watched
from wetside_desk.app import create_app
from wetside_desk.live import Relay
from wetside_desk.store import accounts, preferences
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.desk.invented import write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import write_live


def of_teacher(settings: DeskSettings) -> Request:
    """What a signed-in teacher asks of a new desk."""
    app = create_app(settings)
    token = accounts.open_session(app.state.desk.database, "a browser")
    scope = {
        "type": "http",
        "method": "GET",
        "path": "/v1/live",
        "headers": [(b"cookie", f"{COOKIE}={token}".encode())],
        "client": ("192.168.1.77", 50000),
        "app": app,
    }
    return Request(scope)


def sign_out(database: Database) -> None:
    """End the only session."""
    (found,) = accounts.sessions(database)
    accounts.revoke(database, found.digest)


def close_board(database: Database) -> None:
    """Keep the board to the teacher, and sign out."""
    preferences.save(database, preferences.Preferences(board="teacher"))
    sign_out(database)


def ends(settings: DeskSettings, change: Callable[[Database], object]) -> bool:
    """Whether a stream of a signed-in teacher ends soon after a change."""
    write_live(settings.live_file)
    request = of_teacher(settings)

    async def scene() -> bool:
        relay = Relay(settings.live_file, every_seconds=0.02, still_seconds=0.05)
        async with aclosing(watched(request, relay, every_seconds=0.1)) as stream:
            for _ in range(5):
                await anext(stream)
            change(request.app.state.desk.database)
            until = time.monotonic() + 1.0
            while time.monotonic() < until:
                if await anext(stream, "over") == "over":
                    return True
        return False

    return asyncio.run(scene())


def test_a_stream_ends_with_the_session(claimed: DeskSettings) -> None:
    """Signed out, or the board closed to others, somebody who watches is told no more."""
    assert ends(claimed, close_board)


def test_an_open_board_goes_on_without_a_session(claimed: DeskSettings) -> None:
    """Where everybody may watch, signing out ends no stream."""
    assert not ends(claimed, sign_out)


def test_watching_keeps_no_session_from_idling_out(
    claimed: DeskSettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A board that stands open all day is nobody who uses the desk."""
    request = of_teacher(claimed)
    database = request.app.state.desk.database
    preferences.save(database, preferences.Preferences(board="teacher"))
    (before,) = accounts.sessions(database)
    now = time.time()
    monkeypatch.setattr(time, "time", lambda: now + 3600.0)
    assert still_watches(request)
    assert [before] == accounts.sessions(database)
