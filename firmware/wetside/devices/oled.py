"""The 128x64 OLED through luma.oled, drawn in a thread: a frame takes 23 to 98 ms on I2C.

A display that is lost is not a reason to stop timing: the fault is named, the tone goes on,
and the panel is set up afresh every few seconds until it answers again.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable
from typing import Protocol

from luma.core import error as luma_error
from luma.core.interface.serial import i2c
from luma.oled import device as luma_oled
from PIL import Image

from wetside.settings import Display

_RETRY_SECONDS = 5.0
WIDTH, HEIGHT = 128, 64


class Panel(Protocol):
    """What is used of a luma device."""

    def display(self, image: Image.Image) -> None:
        """Show a picture."""
        ...

    def show(self) -> None:
        """Switch the panel on."""
        ...

    def hide(self) -> None:
        """Switch the panel off: no pixel is lit."""
        ...

    def contrast(self, level: int) -> None:
        """Set the brightness, 0 to 255."""
        ...

    def cleanup(self) -> None:
        """Switch off and let go."""
        ...


class SerialLine(Protocol):
    """What luma sends commands and pictures over."""

    def command(self, *commands: int) -> None:
        """Send command bytes."""
        ...

    def data(self, data: list[int]) -> None:
        """Send picture bytes."""
        ...

    def cleanup(self) -> None:
        """Let the line go."""
        ...


def open_panel(display: Display, serial: SerialLine | None = None) -> Panel:
    """The luma device that the settings name; ``serial`` stands in for the I2C bus in tests.

    Raises
    ------
    luma.core.error.Error, OSError
        The panel does not answer.
    """
    factory = getattr(luma_oled, str(display.kind))
    line = serial or i2c(port=display.i2c_bus, address=display.i2c_address)
    panel: Panel = factory(line, width=WIDTH, height=HEIGHT, rotate=2 if display.upside_down else 0)
    return panel


class Oled:
    """Meets ports.Screen.

    Parameters
    ----------
    opener
        Gives a set-up panel or raises; called again after a fault.
    contrast, dim_contrast
        0 to 255.
    threaded
        False draws in the caller's thread: for a panel that takes no time, such as luma's
        dummy under virtual time.
    """

    def __init__(
        self,
        opener: Callable[[], Panel],
        *,
        contrast: int = 160,
        dim_contrast: int = 8,
        threaded: bool = True,
    ) -> None:
        self._opener = opener
        self._levels = {False: contrast, True: dim_contrast}
        self._threaded = threaded
        self._panel: Panel | None = None
        self._fault: str | None = None
        self._picture = Image.new("1", (WIDTH, HEIGHT))
        self._dark = False
        self._dim = False
        self._shown: tuple[bytes, bool, bool] | None = None
        self._changed = threading.Event()
        self._stop = threading.Event()
        if threaded:
            self._thread = threading.Thread(target=self._work, name="display", daemon=True)
            self._thread.start()

    @property
    def fault(self) -> str | None:
        """What is wrong with the display, in words, or None."""
        return self._fault

    def show(self, picture: Image.Image) -> None:
        """Show a 128x64 mode-1 picture; a picture already shown costs nothing."""
        self._picture = picture
        self._update()

    def dark(self, *, on: bool) -> None:
        """Show and light nothing while on."""
        self._dark = on
        self._update()

    def dim(self, *, on: bool) -> None:
        """Shine faintly while on."""
        self._dim = on
        self._update()

    def close(self) -> None:
        """Switch the panel off."""
        self._stop.set()
        self._changed.set()
        if self._threaded:
            self._thread.join(timeout=3.0)
        if self._panel is not None:
            # it may be gone already
            with contextlib.suppress(OSError, luma_error.Error):
                self._panel.cleanup()

    def _update(self) -> None:
        if self._threaded:
            self._changed.set()
        else:
            self._draw()

    def _work(self) -> None:
        while not self._stop.is_set():
            self._changed.wait(timeout=_RETRY_SECONDS if self._fault else None)
            if self._fault and not self._stop.is_set():
                # do not hammer a bus that has just failed
                self._stop.wait(_RETRY_SECONDS)
            self._changed.clear()
            if not self._stop.is_set():
                self._draw()

    def _draw(self) -> None:
        wanted = (self._picture.tobytes(), self._dark, self._dim)
        if wanted == self._shown:
            return
        try:
            self._bring(*wanted)
        except Exception as problem:  # noqa: BLE001  # timing goes on whatever a display does
            self._fault = f"the display does not answer: {problem}"
            self._panel, self._shown = None, None
        else:
            self._fault, self._shown = None, wanted

    def _bring(self, pixels: bytes, dark: bool, dim: bool) -> None:
        shown = self._shown
        if self._panel is None:
            # a panel lights up with whatever its memory holds: set it up before it may
            self._panel, shown = self._opener(), None
        if dark:
            self._panel.hide()
            return
        if shown is None or shown[2] != dim:
            self._panel.contrast(self._levels[dim])
        self._panel.display(Image.frombytes("1", (WIDTH, HEIGHT), pixels))
        if shown is None or shown[1]:
            self._panel.show()
