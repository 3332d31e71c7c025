"""The live file, its relay and the board."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import socket
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import httpx2
import pytest
from playwright.sync_api import expect
from starlette.testclient import TestClient

from wetside.clock import Moment
from wetside.journal.reader import Reader
from wetside.journal.writer import Writer
from wetside_desk import live
from wetside_desk.live import Presence, Relay
from wetside_desk.pages import board

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser
    from tests.desk.invented import SCHOOL_DAY, YOUNG, Story, local, tell_alone, write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import SCHOOL_DAY, YOUNG, Story, local, tell_alone, write_live


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


def test_board_without_a_station_is_a_plain_sentence(folder: DeskSettings) -> None:
    """Nobody at the sink is helped by the path of a file."""
    words = board.words(live.read(folder.live_file))
    assert "Not running" == words["head"]
    assert "It starts with the device at the sink. Is that switched on?" == words["note"]


def test_board_counts_down_while_tempering(folder: DeskSettings) -> None:
    """The board gives the median wait and its interval."""
    write_live(folder.live_file)
    words = board.words(live.read(folder.live_file))
    assert "3:01" == words["big"]
    assert "until ready; between 2:30 and 3:50" == words["range"]
    assert "calm" == words["tone"]


def test_board_says_when_it_will_not_get_there(folder: DeskSettings) -> None:
    """A forecast without an end is put into words, not into a number."""
    write_live(
        folder.live_file,
        outlook={"ready_in": {"p05": None, "p50": None, "p95": None}, "never": 0.9},
    )
    words = board.words(live.read(folder.live_file))
    assert "will not get there within the hour without help" == words["range"]
    assert "hand" == words["tone"]


NEVER = {"ready_in": {"p05": None, "p50": None, "p95": None}, "never": 0.6}
WAYS = [
    {"kind": "swap to another bath", "words": "needs bath of 31 °C", "ready_in": 574.0},
    {"kind": "add hot water to the bath", "words": "add 1.3 L hot water", "ready_in": 600.0},
]


def test_the_board_gives_the_advice_of_the_display(folder: DeskSettings) -> None:
    """The best way and how soon it helps, in the teacher's unit, and not among the words aloud."""
    write_live(folder.live_file, outlook=NEVER, advice={"ways": WAYS, "check_dip": None})
    now = live.read(folder.live_file)
    words = board.words(now)
    assert "Needs bath of 31 °C; it is ready then in 9:34." == words["advice"]
    assert "Needs bath of 88 °F; it is ready then in 9:34." == board.words(now, "F")["advice"]
    assert "without help" in words["needs"]
    assert "9:34" not in words["said"]
    assert "Needs bath of 31 °C" in local(folder).get("/live").text


def test_the_board_asks_for_a_dip_where_the_display_does(folder: DeskSettings) -> None:
    """Where only a dip tells, neither a wait nor help for the bath stands there."""
    write_live(folder.live_file, outlook=NEVER, advice={"ways": WAYS}, only_a_dip_tells=True)
    words = board.words(live.read(folder.live_file))
    assert ("", "it may be ready now", "") == (words["big"], words["range"], words["advice"])
    assert words["needs"].startswith("Dip the probe into the developer")
    assert "without help" not in words["needs"]


@pytest.mark.parametrize(
    "changes",
    [
        {"advice": {"ways": WAYS}},
        {"outlook": NEVER, "advice": {"ways": []}},
        {"outlook": NEVER, "advice": {"ways": [{"words": "", "ready_in": 5.0}]}},
        {"outlook": NEVER, "advice": None},
        {"outlook": NEVER, "advice": {"ways": WAYS}, "state": "running"},
    ],
)
def test_without_need_or_way_there_is_no_advice(
    folder: DeskSettings, changes: dict[str, object]
) -> None:
    """A developer that gets there by itself is left alone, and so is one that was poured."""
    write_live(folder.live_file, YOUNG, **changes)
    assert "" == board.words(live.read(folder.live_file))["advice"]


def test_the_board_repeats_the_whole_display(folder: DeskSettings) -> None:
    """Every word counts, also the one beside the big number."""
    screen = {"head": "to 20.0 °C", "big": "17.0", "text": "to 20.0 °C in bath 17.0 ±0.3 °C never"}
    write_live(folder.live_file, screen=screen)
    assert screen["text"] == board.words(live.read(folder.live_file))["screen"]


