"""The bench's clock: order, early return, pacing, wishes of other threads, wall time."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable

import pytest

from wetside.clock import Clock
from wetside.sim.clock import VirtualClock


def test_meets_the_clock_protocol() -> None:
    """The station can be given a virtual clock where it asks for a clock."""
    clock: Clock = VirtualClock(start_seconds=5.0)
    clock.wait(6.0, threading.Event())
    assert clock.now() == 6.0


def test_runs_calls_in_time_order_and_ties_by_order_of_scheduling() -> None:
    """Calls run by time; two at one time run in the order in which they were scheduled."""
    clock = VirtualClock(start_seconds=0.0)
    seen: list[tuple[str, float]] = []

    def note(name: str) -> Callable[[], None]:
        return lambda: seen.append((name, clock.now()))

    clock.schedule(2.0, note("b"))
    clock.schedule(1.0, note("a"))
    clock.schedule(2.0, note("c"))
    clock.schedule(3.0, note("too late"))
    clock.wait(2.5, threading.Event())
    assert seen == [("a", 1.0), ("b", 2.0), ("c", 2.0)]
    assert clock.now() == 2.5


def test_a_call_due_exactly_at_the_end_runs_before_the_wait_returns() -> None:
    """What the sink does at a moment is done before the station looks at that moment."""
    clock = VirtualClock(start_seconds=0.0)
    seen: list[float] = []
    clock.schedule(4.0, lambda: seen.append(clock.now()))
    clock.wait(4.0, threading.Event())
    assert seen == [4.0]


def test_a_call_scheduled_by_a_call_for_the_same_moment_still_runs() -> None:
    """A call may schedule another for its own moment."""
    clock = VirtualClock(start_seconds=0.0)
    seen: list[float] = []
    clock.schedule(1.0, lambda: clock.after(0.0, lambda: seen.append(clock.now())))
    clock.wait(1.0, threading.Event())
    assert seen == [1.0]


def test_returns_at_the_time_of_the_call_that_set_wake() -> None:
    """A wait ends early at the very call that woke it, and later calls are kept."""
    clock = VirtualClock(start_seconds=0.0)
    wake = threading.Event()
    seen: list[float] = []
    clock.schedule(1.5, wake.set)
    clock.schedule(1.75, lambda: seen.append(clock.now()))
    clock.wait(10.0, wake)
    assert (clock.now(), seen) == (1.5, [])
    wake.clear()
    clock.wait(10.0, wake)
    assert (clock.now(), seen) == (10.0, [1.75])


def test_a_wait_into_the_past_runs_what_is_due_and_never_goes_back() -> None:
    """Time does not run backwards when asked to wait for a moment that has gone."""
    clock = VirtualClock(start_seconds=50.0)
    seen: list[float] = []
    clock.schedule(20.0, lambda: seen.append(clock.now()))
    clock.wait(10.0, threading.Event())
    assert (clock.now(), seen) == (50.0, [50.0])


def test_every_does_not_drift_and_can_be_cancelled() -> None:
    """The n-th call comes at start + n periods exactly, until it is cancelled."""
    clock = VirtualClock(start_seconds=0.0)
    seen: list[float] = []
    timer = clock.every(0.1, lambda: seen.append(clock.now()))
    clock.run_for(1000.0)
    assert len(seen) == 10_000
    assert seen[-1] == pytest.approx(1000.0, abs=1e-9)
    timer.cancel()
    clock.run_for(10.0)
    assert len(seen) == 10_000


def _story(speed: float | None) -> list[tuple[float, int]]:
    clock = VirtualClock(start_seconds=0.0, speed=speed)
    rng = random.Random(7)
    seen: list[tuple[float, int]] = []

    def act(number: int) -> None:
        seen.append((clock.now(), number))
        if number < 40:
            clock.after(rng.uniform(0.0, 4.0), lambda: act(number + 1))

    clock.every(1.0, lambda: seen.append((clock.now(), -1)))
    act(0)
    wake = threading.Event()
    while clock.now() < 60.0:
        clock.wait(clock.now() + rng.uniform(0.1, 3.0), wake)
    return seen


def test_the_same_seed_gives_the_same_story_at_every_speed() -> None:
    """Pacing changes how long a story takes to tell, not the story."""
    assert _story(None) == _story(None)
    assert _story(None) == _story(200.0)


def test_a_paced_wait_takes_real_time() -> None:
    """At ten times, two virtual seconds take about a fifth of a real one."""
    clock = VirtualClock(speed=10.0)
    begun = time.monotonic()
    clock.run_for(2.0)
    took = time.monotonic() - begun
    assert 0.19 <= took < 2.0


def test_a_wish_from_another_thread_runs_on_the_waiting_thread_in_the_middle() -> None:
    """A person's button press runs at once, between two scheduled moments."""
    clock = VirtualClock(start_seconds=0.0, speed=10.0)
    seen: list[tuple[float, threading.Thread]] = []
    wake = threading.Event()

    def wish() -> None:
        seen.append((clock.now(), threading.current_thread()))

    threading.Timer(0.1, lambda: clock.inject(wish)).start()
    while not seen:
        clock.wait(1000.0, wake)
        wake.clear()
    (at, thread) = seen[0]
    assert 0.9 <= at < 30.0
    assert threading.current_thread() is thread


