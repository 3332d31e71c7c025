"""Time of the bench: scheduled calls in order, as fast as possible or paced by real time.

One thread waits (the station's); everything of the simulated sink runs on it, inside
``wait``. So nothing needs a lock and a seed gives the same roll every time. Threads of the
bench's page hand their wishes in through ``inject``.
"""

from __future__ import annotations

import heapq
import itertools
import math
import threading
import time
from collections import deque
from collections.abc import Callable

from wetside.clock import Moment

#: Wall time at which a bench starts unless told otherwise: 2 March 2026, 09:00 UTC.
DEFAULT_WALL_SECONDS = 1_772_442_000.0

Call = Callable[[], object]


class Timer:
    """A scheduled call that can be cancelled."""

    __slots__ = ("_alive", "_call", "_count", "_origin", "_period")

    def __init__(self, call: Call, origin: float, period: float | None) -> None:
        self._call = call
        self._origin = origin
        self._period = period
        self._count = 0
        self._alive = True

    @property
    def alive(self) -> bool:
        """Whether the call is still going to happen."""
        return self._alive

    def cancel(self) -> None:
        """Let the call not happen (again)."""
        self._alive = False

    def fire(self) -> float | None:
        """Make the call; give the seconds of the next one, or None."""
        if self._period is None:
            self._alive = False
        self._call()
        if not self._alive or self._period is None:
            return None
        self._count += 1
        return self._origin + (self._count + 1) * self._period

    def shift(self, seconds: float) -> None:
        """Move the origin, because the clock was started anew."""
        self._origin += seconds


