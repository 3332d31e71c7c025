"""The real station process, killed at three points of a roll, and a probe that comes unplugged."""

from __future__ import annotations

import itertools
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from wetside.devices.parts import button_gpios
from wetside.journal.reader import Reader
from wetside.journal.schema import EventRow
from wetside.readings import Place
from wetside.session import record, schedule
from wetside.session import sheet as sheets
from wetside.session.events import Kind
from wetside.session.machine import State
from wetside.session.presses import Button
from wetside.session.signals import Cue, CueName
from wetside.session.summary import summarise
from wetside.settings import Pins
from wetside.sim.apart import FastClock, write_pins
from wetside.sim.clock import VirtualClock
from wetside.sim.scripts import script
from wetside.sim.situation import Arrangement, Situation
from wetside.sim.student import Student
from wetside.sim.world import World

SPEED = 8.0

SHEET = """
format = 1
name = "Brief"
title = "A brief sheet of the tests"

[[step]]
kind = "temper"
celsius = 20.0
tolerance_celsius = 0.5
volume_millilitres = 300

[[step]]
kind = "develop"
solution = "developer"
seconds = 150
fill_seconds = 10
drain_seconds = 10
grace_seconds = 20
agitation = { pattern = "intermittent", first_seconds = 20, for_seconds = 5, every_seconds = 15 }

[[step]]
kind = "stop"
solution = "stop bath"
seconds = 40
grace_seconds = 20
agitation = { pattern = "continuous" }

[[step]]
kind = "fix"
solution = "fixer"
seconds = 90
grace_seconds = 20
agitation = { pattern = "intermittent", first_seconds = 10, for_seconds = 5, every_seconds = 15 }

[[step]]
kind = "hang"
"""


class SlowFingers(World):
    """Fingers that stay down long enough for a loaded machine to see the file change."""

    def press(self, button: Button, down_seconds: float = 0.7) -> None:
        """Press one of the station's buttons."""
        super().press(button, down_seconds)


