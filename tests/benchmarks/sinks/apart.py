"""A simulated sink in this process and the real ``wetside station`` in another."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from sinks.rolls import conditions, late_seconds
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
from wetside.sim.sink import Sink
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
grace_seconds = 60
agitation = { pattern = "intermittent", first_seconds = 20, for_seconds = 5, every_seconds = 15 }

[[step]]
kind = "fix"
solution = "fixer"
seconds = 60
grace_seconds = 60
agitation = { pattern = "intermittent", first_seconds = 10, for_seconds = 5, every_seconds = 15 }

[[step]]
kind = "hang"
"""


#: Ready after some seconds. The room is not at the target: a probe in its air is not ready.
READY_SOON = Situation(developer_celsius=20.5, bath_celsius=18.0, sink=Sink(room_celsius=17.0))

#: A press of ``now`` this long pours outside of the window.
_LONG_PRESS_SECONDS = 1.8

#: Real seconds that `Apart.turn_until` waits at least before it gives up.
LEAST_SECONDS = 60.0


class SlowFingers(World):
    """Fingers that stay down long enough for a loaded machine to see the file change."""

    def press(self, button: Button, down_seconds: float = 0.9) -> None:
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
    situation
        The sink; one that is ready after some seconds, unless given.
    deaf_to
        Cues that this student does nothing about.

    Attributes
    ----------
    dead
        When no station was there to hear: from each kill until the next one was heard.
    """

    def __init__(
        self,
        folder: Path,
        sheet: str = SHEET,
        *,
        speed: float = 8.0,
        situation: Situation | None = None,
        deaf_to: Collection[CueName] = (),
    ) -> None:
        self.folder = folder
        self.speed = speed
        self.dead: list[tuple[float, float]] = []
        for name in ("sheets", "data"):
            (folder / name).mkdir()
        (folder / "sheets" / "0-brief.toml").write_text(sheet, encoding="utf-8")
        self.clock = VirtualClock(start_seconds=FastClock(speed).now(), speed=speed)
        situation = situation or READY_SOON
        self.world = SlowFingers(self.clock, folder / "w1", situation, seed=4)
        write_pins(self.world.pins, folder / "pins", button_gpios(Pins()).values())
        setup = sheets.parse(sheet, "brief").setup()
        whole = script("scripted", Arrangement.DEVELOPER)
        heard = tuple(rule for rule in whole.rules if rule.when not in deaf_to)
        self.student = Student(self.world, replace(whole, rules=heard), setup, seed=4)
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
        self._killed_at: float | None = None

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
        self.turn_until(lambda: self._written_after(begun), 0.0)
        if self._killed_at is not None:
            self.dead.append((self._killed_at, self.clock.now()))
            self._killed_at = None

    def kill(self) -> None:
        """SIGKILL: no time for a last word."""
        assert self.process is not None
        self._killed_at = self.clock.now()
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

    def tell_developer(self) -> None:
        """Press ``probe`` until the station says "in developer", as it asks after a new start."""
        self._press_probe()
        if self._place() != "developer":
            self._press_probe()

    def _press_probe(self) -> None:
        before = self._place()
        self.world.press(Button.PROBE)
        self.turn_until(lambda: self._place() not in {"", before}, 60.0)

    def _place(self) -> str:
        """Where the station says that its one probe is."""
        return str(next(iter(self.live().get("places", {}).values()), ""))

    def turn_until(self, done: Callable[[], bool], seconds: float) -> None:
        """Let the sink go on and the student hear, until ``done``, at most so long.

        A minute of real time is always given: what takes a process a second takes it many on
        a loaded machine, while the fast time runs away.

        Raises
        ------
        AssertionError
            It did not come to it; what the station said is shown.
        """
        end = self.clock.now() + max(seconds, LEAST_SECONDS * self.speed)
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

    def pour(self) -> None:
        """Begin a run and pour at once, whatever the temperature, until it runs.

        On a loaded machine a press may not be seen, and of cues that come together the student
        hears the last; so nothing here waits for either.
        """
        self.student.begin()
        while not self._comes_to({"tempering"}):
            self.world.press(Button.NOW)
        self.world.press(Button.NOW, _LONG_PRESS_SECONDS)
        while not self._comes_to({"pouring", "running"}):
            self.world.press(Button.NOW, _LONG_PRESS_SECONDS)
        self.until("running", 60.0)

    def _comes_to(self, states: set[str]) -> bool:
        """Go on until the run is in one of the states, or five real seconds have passed."""
        end = self.clock.now() + 5.0 * self.speed
        while self.clock.now() < end:
            if self.live().get("state") in states:
                return True
            assert self.process is not None
            assert self.process.poll() is None, self.log
            self._turn()
        return False

    def until(self, state: str, seconds: float) -> None:
        """Go on until the run is in a state."""
        self.turn_until(lambda: bool(self.live().get("state") == state), seconds)

    def events(self) -> tuple[EventRow, ...]:
        """Every event of the one run."""
        with Reader(self.journal) as reader:
            (row,) = reader.runs().rows
            return reader.events(row.id)

    def conditions(self) -> list[str]:
        """The conditions that the probes went through, as far as they are in the journal."""
        return conditions(self.events())

    def real_late_seconds(self) -> list[float]:
        """How much later than due each cue of the schedule came, in seconds of real time."""
        return sorted(seconds / self.speed for seconds in late_seconds(self.events()))

    def problems(self) -> tuple[str, ...]:
        """What the journal's own check finds wrong."""
        with Reader(self.journal) as reader:
            problems = reader.health(check=True).problems
        return ("not all was looked at",) if problems is None else problems

    def _written_after(self, moment: float) -> bool:
        path = self.folder / "live" / "live.json"
        return path.exists() and path.stat().st_mtime > moment
