"""Three wet-hand buttons through gpiozero: raw edges in, presses out.

gpiozero's own bounce_time loses edges on hardware and does nothing on its mock pins, and its
hold timer runs on real time only; so it gives the edges and ``Recogniser`` does the rest.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field

from gpiozero import Button as GpioButton
from gpiozero import Factory

from wetside.clock import Clock
from wetside.session.presses import Button, Press

#: Nobody holds a button as long as this; something does.
STUCK_AFTER_SECONDS = 20.0


@dataclass(slots=True)
class Recogniser:
    """Presses of one button out of its edges.

    A level counts once it has stood for ``settle_seconds``; a press is dated to its first
    edge. A button held for ``long_seconds`` is a long press at that moment, without waiting
    for the release.
    """

    button: Button
    settle_seconds: float
    long_seconds: float
    down: bool = field(default=False, init=False)
    _level: bool = field(default=False, init=False)
    _since: float = field(default=0.0, init=False)
    _pressed_at: float = field(default=0.0, init=False)
    _told: bool = field(default=False, init=False)

    def edge(self, seconds: float, *, level: bool) -> list[Press]:
        """The presses that are certain at this edge."""
        presses = self.until(seconds)
        if level != self._level:
            self._level, self._since = level, seconds
        return presses

    def until(self, seconds: float) -> list[Press]:
        """The presses that are certain at ``seconds`` when no edge came before."""
        presses: list[Press] = []
        if self._level != self.down and seconds >= self._since + self.settle_seconds:
            self.down = self._level
            if self.down:
                self._pressed_at, self._told = self._since, False
            elif not self._told:
                long = self._since - self._pressed_at >= self.long_seconds
                presses.append(Press(self._pressed_at, self.button, long))
        if self.down and not self._told and seconds >= self._pressed_at + self.long_seconds:
            self._told = True
            presses.append(Press(self._pressed_at, self.button, long=True))
        return presses

    def stuck(self, seconds: float) -> bool:
        """Whether the button has been down for longer than a person would hold it."""
        return self.down and seconds - self._pressed_at > STUCK_AFTER_SECONDS

    def next_due(self) -> float | None:
        """When asking ``until`` may next give something, or None."""
        if self._level != self.down:
            return self._since + self.settle_seconds
        if self.down and not self._told:
            return self._pressed_at + self.long_seconds
        return None


class ButtonPanel:
    """Meets ports.Buttons.

    Parameters
    ----------
    gpios
        BCM number of each button; each closes to ground, the Pi's own pull-up holds it high.
    """

    def __init__(
        self,
        gpios: Mapping[Button, int],
        clock: Clock,
        wake: threading.Event,
        *,
        settle_seconds: float,
        long_seconds: float,
        pin_factory: Factory | None = None,
    ) -> None:
        self._clock = clock
        self._wake = wake
        self._edges: deque[tuple[float, Button, bool]] = deque()
        self._recognisers = {
            button: Recogniser(button, settle_seconds, long_seconds) for button in gpios
        }
        self._gpio = [self._attach(button, gpio, pin_factory) for button, gpio in gpios.items()]

    def _attach(self, button: Button, gpio: int, pin_factory: Factory | None) -> GpioButton:
        part = GpioButton(gpio, pull_up=True, bounce_time=None, pin_factory=pin_factory)
        part.when_pressed = lambda: self._edge(button, level=True)
        part.when_released = lambda: self._edge(button, level=False)
        return part

    def _edge(self, button: Button, *, level: bool) -> None:
        self._edges.append((self._clock.now(), button, level))
        self._wake.set()

    def take(self) -> list[Press]:
        """Presses recognised since the last call, in time order; never blocks."""
        presses: list[Press] = []
        while self._edges:
            seconds, button, level = self._edges.popleft()
            presses += self._recognisers[button].edge(seconds, level=level)
        now = self._clock.now()
        for recogniser in self._recognisers.values():
            presses += recogniser.until(now)
        return sorted(presses, key=lambda press: press.seconds)

    @property
    def fault(self) -> str | None:
        """Which button is held down by something, in words, or None."""
        now = self._clock.now()
        held = [button for button, one in self._recognisers.items() if one.stuck(now)]
        return f"button {' and '.join(held)} is stuck" if held else None

    def next_due(self) -> float | None:
        """Monotonic seconds at which a press may become certain, or None."""
        dues = [due for one in self._recognisers.values() if (due := one.next_due()) is not None]
        return min(dues, default=None)

    def close(self) -> None:
        """Let the pins go."""
        for part in self._gpio:
            part.close()
