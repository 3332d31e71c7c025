"""Time is asked of a clock object, so that a two-hour run can be tested in milliseconds.

``seconds`` everywhere is monotonic time since boot, the only time that cues are made from.
Wall time is a label: a Pi without a clock battery starts with a wrong date and jumps when
the network answers.
"""

from __future__ import annotations

import ctypes
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
_RTC = Path("/dev/rtc0")
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
    """Whether the kernel says that its clock is synchronised, or a clock chip is fitted."""
    if _RTC.exists():
        return True
    buffer = ctypes.create_string_buffer(512)  # larger than struct timex; modes = 0 only reads
    state: int = ctypes.CDLL(None).adjtimex(buffer)
    return 0 <= state < _TIME_ERROR


class SystemClock:
    """The real clock: CLOCK_BOOTTIME and the kernel's boot id."""

    def __init__(self) -> None:
        self._boot = _BOOT_ID.read_text(encoding="ascii").strip()

    def now(self) -> float:
        """Monotonic seconds of this boot, suspend included."""
        return time.clock_gettime(time.CLOCK_BOOTTIME)

    def moment(self) -> Moment:
        """Now, on all the clocks."""
        return Moment(self.now(), time.time(), wall_is_trusted(), self._boot)

    def wait(self, until: float, wake: threading.Event) -> None:
        """Sleep until ``until`` or until ``wake`` is set."""
        remaining = until - self.now()
        if remaining > 0:
            wake.wait(remaining)
