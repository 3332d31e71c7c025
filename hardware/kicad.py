"""The wiring as a KiCad schematic, for KiCad's own electrical rule check and netlist.

The picture is plain (parts in a grid, joined by labels); people read ``hardware/schematic.py``'s.
Its use is to be judged by a program and a symbol library that nobody here wrote: the header, the
probe, the transistor and the small parts are KiCad's own symbols with KiCad's own pin types.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from pathlib import Path

from hardware.wiring import HEADER, Part, Wiring

SYMBOLS = Path("/usr/share/kicad/symbols")
_SPACE = uuid.uuid5(uuid.NAMESPACE_URL, "wetside/hardware")

#: kind of part -> (library, symbol to copy, our pin name -> the symbol's pin number)
LIBRARY: dict[str, tuple[str, str, dict[str, str]]] = {
    # KiCad derives its DS18B20 from this symbol; the pins are the same
    "probe": ("Sensor_Temperature", "MAX31820", {"GND": "1", "DQ": "2", "VDD": "3"}),
    "resistor": ("Device", "R", {"1": "1", "2": "2"}),
    "capacitor": ("Device", "C", {"1": "1", "2": "2"}),
    "piezo": ("Device", "Buzzer", {"1": "1", "2": "2"}),
    "npn": ("Device", "Q_NPN", {"B": "B", "C": "C", "E": "E"}),
    "button": ("Switch", "SW_Push", {"A": "1", "B": "2"}),
}
BOARD = ("Connector", "Raspberry_Pi_4")

#: modules have no library symbol; KiCad pin types of ours
_MODULE_TYPES = {"power_in": "power_in", "ground": "power_in", "open_drain": "open_collector"}


def schematic(wiring: Wiring, symbols: Path = SYMBOLS) -> str:
    """Give the text of a ``.kicad_sch`` file (KiCad 9 format).

    Raises
    ------
    FileNotFoundError
        KiCad's symbol libraries are not installed.
    """
    board = _from_library(symbols, *BOARD)
    texts, body = {board: None}, list(_place_board(wiring, board))
    for index, part in enumerate(wiring.parts):
        symbol = _symbol(part, symbols)
        texts[symbol] = None
        body += _place_part(wiring, part, symbol, index)
    library = "\n".join(_qualified(text) for text in texts)
    return (
        f'(kicad_sch (version 20250114) (generator "wetside") (uuid "{_uuid("sheet")}")\n'
        f'(paper "A2")\n(lib_symbols\n{library}\n)\n' + "\n".join(body) + "\n"
        '(sheet_instances (path "/" (page "1")))\n)\n'
    )


def header_names(symbols: Path = SYMBOLS) -> dict[int, str]:
    """Give KiCad's own name of each header pin of its Raspberry Pi symbol."""
    text = _from_library(symbols, *BOARD)
    found = re.findall(r'\(name "([^"]*)".*?\(number "(\d+)"', text, re.DOTALL)
    return {int(number): name for name, number in found}


def _uuid(name: str) -> str:
    return str(uuid.uuid5(_SPACE, name))


def _from_library(symbols: Path, library: str, name: str) -> str:
    text = (symbols / f"{library}.kicad_sym").read_text(encoding="utf-8")
    start = text.index(f'(symbol "{name}"')
    depth = 0
    for at in range(start, len(text)):
        depth += {"(": 1, ")": -1}.get(text[at], 0)
        if depth == 0:
            return text[start : at + 1]
    raise ValueError(f"symbol {name} of {library} does not end")


def _symbol(part: Part, symbols: Path) -> str:
    if part.kind in LIBRARY:
        library, name, _ = LIBRARY[part.kind]
        return _from_library(symbols, library, name)
    return _module(part)


