"""A sink in one process and the station in another, joined by files, as the parts join them.

The station's process is the real one: it may be killed and started again while the sink goes
on. Temperatures come through the kernel's w1 tree as always; a finger is a file for each
button (``0`` = pressed, as the pin would be low); the display is what ``live.json`` holds.

Both sides may run on time that passes ``speed`` times as fast: their clocks multiply the
system's boot clock, so they agree without talking, also after a kill.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from gpiozero.pins.mock import MockFactory, MockPWMPin
from luma.core.device import dummy

from wetside.clock import Moment, SystemClock
from wetside.sim.pins import PI_5, Edge, Pins

_POLL_SECONDS = 0.004
#: 1 January 2026 in UTC.
_FIXED_WALL_SECONDS = 1_767_225_600.0
_HIGH, _LOW = "1", "0"


class FastClock(SystemClock):
    """The system's clock, ``speed`` times as fast.

    Wall time is stretched about a fixed date, so that two boots agree about the time that
    passed between them. It is trusted as far as the system's is.
    """

    def __init__(self, speed: float = 1.0) -> None:
        super().__init__()
        self._speed = speed

    def now(self) -> float:
        """Monotonic seconds of this boot, multiplied."""
        return super().now() * self._speed

    def moment(self) -> Moment:
        """Now, on all the clocks."""
        real = super().moment()  # its seconds are fast already, they come from now()
        wall = _FIXED_WALL_SECONDS + (real.wall_seconds - _FIXED_WALL_SECONDS) * self._speed
        return replace(real, wall_seconds=wall)

    def wait(self, until: float, wake: threading.Event) -> None:
        """Sleep until ``until`` of the fast time, or until ``wake`` is set."""
        remaining = (until - self.now()) / self._speed
        if remaining > 0:
            wake.wait(remaining)


def _file(folder: Path, gpio: int) -> Path:
    return folder / f"gpio{gpio}"


def write_pins(pins: Pins, folder: Path, gpios: Iterable[int]) -> None:
    """The sink's side: from now on, what fingers do to these pins goes into the files."""
    folder.mkdir(parents=True, exist_ok=True)

    def write(edge: Edge) -> None:
        if edge.level is not None:
            new = folder / f".gpio{edge.gpio}.next"
            new.write_text(_HIGH if edge.level else _LOW, encoding="ascii")
            os.replace(new, _file(folder, edge.gpio))  # noqa: PTH105  # as the tree does

    pins.factory.on_edge = write
    for gpio in gpios:
        # nobody in this process pulls the pin up, so the first finger would make no edge
        pins.factory.pin(gpio).drive_high()


class FilePins:
    """The station's side: mock pins that follow the files.

    Parameters
    ----------
    folder
        Where the files are.
    inputs
        GPIO numbers of the buttons.
    """

    def __init__(self, folder: Path, inputs: Iterable[int]) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.factory = MockFactory(revision=PI_5, pin_class=MockPWMPin)
        self._files = {gpio: _file(folder, gpio) for gpio in inputs}
        self._levels = dict.fromkeys(self._files, _HIGH)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._follow, name="pin files", daemon=True)

    def start(self) -> None:
        """Begin to follow, once the buttons are attached."""
        self._thread.start()

    def close(self) -> None:
        """Follow no more."""
        self._stop.set()
        self._thread.join(timeout=1.0)

    def _follow(self) -> None:
        while not self._stop.wait(_POLL_SECONDS):
            for gpio, path in self._files.items():
                try:
                    level = path.read_text(encoding="ascii")
                except OSError:
                    level = _HIGH
                if level != self._levels[gpio]:
                    self._levels[gpio] = level
                    pin = self.factory.pin(gpio)
                    if level == _LOW:
                        pin.drive_low()
                    else:
                        pin.drive_high()


def dummy_panel() -> dummy:
    """Luma's own dummy in place of the OLED."""
    return dummy(width=128, height=64, mode="1")
