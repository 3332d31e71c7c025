"""The live file and its relay."""

from __future__ import annotations

import asyncio
import json
from typing import TYPE_CHECKING

import pytest

from wetside_desk import live
from wetside_desk.live import Presence, Relay

if TYPE_CHECKING:
    from tests.desk.invented import write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import write_live


def test_fresh_file_is_running(folder: DeskSettings) -> None:
    """A file that was just replaced means that the station runs."""
    write_live(folder.live_file)
    now = live.read(folder.live_file)
    assert Presence.RUNNING is now.presence
    assert now.live is not None
    assert now.live.outlook is not None
    assert 181.0 == now.live.outlook.ready_in.p50


@pytest.mark.parametrize(("age", "presence"), [(4.0, Presence.RUNNING), (6.0, Presence.SILENT)])
def test_old_file_is_silence(folder: DeskSettings, age: float, presence: Presence) -> None:
    """A file older than five seconds means that the station does not run."""
    write_live(folder.live_file, age_seconds=age)
    assert presence is live.read(folder.live_file).presence


@pytest.mark.parametrize(
    ("age", "said"), [(30.0, "30 seconds ago"), (7300.0, "2 hours ago"), (400_000.0, "5 days ago")]
)
def test_a_silence_is_told_in_its_own_measure(folder: DeskSettings, age: float, said: str) -> None:
    """Nobody reckons days out of seconds."""
    write_live(folder.live_file, age_seconds=age)
    assert said in live.read(folder.live_file).says


def test_no_file_is_absence(folder: DeskSettings) -> None:
    """No file means that the station does not run, and the words say where it was looked for."""
    now = live.read(folder.live_file)
    assert Presence.ABSENT is now.presence
    assert str(folder.live_file) in now.says


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[]", b'{"format": 2}', b'{"step": 3}', b"\xff\xfe", b" " * 300_000]
)
def test_unusable_file_is_said(folder: DeskSettings, content: bytes) -> None:
    """A broken file, or one of a newer format, is reported and never raises."""
    folder.live_file.write_bytes(content)
    assert Presence.UNREADABLE is live.read(folder.live_file).presence


def test_a_number_without_end_is_no_live_file(folder: DeskSettings) -> None:
    """It is reported like any other broken file, before a page would have to write it."""
    write_live(folder.live_file)
    text = folder.live_file.read_text(encoding="utf-8")
    folder.live_file.write_text(text.replace('"planned_seconds": null', '"planned_seconds": 1e999'))
    assert Presence.UNREADABLE is live.read(folder.live_file).presence


def test_unknown_members_are_ignored(folder: DeskSettings) -> None:
    """A newer station may say more than this desk knows."""
    write_live(folder.live_file, mood="good", step={"kind": "fix", "weather": "fine"})
    now = live.read(folder.live_file)
    assert now.live is not None
    assert now.live.step is not None
    assert "fix" == now.live.step.kind


def test_bare_file_is_enough(folder: DeskSettings) -> None:
    """Members that an older station leaves out have their empty values."""
    folder.live_file.write_text("{}")
    assert Presence.RUNNING is live.read(folder.live_file).presence


def test_relay_tells_every_watcher_each_change(folder: DeskSettings) -> None:
    """Two watchers both get the state at once, then each change, then the silence."""
    write_live(folder.live_file)

    async def watch(relay: Relay, states: list[str], enough: int) -> None:
        async for _, text in relay.watch():
            now = json.loads(text or "")
            states.append(now["live"]["state"] if now["presence"] == "running" else now["presence"])
            if len(states) == enough:
                return

    async def scene() -> tuple[list[str], list[str]]:
        relay = Relay(folder.live_file, every_seconds=0.02)
        first: list[str] = []
        second: list[str] = []
        watchers = [asyncio.create_task(watch(relay, states, 3)) for states in (first, second)]
        await asyncio.sleep(0.2)
        write_live(folder.live_file, state="ready")
        await asyncio.sleep(0.2)
        write_live(folder.live_file, age_seconds=60, state="ready")
        await asyncio.wait_for(asyncio.gather(*watchers), 5)
        return first, second

    first, second = asyncio.run(scene())
    assert ["tempering", "ready", "silent"] == first
    assert first == second


def test_relay_goes_on_after_a_look_that_failed(folder: DeskSettings) -> None:
    """One mistake ends no stream: the next look makes up for it, and every change is told."""
    write_live(folder.live_file)
    failures = iter([True, True])

    def text(now: live.StationNow) -> str:
        if next(failures, False):
            raise OSError("disk I/O error")
        return now.live.state if now.live else ""

    async def scene() -> list[str | None]:
        relay = Relay(folder.live_file, text, every_seconds=0.02)
        states = []
        async for _, state in relay.watch():
            states.append(state)
            write_live(folder.live_file, state="ready")
            if len(states) == 2:
                break
        return states

    assert ["tempering", "ready"] == asyncio.run(asyncio.wait_for(scene(), 5))


def test_relay_says_that_all_is_as_it_was_only_while_it_looks(folder: DeskSettings) -> None:
    """Who watches hears so again and again, and nothing while no look succeeds."""
    write_live(folder.live_file)
    broken = False

    def text(now: live.StationNow) -> str:
        if broken:
            raise OSError("disk I/O error")
        return now.live.state if now.live else ""

    async def scene() -> list[str | None]:
        nonlocal broken
        relay = Relay(folder.live_file, text, every_seconds=0.02, still_seconds=0.05)
        told: list[str | None] = []

        async def watch() -> None:
            async for _, state in relay.watch():
                told.append(state)

        watcher = asyncio.create_task(watch())
        await asyncio.sleep(0.5)
        broken = True
        write_live(folder.live_file, state="ready")
        await asyncio.sleep(0.2)
        before = list(told)
        await asyncio.sleep(0.4)
        assert before == told
        watcher.cancel()
        return told

    told = asyncio.run(scene())
    assert "tempering" == told[0]
    assert {None} == set(told[1:])
    assert len(told) > 3