def test_a_wish_is_granted_when_the_clock_runs_unpaced() -> None:
    """A wish handed in before a wait is granted at the present virtual time."""
    clock = VirtualClock(start_seconds=3.0)
    seen: list[float] = []
    clock.inject(lambda: seen.append(clock.now()))
    clock.run_for(1.0)
    assert seen == [3.0]


def test_an_outside_wake_ends_a_paced_wait_early() -> None:
    """A worker thread that has news ends the wait before its time."""
    clock = VirtualClock(start_seconds=0.0, speed=1.0)
    wake = threading.Event()
    threading.Timer(0.05, wake.set).start()
    clock.wait(30.0, wake)
    assert 0.04 <= clock.now() < 5.0


def test_wall_time_jumps_without_touching_monotonic_time() -> None:
    """When network time arrives, wall time jumps and is trusted; cues see nothing of it."""
    clock = VirtualClock(start_seconds=8.0, wall_seconds=1000.0, boot="b1", trusted=False)
    before = clock.moment()
    clock.jump_wall(500.0)
    after = clock.moment()
    assert (
        before.seconds,
        before.wall_seconds,
        before.trusted,
        before.boot,
    ) == (8.0, 1000.0, False, "b1")
    assert (
        after.seconds,
        after.wall_seconds,
        after.trusted,
        after.boot,
    ) == (8.0, 1500.0, True, "b1")


def test_a_restart_begins_another_boot_and_the_sink_goes_on() -> None:
    """After a reboot monotonic time starts anew, and periodic calls keep their spacing."""
    clock = VirtualClock(start_seconds=100.0, wall_seconds=5000.0, boot="b1")
    seen: list[float] = []
    clock.every(2.0, lambda: seen.append(clock.now()))
    clock.run_for(3.0)
    clock.restart("b2", start_seconds=10.0)
    clock.run_for(4.0)
    assert seen == [102.0, 11.0, 13.0]
    moment = clock.moment()
    assert (moment.boot, moment.trusted, moment.wall_seconds) == ("b2", False, 5007.0)


@pytest.mark.parametrize("speed", [0.0, -1.0, float("nan"), float("inf")])
def test_a_speed_that_makes_no_sense_is_refused(speed: float) -> None:
    """A speed is above zero; as fast as it can is None."""
    with pytest.raises(ValueError, match="above zero"):
        VirtualClock(speed=speed)


def test_a_period_that_makes_no_sense_is_refused() -> None:
    """A periodic call without a period would never end."""
    with pytest.raises(ValueError, match="above zero"):
        VirtualClock().every(0.0, lambda: None)


def test_an_error_in_a_call_reaches_whoever_waits() -> None:
    """A fault of the simulation is loud, not swallowed."""
    clock = VirtualClock()

    def fail() -> None:
        raise RuntimeError("spilled")

    clock.after(1.0, fail)
    with pytest.raises(RuntimeError, match="spilled"):
        clock.run_for(2.0)
