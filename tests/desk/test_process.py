"""The desk as a process: its streams, its port, its end, and its silence."""

from __future__ import annotations

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

from wetside.clock import Moment
from wetside.journal.reader import Reader
from wetside.journal.writer import Writer

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser
    from tests.desk.invented import SCHOOL_DAY, Story, local, tell_alone, write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import SCHOOL_DAY, Story, local, tell_alone, write_live


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
    """A second desk on the same address ends with 1, and says only what to try."""
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
    assert b"" == code.stdout
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
    expect(page.locator("#connection")).to_be_hidden()
    write_live(folder.live_file, state="ready")
    expect(page.locator("[data-word=head]")).to_have_text("Ready: pour the developer")
    expect(page.locator("#connection")).to_be_hidden()
    write_live(folder.live_file)
    expect(page.locator("[data-word=big]")).to_have_text("3:01")
    page.context.close()