class VirtualClock:
    """A clock that meets ``wetside.clock.Clock`` and runs what was scheduled on it.

    ``now()`` stands still between waits: work of the station takes no virtual time, whatever
    the speed, so that the order of events is the same at every speed.

    Parameters
    ----------
    start_seconds
        Monotonic seconds at the start.
    wall_seconds
        Unix time at the start, as the simulated system believes it.
    boot
        Name of the boot.
    trusted
        Whether the wall time is a synchronised one.
    speed
        Virtual seconds in a real second; None is as fast as it can.

    Raises
    ------
    ValueError
        ``speed`` is not above zero.
    """

    def __init__(
        self,
        *,
        start_seconds: float = 100.0,
        wall_seconds: float = DEFAULT_WALL_SECONDS,
        boot: str = "bench",
        trusted: bool = True,
        speed: float | None = None,
    ) -> None:
        self._now = start_seconds
        self._moved = start_seconds
        self._wall_minus_now = wall_seconds - start_seconds
        self._boot = boot
        self.trusted = trusted
        self._heap: list[tuple[float, int, Timer]] = []
        self._order = itertools.count()
        self._wishes: deque[Call] = deque()
        self._lock = threading.Lock()
        self._sleeper: threading.Event | None = None
        self._speed: float | None = None
        self._real_anchor = 0.0
        self._virtual_anchor = start_seconds
        self._anchored = False
        self.speed = speed

    # --- what the station asks -----------------------------------------------------------

    def now(self) -> float:
        """Monotonic virtual seconds of this boot."""
        return self._now

    def sink_seconds(self) -> float:
        """Virtual seconds since the clock was made, which a restart does not set back.

        For what the sink keeps in mind between two boots.
        """
        return self._now - self._moved

    def moment(self) -> Moment:
        """Now, on all the clocks."""
        return Moment(self._now, self._now + self._wall_minus_now, self.trusted, self._boot)

    def wait(self, until: float, wake: threading.Event) -> None:
        """Run what is scheduled up to ``until``, or until ``wake`` is set.

        Calls scheduled for exactly ``until`` run before this returns. When a call sets
        ``wake``, this returns at the time of that call.
        """
        while True:
            self._grant_wishes()
            if wake.is_set():
                return
            due = self._next_due()
            goal = max(self._now, until if due is None else min(due, until))
            if not self._sleep_until(goal, wake):
                continue
            self._now = goal
            if due is None or due > goal:
                return
            self._fire()

    # --- what the simulated sink asks ----------------------------------------------------

    def schedule(self, at_seconds: float, call: Call) -> Timer:
        """Run ``call`` once at ``at_seconds``; a time already past means at the next wait.

        Only for the waiting thread; other threads use ``inject``.
        """
        return self._push(Timer(call, at_seconds, None), at_seconds)

    def after(self, seconds: float, call: Call) -> Timer:
        """Run ``call`` once, ``seconds`` from now."""
        return self.schedule(self._now + seconds, call)

    def every(self, period: float, call: Call) -> Timer:
        """Run ``call`` now + ``period`` and every ``period`` seconds after, without drift.

        Raises
        ------
        ValueError
            ``period`` is not above zero.
        """
        if not period > 0:
            raise ValueError(f"a period is above zero, not {period!r}")
        return self._push(Timer(call, self._now, period), self._now + period)

    def inject(self, call: Call) -> None:
        """Run ``call`` on the waiting thread at the current virtual time; for any thread.

        A paced wait is woken for it, and its ``wake`` is set by that.
        """
        with self._lock:
            self._wishes.append(call)
            if self._sleeper is not None:
                self._sleeper.set()

    def run_for(self, seconds: float) -> None:
        """Run what is scheduled in the next ``seconds``."""
        self.wait(self._now + seconds, threading.Event())

    def jump_wall(self, seconds: float, *, trusted: bool = True) -> None:
        """Set the wall clock forward (or back): network time arrives, or a person sets it."""
        self._wall_minus_now += seconds
        self.trusted = trusted

    def restart(
        self,
        boot: str,
        *,
        start_seconds: float = 10.0,
        wall_seconds: float | None = None,
        trusted: bool = False,
    ) -> None:
        """Begin another boot: monotonic time starts anew, the sink goes on undisturbed.

        ``wall_seconds`` is what the system believes after the boot; None keeps the wall time
        running on, as a clock chip with a battery does.
        """
        wall = self._now + self._wall_minus_now if wall_seconds is None else wall_seconds
        shift = start_seconds - self._now
        self._heap = [(at + shift, order, timer) for at, order, timer in self._heap]
        for _, _, timer in self._heap:
            timer.shift(shift)
        heapq.heapify(self._heap)
        self._now = start_seconds
        self._moved += shift
        self._virtual_anchor += shift
        self._wall_minus_now = wall - start_seconds
        self._boot = boot
        self.trusted = trusted

    @property
    def speed(self) -> float | None:
        """Virtual seconds in a real second; None is as fast as it can.

        Setting it is for the waiting thread, as scheduling is.
        """
        return self._speed

    @speed.setter
    def speed(self, speed: float | None) -> None:
        if speed is not None and not (speed > 0 and math.isfinite(speed)):
            raise ValueError(f"a speed is above zero, or None for as fast as it can: {speed!r}")
        self._speed = speed
        self._anchored = False

    # --- inside --------------------------------------------------------------------------

    def _push(self, timer: Timer, at: float) -> Timer:
        heapq.heappush(self._heap, (at, next(self._order), timer))
        return timer

    def _next_due(self) -> float | None:
        while self._heap and not self._heap[0][2].alive:
            heapq.heappop(self._heap)
        return self._heap[0][0] if self._heap else None

    def _fire(self) -> None:
        timer = heapq.heappop(self._heap)[2]
        again = timer.fire()
        if again is not None:
            self._push(timer, again)

    def _grant_wishes(self) -> None:
        while self._wishes:
            self._wishes.popleft()()

    def _sleep_until(self, goal: float, wake: threading.Event) -> bool:
        """Let real time pass until virtual ``goal``; False when woken before it."""
        if self._speed is None:
            return True
        if not self._anchored:
            self._anchored = True
            self._real_anchor = time.monotonic()
            self._virtual_anchor = self._now
        left = self._real_anchor + (goal - self._virtual_anchor) / self._speed - time.monotonic()
        if left <= 0:
            return True
        with self._lock:
            if self._wishes:
                return False
            self._sleeper = wake
        woken = wake.wait(left)
        with self._lock:
            self._sleeper = None
        if woken:
            passed = (time.monotonic() - self._real_anchor) * self._speed
            self._now = max(self._now, min(goal, self._virtual_anchor + passed))
        return not woken
