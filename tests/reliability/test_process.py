"""What goes wrong with the station's process and the machine it runs on."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import cue_jitter
import pytest
from sinks.apart import SHEET, Apart

from wetside.journal.reader import Reader
from wetside.session import schedule
from wetside.session import sheet as sheets
from wetside.session.events import Kind
from wetside.session.presses import Button
from wetside.station.speech import MISSED_AFTER_SECONDS


def _cues(sink: Apart) -> list[tuple[str, float, bool]]:
    """Kind, lateness and whether it was missed, of every event of the schedule."""
    kinds = {"agitate", "rest", "drain-due", "end-due"}
    return [
        (event.kind, float(event.detail["late_seconds"]), bool(event.detail.get("missed")))  # type: ignore[arg-type]
        for event in sink.events()
        if event.kind in kinds
    ]


@pytest.mark.slow
def test_station_killed(apart: Apart) -> None:
    """Killed while tempering and while developing, the station takes the roll up where it is."""
    apart.start()
    apart.student.begin()
    apart.until("tempering", 60)
    apart.turn_for(20.0)
    apart.kill()
    apart.start()
    apart.until("running", 900)
    apart.turn_for(30.0)
    apart.kill()
    apart.clock.run_for(6.0)
    apart.start()
    assert "running" == apart.live()["state"]
    apart.until("finished", 600)
    assert 0 == apart.stop()
    kinds = [event.kind for event in apart.events()]
    assert (1, 2) == (kinds.count("begin"), kinds.count("run-taken-up"))
    wanted = [entry.kind for entry in schedule.of_step(sheets.parse(SHEET, "brief").step[1])]
    developing = kinds[kinds.index("filled") : kinds.index("end-due")]
    assert wanted.count(Kind.AGITATE) == developing.count("agitate")
    assert wanted.count(Kind.REST) == developing.count("rest")
    with Reader(apart.journal) as reader:
        row = reader.runs().rows[0]
    assert ("finished", ()) == (row.state, row.flags)
    assert () == apart.problems()


@pytest.mark.slow
def test_station_stopped_in_a_roll(apart: Apart) -> None:
    """Stopped by hand in the developer and started again, the same roll goes on."""
    apart.start()
    apart.student.begin()
    apart.until("running", 900)
    assert 0 == apart.stop()
    assert {} == apart.live()
    apart.start()
    assert "running" == apart.live()["state"]
    apart.until("finished", 600)
    assert 0 == apart.stop()
    assert 1 == [event.kind for event in apart.events()].count("run-taken-up")
    assert () == apart.problems()


@pytest.mark.slow
def test_probe_bus_hangs(apart: Apart, heard: socket.socket, tmp_path: Path) -> None:
    """A read that never ends stops no cue; the watchdog is fed no more, so systemd starts anew."""
    apart.start(environment={"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "4000000"})
    apart.student.begin()
    apart.until("running", 900)
    assert any(b"WATCHDOG=1" in message for message in _drained(heard))
    apart.world._timer.cancel()  # nobody replaces the file any more
    rom = apart.world.tree.roms[0]
    pipe = apart.world.tree.folder / f"28-{rom}" / "w1_slave"
    pipe.unlink()
    os.mkfifo(pipe)
    apart.turn_for(30.0)
    _drained(heard)
    apart.turn_for(30.0)
    assert not any(b"WATCHDOG=1" in message for message in _drained(heard))
    assert any("probe: old reading" in words for words in apart.words)
    apart.until("draining", 200)
    apart.kill()
    assert [] == [one for one in _cues(apart) if one[2]]
    assert "stale" in [event.detail.get("condition") for event in apart.events()]


@pytest.fixture
def heard(tmp_path: Path) -> Iterator[socket.socket]:
    """What stands in for systemd: a socket that is told of the station's life."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(str(tmp_path / "notify"))
        listening.setblocking(False)
        yield listening


def _drained(heard: socket.socket) -> list[bytes]:
    """Everything that was said to systemd since the last call."""
    messages = []
    while True:
        try:
            messages.append(heard.recv(4096))
        except OSError:
            return messages


@pytest.mark.slow
def test_machine_busy(tmp_path: Path) -> None:
    """Twice as many busy programs as processors make no cue of the developer be missed."""
    sink = Apart(tmp_path, speed=2.0)
    hogs: list[subprocess.Popen[bytes]] = []
    try:
        sink.start()
        sink.student.begin()
        sink.until("tempering", 60)
        sink.world.press(Button.NOW, 1.8)
        sink.until("running", 60)
        hogs += [
            subprocess.Popen([sys.executable, "-c", "while True: pass"])
            for _ in range(2 * (os.cpu_count() or 1))
        ]
        begun = time.monotonic()
        sink.turn_until(lambda: time.monotonic() - begun > 30.0, 100.0)
        assert any("AGITATE" in words for words in sink.words)
        assert [] == [one for one in _cues(sink) if one[2]]
        assert 4 <= len(_cues(sink))
    finally:
        for hog in hogs:
            hog.kill()
            hog.wait()
        sink.close()


@pytest.mark.slow
def test_desk_serves_many(tmp_path: Path) -> None:
    """Forty readers of the live page and a backup without pause make no cue be missed."""
    found = cue_jitter.measure(tmp_path, seconds=20.0, stations=1, viewers=40)
    assert 40 == found.viewers
    assert 40 * 20 <= found.messages
    assert found.backups > 0
    assert 6 <= len(found.busy.loop)
    assert max(found.busy.loop) < MISSED_AFTER_SECONDS
    assert max(found.busy.pin) < MISSED_AFTER_SECONDS
