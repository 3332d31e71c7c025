"""Calls at monotonic moments from one thread: what the buzzer's notes are timed by."""

from __future__ import annotations

import heapq
import itertools
import threading
from collections.abc import Callable

from wetside.clock import Clock


class TimerThread:
    """Meets ports.Timers on the real clock."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._heap: list[tuple[float, int, Callable[[], object]]] = []
        self._count = itertools.count()
        self._changed = threading.Condition()
        self._closed = False
        self._thread = threading.Thread(target=self._work, name="timers", daemon=True)
        self._thread.start()

    def schedule(self, at_seconds: float, call: Callable[[], object]) -> None:
        """Call ``call`` at ``at_seconds`` or as soon after as possible, once."""
        with self._changed:
            heapq.heappush(self._heap, (at_seconds, next(self._count), call))
            self._changed.notify()

    def close(self) -> None:
        """Forget what is scheduled."""
        with self._changed:
            self._closed = True
            self._changed.notify()
        self._thread.join(timeout=2.0)

    def _work(self) -> None:
        while True:
            with self._changed:
                while not self._closed and (not self._heap or self._heap[0][0] > self._clock.now()):
                    left = self._heap[0][0] - self._clock.now() if self._heap else None
                    self._changed.wait(left)
                if self._closed:
                    return
                call = heapq.heappop(self._heap)[2]
            call()
