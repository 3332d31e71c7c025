"""Feeding systemd's watchdog: only while the loop and the probes' thread both live."""

from __future__ import annotations

import os

from wetside.clock import Clock
from wetside.ports import Parts
from wetside.station.notify import Notifier

#: Two passes over a bus of four probes take 6 s; a thread silent for longer hangs.
_FEED_HANGS_AFTER_SECONDS = 20.0


class Heart:
    """Beats at each turn of the loop, and tells systemd at half the time it allows."""

    def __init__(self, notifier: Notifier, parts: Parts, clock: Clock) -> None:
        self._notifier = notifier
        self._parts = parts
        self._clock = clock
        allowed = float(os.environ.get("WATCHDOG_USEC", "0")) / 1e6
        self._every = allowed / 2 if allowed > 0 else None
        self._last = clock.now()

    def beat(self, state: str) -> None:
        """One turn is done; ``state`` is where the run stands."""
        now = self._clock.now()
        if self._every is None or now - self._last < self._every:
            return
        if now - self._parts.probes.last_pass > _FEED_HANGS_AFTER_SECONDS:
            return  # not fed: systemd starts the station anew, and the run is taken up
        self._last = now
        self._notifier.send("WATCHDOG=1", f"STATUS={state}")
