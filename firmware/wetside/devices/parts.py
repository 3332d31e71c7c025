"""All parts of a station, opened from its settings."""

from __future__ import annotations

import threading
from collections.abc import Callable

from gpiozero import Factory

from wetside.clock import Clock
from wetside.devices.buttons import ButtonPanel
from wetside.devices.buzzer import Buzzer
from wetside.devices.ds18b20 import Bus
from wetside.devices.feed import ThreadFeed
from wetside.devices.oled import Oled, Panel, open_panel
from wetside.devices.timers import TimerThread
from wetside.ports import Parts
from wetside.session.presses import Button
from wetside.settings import Pins, StationSettings


def button_gpios(pins: Pins) -> dict[Button, int]:
    """Which GPIO each button is on."""
    return {
        Button.NOW: pins.now_gpio,
        Button.PROBE: pins.probe_gpio,
        Button.WAIT: pins.wait_gpio,
    }


def open_parts(
    settings: StationSettings,
    clock: Clock,
    *,
    pin_factory: Factory | None = None,
    panel: Callable[[], Panel] | None = None,
    probe_period: float = 1.0,
) -> Parts:
    """Open everything at the sink.

    ``pin_factory`` and ``panel`` stand in for the board's pins and the display that the
    settings name; the bus is read every ``probe_period`` seconds, or as fast as it goes.

    A display or a probe that does not answer is no reason to stop: each says what is wrong
    and is tried again. Without GPIO there is no station.

    Raises
    ------
    gpiozero.BadPinFactory, gpiozero.GPIOZeroError
        The board's pins cannot be used.
    """
    wake = threading.Event()
    display = settings.display
    return Parts(
        probes=ThreadFeed(Bus(settings.w1_folder, settings.probe), clock, wake, probe_period),
        sounder=Buzzer(settings.pins.buzzer_gpio, clock, TimerThread(clock), pin_factory),
        screen=Oled(
            panel or (lambda: open_panel(display)),
            contrast=display.contrast,
            dim_contrast=display.dim_contrast,
        ),
        buttons=ButtonPanel(
            button_gpios(settings.pins),
            clock,
            wake,
            settle_seconds=settings.buttons.settle_seconds,
            long_seconds=settings.buttons.long_press_seconds,
            pin_factory=pin_factory,
        ),
        wake=wake,
    )


def close_parts(parts: Parts) -> None:
    """Let every part go: silent, dark, unread."""
    parts.sounder.close()
    parts.screen.close()
    parts.buttons.close()
    parts.probes.close()
