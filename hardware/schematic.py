"""The drawings: the schematic, and the header as the builder sees it.

Every reference, value, pin number and GPIO in them is read from the wiring table; only the places
on the paper are chosen here.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from xml.sax.saxutils import escape

import schemdraw
import schemdraw.elements as elm
from hardware.wiring import HEADER, Wiring

schemdraw.use("svg")

#: colour of a wire by the rail or group of its net; also used in the header picture
COLOURS = {
    "3V3": "#c4352b",
    "5V": "#e08a1e",
    "GND": "#30343a",
    "probe": "#b8930a",
    "display": "#2c6fb3",
    "buzzer": "#7a4aa0",
    "buttons": "#2f8a57",
}
PAPER, INK, FAINT = "#ffffff", "#23272d", "#8b929b"


def schematic_svg(wiring: Wiring) -> str:
    """Draw the whole circuit with symbols; the same wiring gives the same text."""
    with schemdraw.Drawing(show=False) as d:
        d.config(unit=2.2, fontsize=11, lw=1.4, color=INK, bgcolor=PAPER, font="sans-serif")
        _probe(d, wiring)
        _display(d, wiring)
        _sounder(d, wiring)
        _buttons(d, wiring)
    text = bytes(d.get_imagedata("svg")).decode("utf-8")
    return re.sub(r"\d+\.\d{3,}", lambda found: f"{float(found.group()):.2f}", text) + "\n"


def _label(wiring: Wiring, ref: str) -> str:
    part = wiring.part(ref)
    return f"{ref}\n{part.value}" + ("\n(optional)" if part.optional else "")


def _gpio(wiring: Wiring, role: str) -> str:
    gpio = wiring.role(role).gpio
    return f"GPIO{gpio}, {HEADER} pin {wiring.header.pin_of(gpio)}"


def _rail(wiring: Wiring, name: str) -> str:
    net = next(net for net in wiring.nets if net.name == name)
    pins = [pin.split(".")[1] for pin in net.pins if pin.startswith(f"{HEADER}.")]
    return f"{name.replace('3V3', '3.3 V').replace('5V', '5 V')}\n{HEADER} pin {', '.join(pins)}"


def _title(d: schemdraw.Drawing, text: str, x: float, y: float) -> None:
    d += elm.Label().right().at((x, y)).label(text, fontsize=14, halign="left")


def _tag(d: schemdraw.Drawing, text: str, x: float, y: float) -> None:
    d += elm.Tag(width=2.9, height=0.62).at((x, y)).left().label(text, fontsize=9)


def _box(d: schemdraw.Drawing, x: float, low: float, high: float, width: float) -> None:
    d += elm.Rect(corner1=(0, low), corner2=(width, high)).at((x, 0)).right()


def _probe(d: schemdraw.Drawing, wiring: Wiring) -> None:
    _title(d, "Probes (1-Wire)", -2.9, 3.8)
    d += elm.Vdd().at((1.2, 2.2)).label(_rail(wiring, "3V3"))
    d += elm.Line().at((1.2, 2.2)).to((10.6, 2.2))
    resistor = elm.Resistor().at((1.2, 2.2)).to((1.2, 0))
    d += resistor.label(_label(wiring, "R1"), loc="bottom", ofst=0.2)
    _tag(d, _gpio(wiring, "one_wire"), 0, 0)
    d += elm.Line().at((0, 0)).to((4.0, 0))
    corners = ((3.0, 0), (3.0, 1.8), (6.6, 1.8), (6.6, 0), (7.4, 0))
    for start, end in itertools.pairwise(corners):
        d += elm.Line().at(start).to(end)
    d += elm.Dot().at((3.0, 0))
    d += elm.Dot().at((1.2, 0))
    d += elm.Line().at((3.6, -2.4)).to((10.6, -2.4))
    d += elm.Dot().at((3.6, -2.4))
    d += elm.Line().at((3.6, -2.4)).to((2.4, -2.4))
    d += elm.Ground().at((2.4, -2.4))
    for x, ref in ((3.6, "B1"), (7.0, "B2")):
        _box(d, x + 0.4, -1.5, 1.5, 2.2)
        note = "\n(optional)" if wiring.part(ref).optional else ""
        d += elm.Label().right().at((x + 1.8, 0)).label(f"{ref}\nDS18B20{note}", fontsize=10)
        for y, pin, rail in ((0.9, "VDD", 2.2), (0.0, "DQ", 0.0), (-0.9, "GND", -2.4)):
            d += elm.Line().at((x, y)).to((x + 0.4, y))
            d += elm.Label().right().at((x + 0.5, y)).label(pin, fontsize=8, halign="left")
            if rail:
                d += elm.Line().at((x, y)).to((x, rail))
                d += elm.Dot().at((x, rail))
    capacitor = elm.Capacitor().at((10.6, 2.2)).to((10.6, -2.4))
    d += capacitor.label(_label(wiring, "C1"), loc="bottom", ofst=0.2)


def _display(d: schemdraw.Drawing, wiring: Wiring) -> None:
    _title(d, "Display and clock (I2C bus 1)", 14.6, 3.8)
    rows = {"VCC": 1.5, "SDA": 0.5, "SCL": -0.5, "GND": -1.5}
    for x, ref, name in ((18.6, "D1", "OLED 128 by 64"), (25.2, "U1", "DS3231")):
        part = wiring.part(ref)
        _box(d, x, -2.1, 2.1, 2.6)
        d += elm.Label().right().at((x + 1.3, 2.45)).label(f"{ref}  {name}", fontsize=11)
        note = "\n(optional)" if part.optional else ""
        address = f"address\n0x{int(part.extra['i2c_address']):02X}{note}"
        d += elm.Label().right().at((x + 1.75, 0)).label(address, fontsize=8)
        for pin, y in rows.items():
            d += elm.Line().at((x - 0.8, y)).to((x, y))
            d += elm.Label().right().at((x + 0.12, y)).label(pin, fontsize=8, halign="left")
        d += elm.Vdd().at((x - 0.8, 1.5)).label(_rail(wiring, "3V3"), fontsize=9)
        d += elm.Ground().at((x - 0.8, -1.5))
        for pin, role in (("SDA", "i2c_data"), ("SCL", "i2c_clock")):
            _tag(d, _gpio(wiring, role), x - 0.8, rows[pin])


def _sounder(d: schemdraw.Drawing, wiring: Wiring) -> None:
    _title(d, "Sounder", -2.9, -4.6)
    base_y = -11.0
    _tag(d, _gpio(wiring, "buzzer"), 0, base_y)
    d += elm.Resistor().at((0, base_y)).to((2.6, base_y)).label(_label(wiring, "R2"))
    d += elm.Line().at((2.6, base_y)).to((4.4, base_y))
    d += elm.Dot().at((3.2, base_y))
    hold = elm.Resistor().at((3.2, base_y)).to((3.2, base_y - 2.2))
    d += hold.label(_label(wiring, "R5"), loc="top", ofst=0.15)
    d += elm.Ground().at((3.2, base_y - 2.2))
    d += (npn := elm.BjtNpn(circle=True).at((4.4, base_y)).anchor("base").right())
    d += (
        elm.Label()
        .at((6.0, base_y))
        .label(f"Q1\n{wiring.part('Q1').value}", fontsize=10, halign="left")
    )
    d += elm.Line().at(npn.emitter).toy(base_y - 2.2)
    d += elm.Ground()
    x = npn.collector.x
    limit = elm.Resistor().at(npn.collector).to((x, base_y + 2.8))
    d += limit.label(_label(wiring, "R4"), loc="bottom", ofst=0.15)
    top = base_y + 4.9
    d += elm.Dot().at((x, base_y + 2.8))
    discharge = elm.Resistor().at((x, base_y + 2.8)).to((x, top))
    d += discharge.label(_label(wiring, "R3"), loc="top", ofst=0.15)
    d += elm.Dot().at((x, top))
    d += elm.Vdd().at((x, top)).label(_rail(wiring, "5V"))
    d += elm.Line().at((x, top)).to((x + 2.6, top))
    d += elm.Line().at((x, base_y + 2.8)).to((x + 2.6, base_y + 2.8))
    piezo = elm.Crystal().at((x + 2.6, top)).to((x + 2.6, base_y + 2.8))
    d += piezo.label("LS1\npassive piezo", loc="bottom", ofst=0.2)


def _buttons(d: schemdraw.Drawing, wiring: Wiring) -> None:
    _title(d, "Buttons", 14.6, -4.6)
    rows = (("now", "S1", "R6", "C2"), ("probe", "S2", "R7", "C3"), ("wait", "S3", "R8", "C4"))
    for index, (role, switch, guard, cap) in enumerate(rows):
        y = -6.8 - 3.3 * index
        _tag(d, _gpio(wiring, role), 17.4, y)
        d += elm.Line().at((17.4, y)).to((18.6, y))
        d += elm.Dot().at((18.6, y))
        value = wiring.part(cap).value
        capacitor = elm.Capacitor().at((18.6, y)).to((18.6, y - 1.5))
        d += capacitor.label(f"{cap} {value}\n(optional)", loc="top", fontsize=9, ofst=0.1)
        d += elm.Ground().at((18.6, y - 1.5))
        resistor = elm.Resistor().at((18.6, y)).to((21.4, y))
        d += resistor.label(f"{guard}  {wiring.part(guard).value}")
        name = wiring.part(switch).name.replace("Button ", "")
        d += elm.Button().at((21.4, y)).to((23.8, y)).label(f"{switch}  {name}", ofst=0.15)
        d += elm.Line().at((23.8, y)).to((24.4, y))
        d += elm.Ground().at((24.4, y))


# ------------------------------------------------------------------------------ the header
def header_svg(wiring: Wiring) -> str:
    """Draw the 40 pins as seen from above, with the wires that go to each."""
    return "\n".join(_header_lines(wiring)) + "\n"


def _colour(wiring: Wiring, net: str, pins: tuple[str, ...]) -> str:
    if net in COLOURS:
        return COLOURS[net]
    refs = [pin.split(".")[0] for pin in pins if not pin.startswith(f"{HEADER}.")]
    return COLOURS[wiring.part(refs[0]).group]


_GOES_TO = {
    "3V3": "3.3 V", "5V": "5 V, sounder only", "GND": "ground",
    "ONE_WIRE": "probe, yellow or white",
    "SDA": "display SDA", "SCL": "display SCL", "SOUND": "sounder, through R2",
    "NOW": "button NOW, through R6", "PROBE": "button PROBE, through R7",
    "WAIT": "button WAIT, through R8",
}  # fmt: skip


def _header_lines(wiring: Wiring) -> Iterator[str]:
    step, left, top, gap = 30, 330, 92, 34
    height = top + 20 * step + 14
    width = 2 * left + gap
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}" font-family="sans-serif" font-size="13">'
    )
    yield f'<rect width="{width}" height="{height}" fill="{PAPER}"/>'
    yield (
        f'<text x="{width / 2}" y="30" text-anchor="middle" font-size="17" fill="{INK}">'
        "The 40-pin header from above</text>"
    )
    yield (
        f'<text x="{width / 2}" y="52" text-anchor="middle" fill="{FAINT}">'
        "pin 1 is next to the memory card; the right row is at the edge of the board</text>"
    )
    yield (
        f'<rect x="{left - 18}" y="{top - 20}" width="{gap + 36}" height="{20 * step + 10}" rx="5" '
        f'fill="#eceef1" stroke="{FAINT}"/>'
    )
    pins = wiring.pins()
    for number in range(1, 41):
        key = f"{HEADER}.{number}"
        right = number % 2 == 0
        x, y = left + (gap if right else 0), top + ((number - 1) // 2) * step
        net = wiring.net_of(key)
        colour = _colour(wiring, net.name, net.pins) if net else "#c3c8ce"
        radius = 5 if number == 1 else 10  # pin 1 has the square pad
        yield (
            f'<rect x="{x - 10}" y="{y - 10}" width="20" height="20" rx="{radius}" '
            f'fill="{colour}"/>'
        )
        yield (
            f'<text x="{x}" y="{y + 4}" text-anchor="middle" font-size="11" fill="#fff">'
            f"{number}</text>"
        )
        if net is None:
            continue
        pin = pins[key]
        far, tip = (x + 60, x + 66) if right else (x - 60, x - 66)
        near = x + 10 if right else x - 10
        yield f'<path d="M{near} {y} H{far}" stroke="{colour}" stroke-width="3"/>'
        name = f"GPIO{pin.gpio}: " if pin.type == "gpio" else ""
        anchor = "start" if right else "end"
        yield (
            f'<text x="{tip}" y="{y + 4}" text-anchor="{anchor}" fill="{INK}">'
            f"{escape(name + _GOES_TO[net.name])}</text>"
        )
    yield "</svg>"
