"""How late the agitation cues are: an idle machine, and one whose desk and backup are busy.

    python tests/benchmarks/cue_jitter.py --seconds 300 --stations 6 --viewers 200

Starts real ``wetside station`` processes in real time. Each processes a sheet whose agitation
begins and ends every five seconds, without a student: its buttons are files. Two figures are
read for every cue: ``late_seconds`` of the journal, which is when the loop took the event, and
the first change of the buzzer's pin at or after the moment that was due. The machine is first
left alone, then a desk is started over the first station, its live stream is read by many
clients at once, and the journal is backed up again and again.

Several stations give more cues in the same time; a Pi has one.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from wetside.devices.parts import button_gpios
from wetside.journal.reader import Reader
from wetside.session.presses import Button
from wetside.settings import Pins
from wetside.sim.tree import Tree

_ROM = "0316a2795e4b"
_SHEET = """
format = 1
name = "Often"
title = "Agitation every five seconds"
[[step]]
kind = "temper"
celsius = 20.0
tolerance_celsius = 0.3
volume_millilitres = 300
[[step]]
kind = "develop"
solution = "developer"
seconds = 7000
agitation = { pattern = "intermittent", first_seconds = 0, for_seconds = 2, every_seconds = 5 }
[[step]]
kind = "fix"
solution = "fixer"
seconds = 300
[[step]]
kind = "hang"
"""

#: Runs in the station first: every change of the buzzer's pitch with the moment it was made.
_NOTE_EDGES = """
import atexit, json, time
from gpiozero.pins.mock import MockPWMPin
edges = []
real = MockPWMPin._set_frequency
def noted(pin, value):
    real(pin, value)
    edges.append((time.clock_gettime(time.CLOCK_BOOTTIME), value))
MockPWMPin._set_frequency = noted
atexit.register(lambda: open({path!r}, "w").write(json.dumps(edges)))
from wetside.__main__ import main
main()
"""

#: Until the stations have poured in, agitate, and the machine is quiet again.
SETTLING_SECONDS = 15.0

_BACKUPS = """
import itertools, pathlib, sys, time
from wetside.journal.backup import copy
source, folder = map(pathlib.Path, sys.argv[1:])
for number in itertools.count():
    target = folder / f"{number % 2}.sqlite"
    target.unlink(missing_ok=True)
    copy(source, target)
    (folder / "count").write_text(str(number + 1))
"""


@dataclass(frozen=True, slots=True)
class Cues:
    """Lateness in seconds of the cues of one span: by the journal, and at the pin."""

    loop: tuple[float, ...]
    pin: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Result:
    """Both spans, and what the load was."""

    idle: Cues
    busy: Cues
    viewers: int
    messages: int
    backups: int


def quantile(values: Sequence[float], share: float) -> float:
    """The smallest value that so large a share of the values does not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


class Sink:
    """One station whose buttons are files."""

    def __init__(self, folder: Path, w1: Path, number: int) -> None:
        self.folder = folder
        (folder / "sheets").mkdir(parents=True)
        (folder / "data").mkdir()
        (folder / "pins").mkdir()
        (folder / "sheets" / "0-often.toml").write_text(_SHEET, encoding="utf-8")
        self._gpios = button_gpios(Pins())
        settings = folder / "station.toml"
        settings.write_text(
            f'station = "sink-{number}"\ndata_folder = "{folder / "data"}"\n'
            f'live_folder = "{folder / "live"}"\nsheets_folder = "{folder / "sheets"}"\n'
            f'w1_folder = "{w1}"\n[[probe]]\nrom = "{_ROM}"\nname = "probe"\n',
            encoding="utf-8",
        )
        code = _NOTE_EDGES.format(path=str(folder / "edges.json"))
        words = ["station", "--settings", str(settings), "--parts-from", str(folder / "pins")]
        self._process = subprocess.Popen([sys.executable, "-c", code, *words])

    @property
    def journal(self) -> Path:
        """The station's journal."""
        return self.folder / "data" / "journal.sqlite"

    def state(self) -> str:
        """State of the run; empty before the station is up."""
        try:
            text = (self.folder / "live" / "live.json").read_text(encoding="utf-8")
            return str(json.loads(text)["state"])
        except (OSError, ValueError):
            return ""

    def press(self, button: Button, seconds: float) -> None:
        """Hold a button down so long."""
        path = self.folder / "pins" / f"gpio{self._gpios[button]}"
        path.write_text("0", encoding="ascii")
        time.sleep(seconds)
        path.write_text("1", encoding="ascii")

    def come_to(self, states: set[str], seconds: float = 60.0) -> None:
        """Wait for one of the states."""
        end = time.monotonic() + seconds
        while self.state() not in states:
            if time.monotonic() > end or self._process.poll() is not None:
                raise RuntimeError(f"the station is {self.state()!r}, not one of {states}")
            time.sleep(0.2)

    def stop(self) -> None:
        """Stop the station; its edges are written then."""
        self._process.terminate()
        self._process.wait(timeout=30)

    def cues(self, begin: float, end: float) -> Cues:
        """Lateness of the cues that were due in a span of monotonic seconds."""
        text = (self.folder / "edges.json").read_text(encoding="utf-8")
        edges = [at for at, _ in json.loads(text)]
        loop, pin = [], []
        with Reader(self.journal) as reader:
            events = reader.events(reader.runs().rows[0].id)
        for event in events:
            at, late = event.detail.get("at"), event.detail.get("late_seconds")
            if event.kind not in {"agitate", "rest"} or not isinstance(at, float):
                continue
            if begin <= at <= end:
                assert isinstance(late, float)
                loop.append(late)
                pin.append(min(edge for edge in edges if edge >= at) - at)
        return Cues(tuple(loop), tuple(pin))


