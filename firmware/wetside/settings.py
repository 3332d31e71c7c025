"""The one settings file of a station: every pin, the bus, the display and where things live.

The defaults are the wiring of hardware/wiring.toml; a test holds the two together.
"""

import re
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field, field_validator, model_validator

from wetside import tomlfile
from wetside.errors import SettingsError
from wetside.tomlfile import Table

_ROM = re.compile(r"^[0-9a-f]{12}$")

#: BCM numbers that the header of a Pi carries (0 and 1 belong to the HAT identification bus).
Gpio = Annotated[int, Field(ge=2, le=27)]


def _named(given: object) -> object:
    """A path as it is; no name at all would be the folder that a command was started in."""
    if given == "":
        raise ValueError("must name a file or folder, not ''")
    return given


FilePath = Annotated[Path, BeforeValidator(_named)]


class DisplayKind(StrEnum):
    """The controller chip of the 128x64 OLED."""

    SSD1306 = "ssd1306"
    SSD1309 = "ssd1309"
    SH1106 = "sh1106"


class Pins(Table):
    """GPIO numbers (BCM)."""

    one_wire_gpio: Gpio = 4
    buzzer_gpio: Gpio = 18
    now_gpio: Gpio = 17
    probe_gpio: Gpio = 27
    wait_gpio: Gpio = 22

    @model_validator(mode="after")
    def _each_pin_once(self) -> "Pins":
        used: dict[int, str] = {2: "the display (I2C data)", 3: "the display (I2C clock)"}
        for name, gpio in self:
            if gpio in used:
                raise ValueError(f"GPIO {gpio} is used twice: by {name} and by {used[gpio]}")
            used[gpio] = name
        return self


class Display(Table):
    """The OLED and how it spares the eye and itself."""

    kind: DisplayKind = DisplayKind.SSD1306
    i2c_bus: Annotated[int, Field(ge=0, le=10)] = 1
    i2c_address: Annotated[int, Field(ge=0x08, le=0x77)] = 0x3C
    upside_down: bool = False
    fahrenheit: bool = False
    contrast: Annotated[int, Field(ge=0, le=255)] = 160
    dim_contrast: Annotated[int, Field(ge=0, le=255)] = 8
    dim_after_seconds: Annotated[float, Field(ge=10)] = 120.0
    shift_every_seconds: Annotated[float, Field(ge=10)] = 60.0


class Probe(Table):
    """One DS18B20, known by the twelve hex digits of its ROM id.

    ``slope`` times what it reads plus ``offset_celsius`` is the temperature, ``sd_celsius`` how
    well that is known, ``calibrated`` the day it was found out (``wetside calibrate``).
    """

    rom: str
    name: Annotated[str, Field(min_length=1, max_length=12)]
    offset_celsius: Annotated[float, Field(ge=-5, le=5)] = 0.0
    slope: Annotated[float, Field(ge=0.9, le=1.1)] = 1.0
    sd_celsius: Annotated[float, Field(gt=0, le=2)] | None = None
    calibrated: date | None = None

    @field_validator("rom")
    @classmethod
    def _hex(cls, value: str) -> str:
        rom = value.lower().removeprefix("28-")
        if not _ROM.match(rom):
            raise ValueError("a ROM id is twelve hex digits, for example 0316a2795e4b")
        return rom


class Buttons(Table):
    """How a press is told from a bounce, and a long press from a short one."""

    settle_seconds: Annotated[float, Field(ge=0.005, le=0.2)] = 0.03
    long_press_seconds: Annotated[float, Field(ge=0.4, le=5)] = 1.2


class Supplies(Table):
    """What is at hand at this sink, so that advice can name amounts.

    ``bath_litres`` is None when nobody said, a tap's temperature None where there is no such tap.
    ``more_litres`` is how much more the tray or sink holds.
    """

    bath_litres: Annotated[float, Field(gt=0, le=50)] | None = None
    more_litres: Annotated[float, Field(ge=0, le=20)] = 2.0
    hot_tap_celsius: Annotated[float, Field(ge=20, le=65)] | None = None
    cold_tap_celsius: Annotated[float, Field(ge=0, le=35)] | None = None
    ice: bool = False


class StationSettings(Table):
    """Everything the station needs to know before it starts.

    ``bells_file`` is the school's bell table (docs/bells.md), ``sink_file`` what the teacher chose
    for this sink (docs/shelf.md). ``room_celsius`` with its standard deviation is the air around a
    tank that develops, None where nobody measured it: then no end of a step follows the tank there.
    """

    station: Annotated[
        str, tomlfile.shaped("[A-Za-z0-9_-]{1,24}", "1 to 24 letters, digits, _ or -")
    ] = "sink-1"
    data_folder: FilePath = Path("/var/lib/wetside")
    live_folder: FilePath = Path("/run/wetside")
    sheets_folder: FilePath | None = None
    bells_file: FilePath | None = None
    sink_file: FilePath | None = None
    room_celsius: Annotated[float, Field(ge=5, le=45)] | None = None
    room_sd_celsius: Annotated[float, Field(gt=0, le=10)] = 2.0
    w1_folder: FilePath = Path("/sys/bus/w1/devices")
    pins: Pins = Pins()
    display: Display = Display()
    buttons: Buttons = Buttons()
    supplies: Supplies = Supplies()
    probe: tuple[Probe, ...] = ()

    @property
    def choices_file(self) -> Path | None:
        """``sink_file``; a station set up before there was one looks beside its bell table."""
        if self.sink_file is None and self.bells_file is not None:
            return self.bells_file.with_name("sink.toml")
        return self.sink_file

    @model_validator(mode="after")
    def _each_probe_once(self) -> "StationSettings":
        for key in ("rom", "name"):
            values = [getattr(probe, key) for probe in self.probe]
            twice = sorted({value for value in values if values.count(value) > 1})
            if twice:
                raise ValueError(f"two probes share the {key} {', '.join(twice)}")
        return self


def load(path: Path) -> StationSettings:
    """Read the station settings.

    Raises
    ------
    SettingsError
        Names the file, every wrong key and the reason.
    """
    return tomlfile.load(path, StationSettings, SettingsError)
