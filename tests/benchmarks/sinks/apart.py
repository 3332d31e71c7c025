"""A simulated sink in this process and the real ``wetside station`` in another."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from wetside.devices.parts import button_gpios
from wetside.journal.reader import Reader
from wetside.journal.schema import EventRow
from wetside.session import sheet as sheets
from wetside.session.presses import Button
from wetside.session.signals import Cue, CueName
from wetside.settings import Pins
from wetside.sim.apart import FastClock, write_pins
from wetside.sim.clock import VirtualClock
from wetside.sim.scripts import script
from wetside.sim.situation import Arrangement, Situation
from wetside.sim.student import Student
from wetside.sim.world import World

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
grace_seconds = 20
agitation = { pattern = "intermittent", first_seconds = 20, for_seconds = 5, every_seconds = 15 }

[[step]]
kind = "fix"
solution = "fixer"
seconds = 60
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


class Apart:
    """A sink whose station may be killed, stalled and loaded.

    Parameters
    ----------
    folder
        Everything is made here.
    sheet
        Text of the sheet that is processed.
    speed
        How fast time runs for both sides.
    """

    def __init__(self, folder: Path, sheet: str = SHEET, *, speed: float = 8.0) -> None:
        self.folder = folder
        self.speed = speed
        for name in ("sheets", "data"):
            (folder / name).mkdir()
        (folder / "sheets" / "0-brief.toml").write_text(sheet, encoding="utf-8")
        self.clock = VirtualClock(start_seconds=FastClock(speed).now(), speed=speed)
        situation = Situation(developer_celsius=20.6, bath_celsius=18.0)
        self.world = SlowFingers(self.clock, folder / "w1", situation, seed=4)
        write_pins(self.world.pins, folder / "pins", button_gpios(Pins()).values())
        setup = sheets.parse(sheet, "brief").setup()
        self.student = Student(self.world, script("scripted", Arrangement.DEVELOPER), setup, seed=4)
        self.settings = folder / "station.toml"
        probe = self.world.probe_settings()[0]
        self.settings.write_text(
            f'station = "sink-1"\n'
            f'data_folder = "{folder / "data"}"\n'
            f'live_folder = "{folder / "live"}"\n'
            f'sheets_folder = "{folder / "sheets"}"\n'
            f'w1_folder = "{self.world.tree.folder}"\n'
            f'[[probe]]\nrom = "{probe.rom}"\nname = "{probe.name}"\nsd_celsius = 0.1\n',
            encoding="utf-8",
        )
        self.process: subprocess.Popen[bytes] | None = None
        self.words: list[str] = []
        self._cue_at = 0.0

    @property
    def journal(self) -> Path:
        """The station's journal."""
        return self.folder / "data" / "journal.sqlite"

    @property
    def log(self) -> str:
        """What the station said to its terminal."""
        return (self.folder / "station.log").read_text(encoding="utf-8")

    def start(self, *, before: str = "", environment: Mapping[str, str] | None = None) -> None:
        """Start the station's process and wait until it is heard.

        ``before`` is Python that runs in it first, to make something slow or broken.
        """
        code = f"{before}\nfrom wetside.__main__ import main\nmain()\n"
        words = [
            "station", "--settings", str(self.settings),
            "--parts-from", str(self.folder / "pins"), "--speed", str(self.speed),
        ]  # fmt: skip
        begun = time.time()
        with (self.folder / "station.log").open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-c", code, *words],
                stdout=log,
                stderr=log,
                env={**os.environ, **(environment or {})},
            )
        self.turn_until(lambda: self._written_after(begun), 30.0 * self.speed)

    def kill(self) -> None:
        """SIGKILL: no time for a last word."""
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> int:
        """SIGTERM; give the exit code."""
        assert self.process is not None
        self.process.terminate()
        return self.process.wait(timeout=30)

    def close(self) -> None:
        """End whatever still runs."""
        if self.process is not None and self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self.world.close()

    def live(self) -> dict[str, Any]:
        """What the live file says; empty when there is none."""
        try:
            text = (self.folder / "live" / "live.json").read_text(encoding="utf-8")
            values: dict[str, Any] = json.loads(text)
        except (OSError, ValueError):
            return {}
        return values

    def turn_until(self, done: Callable[[], bool], seconds: float) -> None:
        """Let the sink go on and the student hear, until ``done``, at most so long.

        Raises
        ------
        AssertionError
            It did not come to it; what the station said is shown.
        """
        end = self.clock.now() + seconds
        while not done():
            assert self.clock.now() < end, f"{self.live()}\n{self.log}"
            self._turn()

    def turn_for(self, seconds: float) -> None:
        """Let the sink go on; the student hears."""
        end = self.clock.now() + seconds
        while self.clock.now() < end:
            self._turn()

    def _turn(self) -> None:
        self.clock.run_for(0.1)
        live = self.live()
        if live:
            self.words.append(live["screen"]["text"])
        cue = live.get("last_cue")
        if isinstance(cue, dict) and cue["at"] > self._cue_at:
            self._cue_at = cue["at"]
            self.student.hear(Cue(CueName(cue["name"]), cue["at"], cue["values"]))

    def until(self, state: str, seconds: float) -> None:
        """Go on until the run is in a state."""
        self.turn_until(lambda: bool(self.live().get("state") == state), seconds)

    def events(self) -> tuple[EventRow, ...]:
        """Every event of the one run."""
        with Reader(self.journal) as reader:
            (row,) = reader.runs().rows
            return reader.events(row.id)

    def problems(self) -> tuple[str, ...]:
        """What the journal's own check finds wrong."""
        with Reader(self.journal) as reader:
            problems = reader.health(check=True).problems
        return ("not all was looked at",) if problems is None else problems

    def _written_after(self, moment: float) -> bool:
        path = self.folder / "live" / "live.json"
        return path.exists() and path.stat().st_mtime > moment
