"""What goes wrong with the station's process and the machine it runs on."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import cue_jitter
import pytest
from sinks.apart import SHEET, Apart

from wetside.journal.reader import Reader
from wetside.session import schedule
from wetside.session import sheet as sheets
from wetside.session.events import Kind
from wetside.station.speech import MISSED_AFTER_SECONDS


@pytest.mark.slow
def test_station_killed(unhurried: Apart) -> None:
    """Killed while tempering and while developing, the station takes the roll up where it is."""
    unhurried.start()
    unhurried.student.begin()
    unhurried.until("tempering", 60)
    unhurried.turn_for(2.0)
    unhurried.kill()
    unhurried.start()
    unhurried.tell_developer()
    unhurried.until("running", 900)
    unhurried.turn_for(20.0)
    unhurried.kill()
    unhurried.clock.run_for(6.0)
    unhurried.start()
    assert "running" == unhurried.live()["state"]
    unhurried.until("finished", 600)
    assert 0 == unhurried.stop()
    kinds = [event.kind for event in unhurried.events()]
    assert (1, 2) == (kinds.count("begin"), kinds.count("run-taken-up"))
    wanted = [entry.kind for entry in schedule.of_step(sheets.parse(SHEET, "brief").step[1])]
    developing = kinds[kinds.index("filled") : kinds.index("end-due")]
    assert wanted.count(Kind.AGITATE) == developing.count("agitate")
    assert wanted.count(Kind.REST) == developing.count("rest")
    with Reader(unhurried.journal) as reader:
        row = reader.runs().rows[0]
    assert ("finished", ()) == (row.state, row.flags)
    assert () == unhurried.problems()


@pytest.mark.slow
def test_station_stopped_in_a_roll(apart: Apart) -> None:
    """Stopped by hand in the developer and started again, the same roll goes on."""
    apart.start()
    apart.pour()
    assert 0 == apart.stop()
    assert {} == apart.live()
    apart.start()
    assert "running" == apart.live()["state"]
    apart.until("finished", 600)
    assert 0 == apart.stop()
    assert 1 == [event.kind for event in apart.events()].count("run-taken-up")
    assert () == apart.problems()


@pytest.mark.slow
def test_probe_bus_hangs(unhurried: Apart, heard: socket.socket, tmp_path: Path) -> None:
    """A read that never ends stops no cue; the watchdog is fed no more, so systemd starts anew."""
    unhurried.start(
        environment={"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "4000000"}
    )
    unhurried.pour()
    assert any(b"WATCHDOG=1" in message for message in _drained(heard))
    unhurried.world._timer.cancel()  # nobody replaces the file any more
    pipe = next(unhurried.world.tree.folder.glob("28-*")) / "w1_slave"
    pipe.unlink()
    os.mkfifo(pipe)
    unhurried.turn_for(30.0)
    _drained(heard)
    unhurried.turn_for(30.0)
    assert not any(b"WATCHDOG=1" in message for message in _drained(heard))
    assert any("probe: old reading" in words for words in unhurried.words)
    unhurried.until("draining", 200)
    unhurried.kill()
    assert unhurried.real_late_seconds()[-1] < MISSED_AFTER_SECONDS
    assert "stale" in [event.detail.get("condition") for event in unhurried.events()]


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
    often = SHEET.replace("every_seconds = 15", "every_seconds = 7")
    sink = Apart(tmp_path, often, speed=2.0)
    hogs: list[subprocess.Popen[bytes]] = []
    try:
        sink.start()
        sink.pour()
        before = len(sink.real_late_seconds())
        hogs += [
            subprocess.Popen([sys.executable, "-c", "while True: pass"])
            for _ in range(2 * (os.cpu_count() or 1))
        ]
        # eight of them, in twenty seconds of real time where none is late
        sink.turn_until(lambda: len(sink.real_late_seconds()) >= before + 8, 100.0)
        assert any("AGITATE" in words for words in sink.words)
        assert sink.real_late_seconds()[-1] < MISSED_AFTER_SECONDS
    finally:
        for hog in hogs:
            hog.kill()
            hog.wait()
        sink.close()


@pytest.mark.slow
def test_desk_serves_many(tmp_path: Path) -> None:
    """Forty readers of the live page and a backup without pause make no cue be missed."""
    found = cue_jitter.measure(tmp_path, seconds=12.0, stations=1, viewers=40, idle_seconds=0.0)
    assert 40 == found.viewers
    assert 40 * 12 <= found.messages
    assert found.backups > 0
    assert 4 <= len(found.busy.loop)
    assert max(found.busy.loop) < MISSED_AFTER_SECONDS
    assert max(found.busy.pin) < MISSED_AFTER_SECONDS