async def _view(port: int, end: float, counts: list[int], number: int) -> None:
    """Read the live stream until ``end``, as a browser does."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    request = (
        f"GET /v1/live HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nAccept: text/event-stream\r\n\r\n"
    )
    writer.write(request.encode("ascii"))
    await writer.drain()
    while (left := end - time.monotonic()) > 0:
        try:
            line = await asyncio.wait_for(reader.readline(), left)
        except TimeoutError:
            break
        if not line:
            break
        counts[number] += line.startswith(b"data:")
    writer.close()


async def _all_view(port: int, end: float, counts: list[int]) -> None:
    await asyncio.gather(*(_view(port, end, counts, number) for number in range(len(counts))))


def view_all(port: int, seconds: float, viewers: int) -> list[int]:
    """Let so many clients on this machine read the live stream; messages that each got."""
    counts = [0] * viewers
    asyncio.run(_all_view(port, time.monotonic() + seconds, counts))
    return counts


@contextmanager
def load(sink: Sink, folder: Path) -> Iterator[int]:
    """A desk over the station and a backup that begins anew when it has ended; the port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    folder.mkdir()
    desk = subprocess.Popen(
        [
            sys.executable, "-m", "wetside_desk",
            "--journal", str(sink.journal), "--live", str(sink.folder / "live" / "live.json"),
            "--data", str(folder / "desk"), "--port", str(port),
        ]
    )  # fmt: skip
    backup = subprocess.Popen([sys.executable, "-c", _BACKUPS, str(sink.journal), str(folder)])
    try:
        end = time.monotonic() + 60.0
        while True:
            try:
                socket.create_connection(("127.0.0.1", port), 1.0).close()
                break
            except OSError:
                if time.monotonic() > end or desk.poll() is not None:
                    raise RuntimeError("the desk did not start") from None
                time.sleep(0.2)
        yield port
    finally:
        for process in (desk, backup):
            process.kill()
            process.wait()


def measure(
    folder: Path,
    seconds: float,
    stations: int,
    viewers: int,
    idle_seconds: float | None = None,
) -> Result:
    """Both spans in one run; the idle one as long as the other, or ``idle_seconds``."""
    tree = Tree(folder / "w1")
    tree.add(_ROM)
    tree.show(_ROM, 23.0)
    sinks = [Sink(folder / f"sink{number}", tree.folder, number) for number in range(stations)]
    try:
        for number, sink in enumerate(sinks):
            sink.come_to({"idle"})
            sink.press(Button.NOW, 0.3)
            sink.come_to({"tempering"})
            sink.press(Button.PROBE, 0.3)
            time.sleep(1.0 + 0.37 * number)  # so that the stations do not speak at once
            sink.press(Button.NOW, 1.8)
            sink.come_to({"pouring", "running"})
        clock = time.CLOCK_BOOTTIME
        time.sleep(SETTLING_SECONDS)
        idle = [time.clock_gettime(clock), 0.0]
        time.sleep(seconds if idle_seconds is None else idle_seconds)
        idle[1] = time.clock_gettime(clock)
        with load(sinks[0], folder / "load") as port:
            busy = [time.clock_gettime(clock), 0.0]
            counts = view_all(port, seconds, viewers)
            busy[1] = time.clock_gettime(clock)
        backups = int((folder / "load" / "count").read_text(encoding="utf-8"))
    finally:
        for sink in sinks:
            sink.stop()
    spans = [
        Cues(tuple(late for one in found for late in one.loop),
             tuple(late for one in found for late in one.pin))
        for begin, end in (idle, busy)
        for found in [[sink.cues(begin, end) for sink in sinks]]
    ]  # fmt: skip
    served = sum(count > 0 for count in counts)
    return Result(spans[0], spans[1], served, sum(counts), backups)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=300.0, help="of each span")
    parser.add_argument("--stations", type=int, default=6)
    parser.add_argument("--viewers", type=int, default=200)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        load_before = os.getloadavg()[0]
        found = measure(Path(folder), asked.seconds, asked.stations, asked.viewers)
    print(f"{found.viewers} viewers got {found.messages} messages; {found.backups} backups")
    print(f"load average before {load_before:.1f}, after {os.getloadavg()[0]:.1f}")
    print("| span | seen at | cues | p50 ms | p99 ms | p99.9 ms | most ms |")
    print("|---|---|---|---|---|---|---|")
    for span, cues in (("idle", found.idle), ("busy", found.busy)):
        for where, values in (("loop", cues.loop), ("pin", cues.pin)):
            cells = [f"{1000 * quantile(values, share):.1f}" for share in (0.5, 0.99, 0.999, 1.0)]
            print(f"| {span} | {where} | {len(values)} | {' | '.join(cells)} |")


if __name__ == "__main__":
    main()