def _module(part: Part) -> str:
    pins = "".join(
        f"(pin {_MODULE_TYPES[pin.type]} line (at -10.16 {-2.54 * row:.2f} 0) (length 5.08)"
        f' (name "{pin.name}") (number "{row + 1}"))'
        for row, pin in enumerate(part.pins)
    )
    box = (
        f"(rectangle (start -5.08 2.54) (end 10.16 {-2.54 * len(part.pins):.2f})"
        " (stroke (width 0.254) (type default)) (fill (type none)))"
    )
    name = f"module_{part.kind}"
    props = "".join(
        f'(property "{key}" "{value}" (at 0 {y} 0) (effects (font (size 1.27 1.27))))'
        for key, value, y in (("Reference", "U", 5.08), ("Value", name, 7.62))
    )
    return f'(symbol "{name}" {props} (symbol "{name}_0_1" {box}) (symbol "{name}_1_1" {pins}))'


def _name(symbol: str) -> str:
    return symbol.split('"', 2)[1]


def _qualified(symbol: str) -> str:
    return symbol.replace(f'(symbol "{_name(symbol)}"', f'(symbol "wetside:{_name(symbol)}"', 1)


def _pin_places(symbol: str) -> dict[str, tuple[float, float]]:
    pattern = r'\(pin \w+ \w+\s*\(at ([-\d.]+) ([-\d.]+).*?\(number "([^"]*)"'
    found = re.findall(pattern, symbol, re.DOTALL)
    return {number: (float(x), float(y)) for x, y, number in found}


def _instance(ref: str, value: str, symbol: str, x: float, y: float) -> str:
    props = "".join(
        f'(property "{key}" "{text}" (at {x} {y - up} 0) (effects (font (size 1.27 1.27))))'
        for key, text, up in (("Reference", ref, 12.7), ("Value", value, 10.16))
    )
    path = f'(path "/{_uuid("sheet")}" (reference "{ref}") (unit 1))'
    return (
        f'(symbol (lib_id "wetside:{_name(symbol)}") (at {x} {y} 0) (unit 1) (in_bom yes)'
        f' (on_board yes) (dnp no) (uuid "{_uuid(ref)}") {props}'
        f' (instances (project "" {path})))'
    )


def _label(net: str, x: float, y: float, key: str) -> str:
    return (
        f'(global_label "{net}" (shape passive) (at {x:.2f} {y:.2f} 0)'
        f' (effects (font (size 1.27 1.27))) (uuid "{_uuid("label" + key)}"))'
    )


def _ends(
    wiring: Wiring, ref: str, pins: dict[str, str], symbol: str, *, x: float, y: float
) -> Iterator[str]:
    """Put a label, or a cross where nothing is joined, at each pin of a placed symbol."""
    places = _pin_places(symbol)
    taken = {places[n] for pin, n in pins.items() if wiring.net_of(f"{ref}.{pin}")}
    for pin, number in pins.items():
        px, py = places[number]
        net = wiring.net_of(f"{ref}.{pin}")
        if net is not None:
            yield _label(net.name, x + px, y - py, f"{ref}.{pin}")
        elif (px, py) not in taken:
            taken.add((px, py))
            key = _uuid(f"nc{ref}.{pin}")
            yield f'(no_connect (at {x + px:.2f} {y - py:.2f}) (uuid "{key}"))'


def _place_board(wiring: Wiring, symbol: str) -> Iterator[str]:
    x, y = 76.2, 76.2
    yield _instance(HEADER, "40-pin header", symbol, x, y)
    yield from _ends(wiring, HEADER, {str(n): str(n) for n in range(1, 41)}, symbol, x=x, y=y)


def _place_part(wiring: Wiring, part: Part, symbol: str, index: int) -> Iterator[str]:
    x, y = 203.2 + 50.8 * (index % 5), 50.8 + 50.8 * (index // 5)
    own = {pin.name: str(row + 1) for row, pin in enumerate(part.pins)}
    pins = LIBRARY[part.kind][2] if part.kind in LIBRARY else own
    yield _instance(part.ref, part.value, symbol, x, y)
    yield from _ends(wiring, part.ref, pins, symbol, x=x, y=y)
