"""Mock pins of gpiozero that keep every edge with the bench's time.

    pins = Pins(clock)
    buzzer = TonalBuzzer(18, pin_factory=pins.factory)
    pins.press(17, down_seconds=0.15)
    pins.edges

A button connects its pin to ground: pressed is low. gpiozero's own fakes have no bounce and
stamp edges with real time (measured with 2.0.1.post3), so both are made here.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

from gpiozero.pins.mock import MockFactory, MockPWMPin

from wetside.sim.clock import VirtualClock

#: Revision code of a Raspberry Pi 5 (gpiozero's board data).
PI_5 = "c04170"

#: Contacts come to rest within a few milliseconds (common practice; measured switches vary).
_BOUNCE_SECONDS = 0.006

#: A finger needs this long between two presses of one button.
_LIFT_SECONDS = 0.08


@dataclass(frozen=True, slots=True)
class Edge:
    """A pin changed: ``level`` from 0 to 1, or ``hertz`` of its PWM (None = off)."""

    seconds: float
    gpio: int
    level: float | None = None
    hertz: float | None = None


class RecordingPin(MockPWMPin):  # type: ignore[misc]  # gpiozero ships no types
    """A mock pin with PWM that tells its factory of every change."""

    def _change_state(self, value: float) -> bool:
        if self._state == value:
            return False
        self._state: float = value
        self._last_change = self.factory.ticks()
        self.factory.note(self, level=float(value))
        return True

    def _set_frequency(self, value: float | None) -> None:
        before = self._frequency
        super()._set_frequency(value)
        if value != before:
            self.factory.note(self, hertz=value)


class BenchFactory(MockFactory):  # type: ignore[misc]  # the same
    """A mock Pi 5 whose time is the bench's."""

    def __init__(self, now: Callable[[], float]) -> None:
        self._bench_now = now
        self.edges: list[Edge] = []
        self.on_edge: Callable[[Edge], None] | None = None
        super().__init__(revision=PI_5, pin_class=RecordingPin)

    def note(
        self, pin: RecordingPin, *, level: float | None = None, hertz: float | None = None
    ) -> None:
        """Keep an edge."""
        number = int(pin.info.name.removeprefix("GPIO"))
        edge = Edge(self._bench_now(), number, level, hertz)
        self.edges.append(edge)
        if self.on_edge is not None:
            self.on_edge(edge)

    def ticks(self) -> float:
        """Bench seconds; gpiozero stamps its events with them."""
        return self._bench_now()


class Pins:
    """All pins of the bench's Pi.

    Parameters
    ----------
    clock
        The bench's clock; presses are scheduled on it.
    rng
        Where bouncing takes its numbers from.
    """

    def __init__(self, clock: VirtualClock, rng: random.Random | None = None) -> None:
        self._clock = clock
        self._rng = rng or random.Random(0)  # noqa: S311 - repeatable on purpose
        self._free_at: dict[int, float] = {}  # in seconds of the sink
        self.factory = BenchFactory(clock.now)
        self.bounces = 0

    @property
    def edges(self) -> list[Edge]:
        """Every edge since the start, in time order."""
        return self.factory.edges

    def level(self, gpio: int) -> float:
        """Present level of a pin, 0 to 1."""
        return float(self._pin(gpio).state)

    def hertz(self, gpio: int) -> float | None:
        """Frequency that a buzzer on this pin sounds with now, None when it is silent."""
        pin = self._pin(gpio)
        return float(pin.frequency) if pin.frequency and pin.state else None

    def press(self, gpio: int, down_seconds: float = 0.15) -> float:
        """Press the button on ``gpio`` now and let it go ``down_seconds`` later.

        A press of a button that is still down begins when the finger is free. Contacts
        bounce ``bounces`` times at either end. Give the seconds of the release.

        Raises
        ------
        ValueError
            ``down_seconds`` is not above zero.
        """
        if not down_seconds > 0:
            raise ValueError(f"a press lasts longer than nothing, not {down_seconds!r} s")
        now, sink = self._clock.now(), self._clock.sink_seconds()
        begin = now + max(0.0, self._free_at.get(gpio, sink) - sink)
        end = begin + down_seconds
        self._free_at[gpio] = sink + (end - now) + _BOUNCE_SECONDS + _LIFT_SECONDS
        self._change(gpio, begin, down=True)
        self._change(gpio, end, down=False)
        return end

    def close(self) -> None:
        """Let go of every pin."""
        self.factory.close()

    def _pin(self, gpio: int) -> Any:  # noqa: ANN401 - gpiozero ships no types
        return self.factory.pin(gpio)

    def _change(self, gpio: int, at: float, *, down: bool) -> None:
        times = sorted(self._rng.uniform(0.0, _BOUNCE_SECONDS) for _ in range(2 * self.bounces))
        levels = [down, *((not down) if i % 2 == 0 else down for i in range(len(times)))]
        for moment, low in zip([at, *(at + t for t in times)], levels, strict=True):
            self._clock.schedule(moment, partial(self._drive, gpio, low=low))

    def _drive(self, gpio: int, *, low: bool) -> None:
        pin = self._pin(gpio)
        if pin.function != "input":
            return  # a finger cannot pull down a pin that the station drives
        if low:
            pin.drive_low()
        else:
            pin.drive_high()
