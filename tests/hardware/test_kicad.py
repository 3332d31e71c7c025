"""KiCad's rule checker and symbol library agree with the wiring table.

Outside check: KiCad 9 (kicad-cli and the kicad-symbols libraries, Debian bookworm-backports).
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from hardware.kicad import LIBRARY, SYMBOLS, header_names, schematic
from hardware.wiring import Wiring

if not (shutil.which("kicad-cli") and SYMBOLS.is_dir()):
    if os.environ.get("WETSIDE_CI"):
        raise RuntimeError("kicad-cli (KiCad 9) and kicad-symbols are missing; see hardware/README")
    pytest.skip("kicad-cli and its symbols are not installed", allow_module_level=True)


def erc(wiring: Wiring, folder: Path) -> list[str]:
    """Give the kinds of error that KiCad finds in the schematic of a wiring."""
    sheet, report = folder / "wetside.kicad_sch", folder / "erc.json"
    sheet.write_text(schematic(wiring), encoding="utf-8")
    subprocess.run(
        ["kicad-cli", "sch", "erc", "--severity-error", "--format", "json", "-o", report, sheet],
        check=True,
        capture_output=True,
        timeout=120,
    )
    found = json.loads(report.read_text(encoding="utf-8"))
    return sorted(v["type"] for page in found["sheets"] for v in page["violations"])


def swap(wiring: Wiring, one: str, two: str) -> Wiring:
    """Give the wiring with two wires exchanged."""
    other = {one: two, two: one}
    nets = (replace(net, pins=tuple(other.get(p, p) for p in net.pins)) for net in wiring.nets)
    return replace(wiring, nets=tuple(nets))


def test_kicad_finds_no_error(wiring: Wiring, tmp_path: Path) -> None:
    """The wiring passes KiCad's electrical rules."""
    assert erc(wiring, tmp_path) == []


@pytest.mark.parametrize(
    ("one", "two", "kind"),
    [
        ("B1.VDD", "R2.2", "power_pin_not_driven"),
        ("D1.VCC", "R6.2", "power_pin_not_driven"),
        ("J1.1", "J1.9", "pin_to_pin"),
    ],
)
def test_kicad_refuses_a_wrong_wire(
    wiring: Wiring, tmp_path: Path, one: str, two: str, kind: str
) -> None:
    """A supply pin on a signal, or two supplies joined, is an error to KiCad as well."""
    assert kind in erc(swap(wiring, one, two), tmp_path)


def test_kicad_reads_the_nets_of_the_table(wiring: Wiring, tmp_path: Path) -> None:
    """The netlist that KiCad extracts is the table, pin by pin."""
    sheet, out = tmp_path / "wetside.kicad_sch", tmp_path / "wetside.net"
    sheet.write_text(schematic(wiring), encoding="utf-8")
    command = ["kicad-cli", "sch", "export", "netlist", "-o", str(out), str(sheet)]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    numbers = {kind: pins for kind, (_, _, pins) in LIBRARY.items()}
    expected = {}
    for net in wiring.nets:
        nodes = set()
        for key in net.pins:
            ref, pin = key.split(".")
            if ref != "J1":
                part = wiring.part(ref)
                own = {p.name: str(row + 1) for row, p in enumerate(part.pins)}
                pin = numbers.get(part.kind, own)[pin]
            nodes.add((ref, pin))
        expected[net.name] = nodes
    actual = {}
    for block in out.read_text(encoding="utf-8").split("(net (code")[1:]:
        found = re.search(r'\(name "/?([^"]*)"\)', block)
        assert found
        nodes = set(re.findall(r'\(node \(ref "([^"]+)"\) \(pin "([^"]+)"\)', block))
        actual[found.group(1)] = nodes
    joined = {name: nodes for name, nodes in actual.items() if not name.startswith("unconnected")}
    # KiCad's symbol stacks all ground and supply pins of the header on one point each
    rails = {"GND", "3V3", "5V"}
    stacked = {
        name: {n for n in nodes if not (name in rails and n[0] == "J1")}
        for name, nodes in joined.items()
    }
    wanted = {
        name: {n for n in nodes if not (name in rails and n[0] == "J1")}
        for name, nodes in expected.items()
    }
    assert wanted == stacked


def test_kicad_numbers_the_header_as_the_table_does(wiring: Wiring) -> None:
    """KiCad's own Raspberry Pi symbol gives each GPIO the same header pin."""
    names = header_names()
    actual = {
        int(found.group(1)): number
        for number, name in names.items()
        if (found := re.search(r"GPIO(\d+)", name))
    }
    assert dict(enumerate(wiring.header.gpio)) == actual
