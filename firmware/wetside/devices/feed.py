"""Readings flow from the bus to the station without ever making the station wait."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Sequence

from wetside.clock import Clock
from wetside.devices.ds18b20 import Answer, Bus
from wetside.ports import Timers
from wetside.readings import Reading

#: Readings kept when nobody takes them; older ones go first.
_KEPT = 600


def as_readings(answers: Sequence[Answer], seconds: float) -> list[Reading]:
    """Answers of one pass as readings of one moment."""
    return [
        Reading(seconds, answer.probe, answer.celsius, condition=answer.condition)
        for answer in answers
    ]


class ThreadFeed:
    """Reads the bus in a thread of its own, about once a second, and wakes the station."""

    def __init__(self, bus: Bus, clock: Clock, wake: threading.Event, period: float = 1.0) -> None:
        self._bus = bus
        self._clock = clock
        self._wake = wake
        self._period = period
        self._queue: deque[Reading] = deque(maxlen=_KEPT)
        self._stop = threading.Event()
        self._last_pass = clock.now()
        self._thread = threading.Thread(target=self._work, name="probes", daemon=True)
        self._thread.start()

    @property
    def last_pass(self) -> float:
        """When the last pass over the bus ended, monotonic seconds; the watchdog asks."""
        return self._last_pass

    def take(self) -> list[Reading]:
        """Readings that ended since the last call, in time order; never blocks."""
        taken = []
        while self._queue:
            taken.append(self._queue.popleft())
        return taken

    def close(self) -> None:
        """Let the bus go; a conversion under way is waited for."""
        self._stop.set()
        self._thread.join(timeout=5.0)

    def _work(self) -> None:
        while not self._stop.is_set():
            began = time.monotonic()
            answers = self._bus.read()
            self._last_pass = self._clock.now()
            self._queue.extend(as_readings(answers, self._last_pass))
            self._wake.set()
            # a period is of real time: a bus takes as long as it takes
            self._stop.wait(max(0.02, self._period - (time.monotonic() - began)))


class TimedFeed:
    """Reads the bus at fixed virtual moments: the bench's feed, deterministic."""

    def __init__(
        self, bus: Bus, clock: Clock, timers: Timers, wake: threading.Event, period: float = 1.0
    ) -> None:
        self._bus = bus
        self._clock = clock
        self._timers = timers
        self._wake = wake
        self._period = period
        self._queue: deque[Reading] = deque(maxlen=_KEPT)
        self._closed = False
        self._last_pass = clock.now()
        timers.schedule(clock.now() + period, self._pass)

    @property
    def last_pass(self) -> float:
        """When the last pass over the bus ended, monotonic seconds."""
        return self._last_pass

    def take(self) -> list[Reading]:
        """Readings that ended since the last call, in time order; never blocks."""
        taken = list(self._queue)
        self._queue.clear()
        return taken

    def close(self) -> None:
        """Ask the bus no more."""
        self._closed = True

    def _pass(self) -> None:
        if self._closed:
            return
        now = self._last_pass = self._clock.now()
        self._queue.extend(as_readings(self._bus.read(), now))
        self._timers.schedule(now + self._period, self._pass)
        self._wake.set()