class Sink:
    """A simulated sink in this process, and the station in another that may be killed."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "sheets").mkdir()
        (folder / "sheets" / "0-brief.toml").write_text(SHEET, encoding="utf-8")
        fast = FastClock(SPEED)
        self.clock = VirtualClock(start_seconds=fast.now(), speed=SPEED)
        situation = Situation(developer_celsius=21.2, bath_celsius=19.3)
        self.world = SlowFingers(self.clock, folder / "w1", situation, seed=4)
        write_pins(self.world.pins, folder / "pins", button_gpios(Pins()).values())
        setup = sheets.parse(SHEET, "brief").setup()
        self.student = Student(self.world, script("scripted", Arrangement.DEVELOPER), setup, seed=4)
        self.settings = folder / "station.toml"
        probe = self.world.probe_settings()[0]
        self.settings.write_text(
            f'''
            station = "sink-7"
            data_folder = "{folder / "data"}"
            live_folder = "{folder / "live"}"
            sheets_folder = "{folder / "sheets"}"
            w1_folder = "{self.world.tree.folder}"
            [[probe]]
            rom = "{probe.rom}"
            name = "{probe.name}"
            sd_celsius = 0.1
            ''',
            encoding="utf-8",
        )
        (folder / "data").mkdir()
        self.process: subprocess.Popen[bytes] | None = None
        self.dead: list[tuple[float, float]] = []
        self._cue_at = 0.0

    @property
    def journal(self) -> Path:
        """The station's journal."""
        return self.folder / "data" / "journal.sqlite"

    def start(self) -> None:
        """Start the station's process and wait until it is heard."""
        log = (self.folder / "station.log").open("ab")
        self.process = subprocess.Popen(
            [
                sys.executable, "-m", "wetside", "station",
                "--settings", str(self.settings),
                "--parts-from", str(self.folder / "pins"),
                "--speed", str(SPEED),
            ],
            stdout=log,
            stderr=log,
        )  # fmt: skip
        log.close()
        begun = time.time()
        self.turn_until(lambda: self._written_after(begun), 20.0 * SPEED)

    def kill(self) -> None:
        """SIGKILL, and half a virtual minute of nobody there."""
        assert self.process is not None
        at = self.clock.now()
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.clock.run_for(6.0)
        self.start()
        self.dead.append((at, self.clock.now()))

    def stop(self) -> None:
        """SIGTERM; the exit code must be 0."""
        assert self.process is not None
        self.process.terminate()
        assert self.process.wait(timeout=20) == 0
        self.process = None

    @property
    def live_file(self) -> Path:
        """The station's live file."""
        return self.folder / "live" / "live.json"

    def _written_after(self, moment: float) -> bool:
        return self.live_file.exists() and self.live_file.stat().st_mtime > moment

    def live(self) -> dict[str, object]:
        """What the live file says; empty when there is none."""
        try:
            values: dict[str, object] = json.loads(self.live_file.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return values

    def turn_until(self, done: object, seconds: float) -> None:
        """Let the sink go on and the student hear, until ``done``, at most so long."""
        assert callable(done)
        end = self.clock.now() + seconds
        while not done():
            assert self.clock.now() < end, (self.folder / "station.log").read_text()
            self.clock.run_for(0.1)
            cue = self.live().get("last_cue")
            if isinstance(cue, dict) and cue["at"] > self._cue_at:
                self._cue_at = cue["at"]
                self.student.hear(Cue(CueName(cue["name"]), cue["at"], cue["values"]))

    def state(self) -> object:
        """State of the run, as the live file says."""
        return self.live().get("state")

    def events(self) -> tuple[EventRow, ...]:
        """Every event of the one run."""
        with Reader(self.journal) as reader:
            (row,) = reader.runs().rows
            return reader.events(row.id)


@pytest.fixture
def sink(tmp_path: Path) -> Iterator[Sink]:
    """A sink whose station is stopped at the end."""
    sink = Sink(tmp_path)
    yield sink
    if sink.process is not None:
        sink.process.kill()
        sink.process.wait()
    sink.world.close()


@pytest.mark.slow
def test_a_roll_survives_three_kills_an_unplugged_probe_and_a_disturbed_bath(sink: Sink) -> None:
    """Killed while tempering, developing and fixing, the run ends with every cue in the journal."""
    sink.start()
    sink.student.begin()
    sink.turn_until(lambda: sink.state() == "tempering", 60)
    sink.turn_until(lambda: _passed(sink, 25), 60)
    sink.world.unplug("probe")
    sink.clock.after(40.0, lambda: sink.world.plug("probe"))
    sink.clock.after(50.0, lambda: sink.world.add_ice(0.05))
    sink.clock.after(55.0, lambda: sink.world.stir(Place.BATH))
    sink.turn_until(lambda: _passed(sink, 70), 120)
    sink.kill()
    sink.turn_until(lambda: sink.state() == "running", 1500)
    sink.turn_until(lambda: _in_step(sink, "develop", 60.0), 120)
    sink.kill()
    sink.turn_until(lambda: _in_step(sink, "fix", 30.0), 400)
    sink.kill()
    sink.turn_until(lambda: sink.state() == "finished", 400)
    sink.stop()

    events = sink.events()
    session = record.rebuild((row.kind, row.detail) for row in events)
    assert session.state is State.FINISHED
    assert [row.seq for row in events] == sorted({row.seq for row in events})
    _every_cue_came_once(sink, events)
    conditions = [row.detail["condition"] for row in events if row.kind == "probe-condition"]
    assert "failed read" in conditions
    assert "fine" in conditions
    assert [row.kind for row in events].count("run-taken-up") == 3
    summary = summarise(session)
    assert summary is not None
    assert all(step.over_seconds is None or step.over_seconds < 20 for step in summary.steps)
    with Reader(sink.journal) as reader:
        assert reader.health(check=True).problems == ()


def _passed(sink: Sink, seconds: float) -> bool:
    """Whether so long has passed since tempering began."""
    step = sink.live().get("step")
    return isinstance(step, dict) and step["elapsed_seconds"] >= seconds


def _in_step(sink: Sink, kind: str, seconds: float) -> bool:
    """Whether a step has been running for so long."""
    step = sink.live().get("step")
    return isinstance(step, dict) and step["kind"] == kind and step["elapsed_seconds"] >= seconds


def _every_cue_came_once(sink: Sink, events: tuple[EventRow, ...]) -> None:
    """Each step's schedule is in the journal whole; what came late fell into a time of death."""
    machine = [
        event for row in events if (event := record.decode(row.kind, row.detail)) is not None
    ]
    pours = [event.seconds for event in machine if event.kind is Kind.NOW]
    steps = sheets.parse(SHEET, "brief").step[1:-1]
    for step, (began, ended) in zip(steps, itertools.pairwise(pours), strict=True):
        wanted = [
            (entry.kind, round(entry.offset_seconds, 3))
            for entry in schedule.of_step(step)
            if began + entry.offset_seconds <= ended
        ]
        got = [
            (event.kind, round(event.seconds - began, 3))
            for event in machine
            if event.kind in schedule.KINDS and began <= event.seconds <= ended
        ]
        assert got == wanted
    for row in events:
        late, at = row.detail.get("late_seconds"), row.detail.get("at")
        if row.kind in set(schedule.KINDS) and isinstance(late, float) and late > 1.0:
            assert isinstance(at, float)
            assert any(begin - 1 <= at <= end + 1 for begin, end in sink.dead), row
