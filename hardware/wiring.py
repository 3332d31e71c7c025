"""The wiring file as frozen values.

``load`` reads ``wiring.toml``; all else in this folder takes a `Wiring` and gives values back.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

WIRING_FILE = Path(__file__).with_name("wiring.toml")
HEADER = "J1"


@dataclass(frozen=True, slots=True)
class Pin:
    """One pin of a part: its electrical type and the volts it may see."""

    part: str
    name: str
    type: str
    min_volts: float | None = None
    max_volts: float | None = None
    gpio: int | None = None

    @property
    def key(self) -> str:
        """The pin as nets write it, such as ``B1.DQ``."""
        return f"{self.part}.{self.name}"


@dataclass(frozen=True, slots=True)
class Part:
    """One row of the parts list. ``extra`` holds its numbers (ohms, farads, milliamps ...)."""

    ref: str
    kind: str
    group: str
    name: str
    value: str
    rating: str
    alternatives: str
    optional: bool
    pins: tuple[Pin, ...]
    twins: tuple[frozenset[str], ...]
    extra: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Net:
    """Pins that are joined. ``volts`` is set for supply rails."""

    name: str
    pins: tuple[str, ...]
    volts: float | None = None


@dataclass(frozen=True, slots=True)
class Role:
    """What a GPIO is for: it must reach ``part.pin`` directly or through one resistor."""

    name: str
    gpio: int
    part: str
    pin: str
    link: str


@dataclass(frozen=True, slots=True)
class Board:
    """A board the station fits. Lengths in millimetres, power in watts."""

    key: str
    name: str
    revision: str
    supply_volts: float
    supply_amperes: float
    busy_watts: float
    plug: str
    width_mm: float
    depth_mm: float
    hole_pitch_x_mm: float
    hole_pitch_y_mm: float
    hole_inset_mm: float
    tall_mm: float
    overhang_mm: float
    power_x_mm: float
    note: str


@dataclass(frozen=True, slots=True)
class Header:
    """The 40-pin header: which pin carries what."""

    rails: Mapping[str, tuple[int, ...]]
    gpio: tuple[int, ...]
    pwm: frozenset[int]
    pulled_up_at_boot: frozenset[int]
    board_pull_up: frozenset[int]

    def pin_of(self, gpio: int) -> int:
        """Give the header pin of a BCM number."""
        return self.gpio[gpio]


@dataclass(frozen=True, slots=True)
class Wiring:
    """The whole table."""

    limits: Mapping[str, float]
    station: Mapping[str, int]
    roles: tuple[Role, ...]
    boards: tuple[Board, ...]
    header: Header
    parts: tuple[Part, ...]
    nets: tuple[Net, ...]

    def part(self, ref: str) -> Part:
        """Give the part of a reference such as ``R1``."""
        return next(part for part in self.parts if part.ref == ref)

    def net_of(self, pin: str) -> Net | None:
        """Give the net that holds a pin such as ``R1.2``, or None."""
        return next((net for net in self.nets if pin in net.pins), None)

    def role(self, name: str) -> Role:
        """Give the role of a name such as ``buzzer``."""
        return next(role for role in self.roles if role.name == name)

    def pins(self) -> dict[str, Pin]:
        """Give all pins of all parts and of the header by their key."""
        return {pin.key: pin for part in self.parts for pin in part.pins} | _header_pins(
            self.header
        )


def load(path: Path = WIRING_FILE) -> Wiring:
    """Read the wiring file.

    Raises
    ------
    tomllib.TOMLDecodeError, KeyError
        The file is not TOML, or a table lacks an entry.
    """
    return parse(tomllib.loads(path.read_text(encoding="utf-8")))


def parse(table: Mapping[str, Any]) -> Wiring:
    """Turn the parsed file into values."""
    kinds = table["kinds"]
    header = table["header"]
    return Wiring(
        limits=dict(table["limits"]),
        station=dict(table["station"]),
        roles=tuple(Role(name=name, **row) for name, row in table["roles"].items()),
        boards=tuple(Board(key=key, **row) for key, row in table["boards"].items()),
        header=Header(
            rails={rail: tuple(header[rail]) for rail in ("3V3", "5V", "GND")},
            gpio=tuple(header["gpio"]),
            pwm=frozenset(header["pwm"]),
            pulled_up_at_boot=frozenset(header["pulled_up_at_boot"]),
            board_pull_up=frozenset(header["board_pull_up"]),
        ),
        parts=tuple(_part(row, kinds[row["kind"]]) for row in table["parts"]),
        nets=tuple(Net(row["name"], tuple(row["pins"]), row.get("volts")) for row in table["nets"]),
    )


_TEXTS = ("ref", "kind", "group", "name", "value", "rating", "alternatives")


def _part(row: Mapping[str, Any], kind: Mapping[str, Any]) -> Part:
    texts = {key: str(row[key]) for key in _TEXTS}
    pins = tuple(
        Pin(texts["ref"], name, pin["type"], pin.get("min_volts"), pin.get("max_volts"))
        for name, pin in kind["pins"].items()
    )
    return Part(
        **texts,
        optional=bool(row.get("optional", False)),
        pins=pins,
        twins=tuple(frozenset(pair) for pair in kind.get("twins", [])),
        extra={key: float(row[key]) for key in row if key not in {*_TEXTS, "optional"}},
    )


def _header_pins(header: Header) -> dict[str, Pin]:
    pins: dict[str, Pin] = {}
    for rail, numbers in header.rails.items():
        for number in numbers:
            kind = "ground" if rail == "GND" else "power_out"
            volts = {"3V3": 3.3, "5V": 5.0, "GND": 0.0}[rail]
            pins[f"{HEADER}.{number}"] = Pin(HEADER, str(number), kind, volts, volts)
    for gpio, number in enumerate(header.gpio):
        pins[f"{HEADER}.{number}"] = Pin(HEADER, str(number), "gpio", None, 3.3, gpio)
    return pins
