"""Inside the machine under test: the simulated sink with a scripted student.

Run by the installed program's own Python, in place of the parts. It writes the probe's kernel file
and the buttons' pin files below /run/proof, hears the station through its live file and presses
what the station asks for.
"""

from __future__ import annotations

import json
import os
import time
from functools import partial
from pathlib import Path

from wetside import settings
from wetside.devices.parts import button_gpios
from wetside.outlook import Setup
from wetside.readings import Place
from wetside.session import sheet as sheets
from wetside.session.presses import Button
from wetside.session.signals import Cue, CueName
from wetside.sim.apart import FastClock, write_pins
from wetside.sim.clock import VirtualClock
from wetside.sim.scripts import script
from wetside.sim.situation import Arrangement, Situation
from wetside.sim.student import Student
from wetside.sim.world import World

SPEED = float(os.environ.get("WETSIDE_SPEED", "4"))
PROOF = Path(os.environ.get("WETSIDE_PROOF", "/run/proof"))
SETTINGS = Path(os.environ.get("WETSIDE_SETTINGS", "/etc/wetside/station.toml"))


class SlowFingers(World):
    """Fingers that stay down long enough for an emulated machine to see the file change."""

    def press(self, button: Button, down_seconds: float = 1.0) -> None:
        """Press one of the station's buttons."""
        super().press(button, down_seconds)


class Unanswered:
    """Something that stands for longer than by the book; told after so many seconds each."""

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._since: float | None = None

    def too_long(self, now: float, *, stands: bool) -> bool:
        """Whether it is time to do something about it."""
        if self._since is None or not stands:
            self._since = now
        over = now > self._since + self._seconds
        if over:
            self._since = now
        return over


def live(file: Path) -> dict[str, object]:
    """What the station says now; empty when it says nothing."""
    try:
        values: dict[str, object] = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return values


def _asks(now: dict[str, object]) -> bool:
    """Whether the display asks if the probe is still in the developer."""
    screen = now.get("screen")
    return isinstance(screen, dict) and "press probe twice" in screen["lines"]


def _untold(now: dict[str, object]) -> bool:
    """Whether the station tempers and does not know of a probe in the developer."""
    places = now.get("places")
    told = isinstance(places, dict) and "developer" in places.values()
    return now.get("state") == "tempering" and not told


def new_student(world: World, setup: Setup, number: int) -> Student:
    """A student who tempers with the probe in the developer."""
    return Student(world, script("scripted", Arrangement.DEVELOPER), setup, seed=number)


def main() -> None:
    """Take one roll after the other, for ever."""
    loaded = settings.load(SETTINGS)
    assert loaded.sheets_folder is not None
    setup = sheets.load(sheets.available([loaded.sheets_folder])[0]).setup()
    clock = VirtualClock(start_seconds=FastClock(SPEED).now(), speed=SPEED)
    situation = Situation(developer_celsius=20.6, bath_celsius=19.8)
    world = SlowFingers(clock, PROOF / "w1", situation, seed=4)
    write_pins(world.pins, PROOF / "pins", button_gpios(loaded.pins).values())
    student, number = new_student(world, setup, 1), 1
    heard, asked, began, dipped = 0.0, 0.0, False, False
    told, late, untold = 0.0, Unanswered(20.0), Unanswered(40.0)
    while True:
        clock.run_for(0.2)
        now = live(loaded.live_folder / "live.json")
        state, cue = now.get("state"), now.get("last_cue")
        if isinstance(cue, dict) and cue["at"] > heard:
            heard = cue["at"]
            student.hear(Cue(CueName(cue["name"]), cue["at"], cue["values"]))
        if state == "interrupted" and time.monotonic() > asked + 4.0:
            asked = time.monotonic()
            world.press(Button.NOW)
        if late.too_long(clock.now(), stands=state == "late"):
            # its cue came before the station was started anew; display and buzzer say it still
            world.press(Button.NOW)
        if state == "tempering" and not began and not dipped:
            # a run that was taken up: this sink is new, its probe still lies beside the bath
            dipped = True
            world.move("probe", Place.DEVELOPER)
            if _untold(now):
                clock.after(1.0, partial(world.press, Button.PROBE))
        if untold.too_long(clock.now(), stands=_untold(now)):
            # the press was not seen, or was taken for a long one
            world.move("probe", Place.DEVELOPER)
            world.press(Button.PROBE)
        if state == "tempering" and _asks(now) and clock.now() > told + 15.0:
            told = clock.now()
            world.press(Button.PROBE)
            clock.after(3.0, partial(world.press, Button.PROBE))
        if state in {"idle", "finished", "abandoned"} and time.monotonic() > asked + 6.0:
            asked = time.monotonic()
            if began:  # the roll before has ended: the next one, with fresh developer
                number += 1
                student = new_student(world, setup, number)
            student.begin()
            began = True


if __name__ == "__main__":
    main()
