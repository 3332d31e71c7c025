"""Time is asked of a clock object, so that a two-hour run can be tested in milliseconds.

``seconds`` everywhere is monotonic time since boot, the only time that cues are made from.
Wall time is a label: a Pi without a clock battery starts with a wrong date and jumps when
the network answers.
"""

from __future__ import annotations

import ctypes
import math
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
#: What a clock chip says, whole seconds of Unix time; reading fails where its battery died.
_CHIP = Path("/sys/class/rtc/rtc0/since_epoch")
#: The system's clock was set from a chip that kept time if both say the same. A board with a chip
#: but without a battery starts the chip at nothing, and the clock where it was last saved.
_CHIP_AGREES_SECONDS = 5.0
#: Parts of a second by which chip and clock drift apart in each second since the start (100 ppm).
_CHIP_DRIFT = 1e-4
#: Reading a chip takes a millisecond; so often is enough.
_CHIP_EVERY_SECONDS = 60.0
_TIME_ERROR = 5  # adjtimex(2): the clock is not synchronised


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment on all the clocks.

    ``seconds`` counts from the boot named ``boot`` (suspend included); ``wall_seconds`` is
    Unix time as the system believes it; ``trusted`` says whether that wall time came from a
    synchronised clock or a clock chip with a battery.
    """

    seconds: float
    wall_seconds: float
    trusted: bool
    boot: str


class Clock(Protocol):
    """What the station asks for time."""

    def now(self) -> float:
        """Monotonic seconds of this boot."""
        ...

    def moment(self) -> Moment:
        """Now, on all the clocks."""
        ...

    def wait(self, until: float, wake: threading.Event) -> None:
        """Return when ``now() >= until`` or soon after ``wake`` is set, whichever is first."""
        ...


def wall_is_trusted() -> bool:
    """Whether the clock was set by the network, or from a clock chip that kept time."""
    return _synchronised() or _chip_agrees(_uptime_seconds())


def _uptime_seconds() -> float:
    return time.clock_gettime(time.CLOCK_BOOTTIME)


def _chip_agrees(uptime_seconds: float) -> bool:
    try:
        chip = float(_CHIP.read_text(encoding="ascii"))
    except (OSError, ValueError):
        return False
    return abs(chip - time.time()) <= _CHIP_AGREES_SECONDS + _CHIP_DRIFT * uptime_seconds


def _synchronised() -> bool:
    buffer = ctypes.create_string_buffer(512)  # larger than struct timex; modes = 0 only reads
    state: int = ctypes.CDLL(None).adjtimex(buffer)
    return 0 <= state < _TIME_ERROR


class SystemClock:
    """The real clock: CLOCK_BOOTTIME and the kernel's boot id."""

    def __init__(self) -> None:
        self._boot = _BOOT_ID.read_text(encoding="ascii").strip()
        self._chip_agreed = False
        self._chip_asked = -math.inf

    def now(self) -> float:
        """Monotonic seconds of this boot, suspend included."""
        return _uptime_seconds()

    def moment(self) -> Moment:
        """Now, on all the clocks."""
        now = self.now()
        if now - self._chip_asked >= _CHIP_EVERY_SECONDS:
            self._chip_asked, self._chip_agreed = now, _chip_agrees(now)
        return Moment(now, time.time(), self._chip_agreed or _synchronised(), self._boot)

    def wait(self, until: float, wake: threading.Event) -> None:
        """Sleep until ``until`` or until ``wake`` is set."""
        remaining = until - self.now()
        if remaining > 0:
            wake.wait(remaining)
