"""The bench's display: luma's own dummy, which can be lost and come back."""

from __future__ import annotations

import errno

from luma.core.device import dummy
from PIL import Image


class BenchPanel:
    """A panel that keeps the picture last shown on it.

    While ``lost`` is set every call fails as a panel does whose plug has come off: the
    kernel answers EREMOTEIO (121).
    """

    def __init__(self) -> None:
        self._device = dummy(width=128, height=64, mode="1")
        self.lost = False
        self.lit = True
        self.level = 255

    def open(self) -> BenchPanel:
        """The panel set up afresh: what ``wetside.devices.oled.Oled`` asks its opener for."""
        self._answer()
        return self

    @property
    def picture(self) -> Image.Image | None:
        """What an eye sees: None while nothing is lit or nothing was shown."""
        picture: Image.Image | None = self._device.image
        return picture if self.lit and not self.lost else None

    def display(self, image: Image.Image) -> None:
        """Show a 128x64 picture."""
        self._answer()
        self._device.display(image)

    def show(self) -> None:
        """Switch the panel on."""
        self._answer()
        self.lit = True

    def hide(self) -> None:
        """Switch the panel off."""
        self._answer()
        self.lit = False

    def contrast(self, level: int) -> None:
        """Set the brightness, 0 to 255."""
        self._answer()
        self.level = level

    def cleanup(self) -> None:
        """Switch off and let go."""
        self.lit = False

    def _answer(self) -> None:
        if self.lost:
            raise OSError(errno.EREMOTEIO, "the display does not answer")
