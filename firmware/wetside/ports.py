"""What the station asks of the parts at the sink. Devices and the bench both meet these."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from PIL import Image

from wetside.cues.tones import Tone
from wetside.readings import Reading
from wetside.session.presses import Press


class Probes(Protocol):
    """The temperature probes on the bus."""

    def take(self) -> Sequence[Reading]:
        """Readings that ended since the last call, in time order; never blocks."""
        ...

    @property
    def last_pass(self) -> float:
        """When the last pass over the bus ended, monotonic seconds."""
        ...

    def close(self) -> None:
        """Let the bus go."""
        ...


class Sounder(Protocol):
    """The buzzer."""

    def play(self, tone: Tone) -> None:
        """Start a tone and return at once; a tone still playing is cut short."""
        ...

    def hush(self) -> None:
        """Be silent at once."""
        ...

    @property
    def fault(self) -> str | None:
        """What is wrong with the buzzer, in words, or None."""
        ...

    def close(self) -> None:
        """Let the pin go."""
        ...


class Screen(Protocol):
    """The 128x64 display."""

    def show(self, picture: Image.Image) -> None:
        """Show a 128x64 mode-1 picture; returns at once, a lost display is not an error."""
        ...

    def dark(self, *, on: bool) -> None:
        """Show and light nothing while on."""
        ...

    def dim(self, *, on: bool) -> None:
        """Shine faintly while on."""
        ...

    @property
    def fault(self) -> str | None:
        """What is wrong with the display, in words, or None."""
        ...

    def close(self) -> None:
        """Switch the panel off."""
        ...


class Buttons(Protocol):
    """The three buttons."""

    def take(self) -> Sequence[Press]:
        """Presses recognised since the last call, in time order; never blocks."""
        ...

    def next_due(self) -> float | None:
        """Monotonic seconds at which a held button becomes a long press, or None."""
        ...

    @property
    def fault(self) -> str | None:
        """Which button is held down by something, in words, or None."""
        ...

    def close(self) -> None:
        """Let the pins go."""
        ...


class Timers(Protocol):
    """Something that calls back at a monotonic moment."""

    def schedule(self, at_seconds: float, call: Callable[[], object]) -> object:
        """Call ``call`` at ``at_seconds`` or as soon after as possible, once."""
        ...


@dataclass(frozen=True, slots=True)
class Parts:
    """All parts of one station. ``wake`` is set by whatever should wake the loop early."""

    probes: Probes
    sounder: Sounder
    screen: Screen
    buttons: Buttons
    wake: threading.Event
