"""luma.oled's drivers on a recorded line, and luma's own dummy canvas."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from luma.core.device import dummy
from luma.core.error import DeviceNotFoundError
from PIL import Image

from wetside.devices import oled
from wetside.devices.oled import Oled, Panel, open_panel
from wetside.settings import Display, DisplayKind

DISPLAY_OFF, DISPLAY_ON, CONTRAST = 0xAE, 0xAF, 0x81  # SSD1306 data sheet, command table


class Line:
    """Stands in for the I2C bus: keeps what was sent, breaks on request."""

    def __init__(self) -> None:
        self.commands: list[int] = []
        self.pixels: list[int] = []
        self.broken = False

    def command(self, *commands: int) -> None:
        """Keep commands."""
        self._check()
        self.commands += commands

    def data(self, data: list[int]) -> None:
        """Keep picture bytes."""
        self._check()
        self.pixels += data

    def cleanup(self) -> None:
        """Nothing to let go."""

    def _check(self) -> None:
        if self.broken:
            raise OSError(121, "Remote I/O error")


def _picture(pixel: tuple[int, int] = (3, 4)) -> Image.Image:
    picture = Image.new("1", (128, 64))
    picture.putpixel(pixel, 1)
    return picture


@pytest.fixture
def line() -> Line:
    """A line that records."""
    return Line()


@pytest.mark.parametrize("kind", list(DisplayKind))
def test_each_kind_of_panel_shows_the_picture(kind: DisplayKind, line: Line) -> None:
    """SSD1306, SSD1309 and SH1106 get 1024 bytes with exactly the one pixel lit."""
    screen = Oled(lambda: open_panel(Display(kind=kind), line), threaded=False)
    screen.show(Image.new("1", (128, 64)))
    line.pixels.clear()
    screen.show(_picture())
    lit = sum(byte.bit_count() for byte in line.pixels)
    assert (len(line.pixels), lit) == (1024, 1)
    assert screen.fault is None


def test_a_picture_already_shown_is_not_sent_again(line: Line) -> None:
    """An unchanged screen costs nothing on the bus."""
    screen = Oled(lambda: open_panel(Display(), line), threaded=False)
    screen.show(_picture())
    line.pixels.clear()
    screen.show(_picture())
    assert line.pixels == []


def test_lights_out_switches_the_panel_off_and_shows_nothing(line: Line) -> None:
    """While dark, the panel is off and no picture is sent; light again shows the last one."""
    screen = Oled(lambda: open_panel(Display(), line), threaded=False)
    screen.show(_picture())
    screen.dark(on=True)
    assert line.commands[-1] == DISPLAY_OFF
    line.commands.clear()
    line.pixels.clear()
    screen.show(_picture((9, 9)))
    assert line.pixels == []
    assert DISPLAY_ON not in line.commands
    screen.dark(on=False)
    assert line.commands[-1] == DISPLAY_ON
    assert sum(byte.bit_count() for byte in line.pixels) == 1


def test_dimming_sets_the_contrast(line: Line) -> None:
    """Dim and bright are the two levels of the settings."""
    screen = Oled(lambda: open_panel(Display(), line), contrast=160, dim_contrast=8, threaded=False)
    screen.show(_picture())
    line.commands.clear()
    screen.dim(on=True)
    screen.dim(on=False)
    levels = [
        line.commands[i + 1] for i, command in enumerate(line.commands) if command == CONTRAST
    ]
    assert levels == [8, 160]


def test_a_lost_panel_is_named_and_set_up_again(line: Line) -> None:
    """A panel that stops answering is a fault in words; the next picture sets it up afresh."""
    screen = Oled(lambda: open_panel(Display(), line), threaded=False)
    screen.show(_picture())
    line.broken = True
    screen.show(_picture((5, 5)))
    assert "display does not answer" in (screen.fault or "")
    line.broken = False
    line.commands.clear()
    screen.show(_picture((6, 6)))
    assert screen.fault is None
    assert line.commands[0] == DISPLAY_OFF  # the set-up sequence begins with it


def test_no_panel_at_all_is_a_fault_and_not_a_crash() -> None:
    """A station without a display keeps timing."""

    def missing() -> Panel:
        raise DeviceNotFoundError("no device at 0x3c")

    screen = Oled(missing, threaded=False)
    screen.show(_picture())
    assert screen.fault is not None
    screen.close()


def test_the_drawing_thread_shows_and_recovers(line: Line, monkeypatch: pytest.MonkeyPatch) -> None:
    """Drawn in a thread, the caller never waits, and a lost panel comes back by itself."""
    monkeypatch.setattr(oled, "_RETRY_SECONDS", 0.02)
    screen = Oled(lambda: open_panel(Display(), line))
    screen.show(_picture())
    _until(lambda: sum(byte.bit_count() for byte in line.pixels) == 1)
    line.broken = True
    screen.show(_picture((7, 7)))
    _until(lambda: screen.fault is not None)
    line.broken = False
    _until(lambda: screen.fault is None)
    screen.close()


def test_lumas_dummy_holds_the_very_picture() -> None:
    """The bench's panel is luma's dummy canvas: what was shown can be read back."""
    panel = dummy(width=128, height=64, mode="1")
    screen = Oled(lambda: panel, threaded=False)
    screen.show(_picture())
    assert _picture().tobytes() == panel.image.tobytes()


def _until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 5.0
    while not true():
        assert time.monotonic() < deadline
        time.sleep(0.005)