@pytest.mark.parametrize("state", ["ready", "handover", "late", "holding", "interrupted"])
def test_board_says_what_needs_a_hand(folder: DeskSettings, state: str) -> None:
    """Each state that waits for somebody says for what."""
    write_live(folder.live_file, state=state)
    assert board.words(live.read(folder.live_file))["needs"]


@pytest.mark.parametrize("state", ["idle", "running", "finished", "abandoned"])
def test_board_tells_of_no_developer_that_is_not_there(folder: DeskSettings, state: str) -> None:
    """After the pour, or without a roll, an old estimate stays away; a probe in the bath counts."""
    write_live(folder.live_file, state=state)
    words = board.words(live.read(folder.live_file))
    assert ("", "19.2 °C ± 0.4") == (words["developer"], words["bath"])
    write_live(folder.live_file, state=state, places={"probe": "air"})
    words = board.words(live.read(folder.live_file))
    assert ("", "") == (words["developer"], words["bath"])


def test_board_speaks_in_the_teachers_unit(folder: DeskSettings) -> None:
    """With Fahrenheit chosen, 22.41 C stands as 72.3 F, its spread as wide."""
    write_live(folder.live_file)
    words = board.words(live.read(folder.live_file), "F")
    assert ("72.3 °F ± 0.4", "66.6 °F ± 0.7") == (words["developer"], words["bath"])


def test_board_reads_nothing_aloud_twice(folder: DeskSettings) -> None:
    """The words for screen readers stay the same while only seconds pass."""
    step = {"kind": "develop", "planned_seconds": 430, "agitating": False}
    said = []
    for elapsed in (100.0, 100.5, 130.0):
        write_live(folder.live_file, state="running", step={**step, "elapsed_seconds": elapsed})
        said.append(board.words(live.read(folder.live_file))["said"])
    assert 1 == len(set(said))


def test_live_page_says_it_without_script(folder: DeskSettings) -> None:
    """The page as served already holds every word of the board."""
    write_live(folder.live_file)
    text = local(folder).get("/live").text
    for word in (
        "3:01",
        "22.4 °C",
        "READY IN in bath 3:01 ±0.2 C dev 22.4 C",
        'aria-live="polite"',
    ):
        assert word in text


def test_pages_carry_no_inline_script_or_style(client: TestClient) -> None:
    """Scripts and styles come from files of this device only, so a strict policy can hold."""
    for address in ("/", "/live", "/api", "/problems", "/nowhere"):
        text = client.get(address, headers={"accept": "text/html"}).text
        assert " style=" not in text
        assert "<style" not in text
        assert " onclick" not in text
        assert text.count("<script") == text.count("<script src=")
        assert "http://" not in text.replace("http://www.w3.org/", "")
        assert "https://" not in text


def test_browsers_get_errors_as_pages(client: TestClient) -> None:
    """A person who mistypes gets a page, a program gets problem details."""
    page = client.get("/nowhere", headers={"accept": "text/html"})
    assert 404 == page.status_code
    assert "text/html; charset=utf-8" == page.headers["content-type"]
    assert "problem+json" in client.get("/nowhere").headers["content-type"]


def test_theme_is_remembered_and_leads_back(client: TestClient) -> None:
    """The look is kept in a cookie; a foreign way back is not followed."""
    answer = client.post(
        "/theme", data={"theme": "safelight", "back": "/live"}, follow_redirects=False
    )
    assert "/live" == answer.headers["location"]
    assert 'data-theme="safelight"' in client.get("/live").text
    for foreign in (
        "//elsewhere.example/",
        "///elsewhere.example/",
        "https://elsewhere.example/",
        "/\\elsewhere",
    ):
        away = client.post(
            "/theme", data={"theme": "dark", "back": foreign}, follow_redirects=False
        )
        assert "/" == away.headers["location"]


@pytest.fixture
def served(folder: DeskSettings) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """A desk in a process of its own; its address and the process."""
    tell_alone(folder.journal, Story())
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "wetside_desk",
            *("--journal", str(folder.journal), "--live", str(folder.live)),
            *("--data", str(folder.data), "--port", str(port)),
        ]
    )
    address = f"http://127.0.0.1:{port}"
    try:
        until = time.monotonic() + 60
        while time.monotonic() < until:
            try:
                httpx2.get(f"{address}/v1/station", timeout=2)
                break
            except httpx2.TransportError:
                time.sleep(0.1)
        yield address, process
    finally:
        process.kill()
        process.wait()


def test_process_streams_and_stops_with_a_stream_open(
    served: tuple[str, subprocess.Popen[bytes]], folder: DeskSettings
) -> None:
    """The stream gives each new state, and an open stream does not keep the desk from ending."""
    address, process = served
    write_live(folder.live_file)
    states = []
    with httpx2.stream("GET", f"{address}/v1/live", timeout=20) as stream:
        assert "text/event-stream; charset=utf-8" == stream.headers["content-type"]
        for line in stream.iter_lines():
            if line.startswith("data: "):
                states.append(json.loads(line.removeprefix("data: "))["live"]["state"])
                if len(states) == 1:
                    write_live(folder.live_file, state="ready")
                if len(states) == 2:
                    break
        began = time.monotonic()
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=20)
    assert ["tempering", "ready"] == states
    assert time.monotonic() - began < 10


def test_process_is_bound_to_this_machine(
    served: tuple[str, subprocess.Popen[bytes]],
) -> None:
    """By default nothing listens on an address that other machines reach."""
    address, _ = served
    port = int(address.rsplit(":", 1)[1])
    # /proc/net/tcp lists listening sockets (state 0A) with their address in hexadecimal
    with open("/proc/net/tcp", encoding="ascii") as table:  # noqa: PTH123  # a kernel file
        rows = [line.split() for line in table][1:]
    listening = [row[1] for row in rows if row[3] == "0A" and row[1].endswith(f":{port:04X}")]
    assert [f"0100007F:{port:04X}"] == listening


def test_taken_port_is_said(
    served: tuple[str, subprocess.Popen[bytes]], folder: DeskSettings
) -> None:
    """A second desk on the same address ends with 1, and says what to try."""
    address, _ = served
    code = subprocess.run(
        [
            sys.executable,
            "-m",
            "wetside_desk",
            *("--journal", str(folder.journal), "--live", str(folder.live)),
            *("--data", str(folder.data), "--port", address.rsplit(":", 1)[1]),
        ],
        capture_output=True,
        timeout=60,
        check=False,
        env={**os.environ, "PYTHONWARNINGS": "default"},
    )
    assert 1 == code.returncode
    assert address.encode() in code.stdout
    assert b"is a desk running already?" in code.stderr


def test_killing_the_desk_is_nothing_to_the_station(
    served: tuple[str, subprocess.Popen[bytes]], folder: DeskSettings
) -> None:
    """While the desk is asked and killed, the writer loses nothing and is never refused."""
    address, process = served
    written = 0
    slowest = 0.0
    moment = Moment(100.0, SCHOOL_DAY, True, "boot-b")  # the clock is trusted
    with Writer(folder.journal, "sink-1") as writer:
        for number in range(60):
            if number < 30:
                assert 200 == httpx2.get(f"{address}/v1/runs", timeout=30).status_code
            if number == 30:
                process.kill()
                process.wait()
            began = time.monotonic()
            writer.append(moment, "cue", {"number": number})
            slowest = max(slowest, time.monotonic() - began)
            written += 1
    with Reader(folder.journal) as reader:
        kept = [e for e in reader.latest_events("sink-1", 100) if e.moment.boot == "boot-b"]
        assert written == len(kept)
        assert () == reader.health(check=True).problems
    assert slowest < 2.0
    assert 200 == local(folder).get("/v1/runs").status_code


@pytest.mark.browser
def test_a_board_says_that_the_desk_is_silent(
    chrome: Browser, served: tuple[str, subprocess.Popen[bytes]], folder: DeskSettings
) -> None:
    """A desk that hangs closes no connection: the board says so by itself, and goes on later."""
    address, process = served
    write_live(folder.live_file)
    page = chrome.new_page()
    page.clock.install()
    page.goto(f"{address}/live")
    expect(page.locator("[data-word=big]")).to_have_text("3:01")
    page.wait_for_timeout(500)
    page.clock.fast_forward(12_000)
    expect(page.locator("#connection")).to_be_hidden()
    process.send_signal(signal.SIGSTOP)
    try:
        page.clock.fast_forward(14_000)
        expect(page.locator("#connection")).to_be_visible()
    finally:
        process.send_signal(signal.SIGCONT)
    write_live(folder.live_file, state="ready")
    expect(page.locator("[data-word=head]")).to_have_text("Ready: pour the developer")
    expect(page.locator("#connection")).to_be_hidden()
    page.clock.fast_forward(10_000)
    page.wait_for_timeout(500)
    write_live(folder.live_file)
    expect(page.locator("[data-word=big]")).to_have_text("3:01")
    page.context.close()
