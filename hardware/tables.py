"""The parts list and the pin tables, as Markdown and CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from hardware.wiring import HEADER, Wiring

GROUPS = {
    "probe": "Probe",
    "buzzer": "Sounder",
    "buttons": "Buttons",
    "display": "Display",
    "clock": "Clock",
}


def markdown(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Lay out a table."""
    lines = ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head)]
    lines += ["| " + " | ".join(row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def parts_rows(wiring: Wiring) -> list[list[str]]:
    """Give one row per part: reference, part, value, rating, alternatives, needed or not."""
    return [
        [p.ref, p.name, p.value, p.rating, p.alternatives, "optional" if p.optional else "yes"]
        for p in wiring.parts
    ]


PARTS_HEAD = ("Ref", "Part", "Value", "Rating", "Instead, or to know", "Needed")


def parts_markdown(wiring: Wiring) -> str:
    """Give the parts list for the docs."""
    return markdown(PARTS_HEAD, parts_rows(wiring))


def parts_csv(wiring: Wiring) -> str:
    """Give the parts list for a spreadsheet or a shop's order form."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(PARTS_HEAD)
    writer.writerows(parts_rows(wiring))
    return out.getvalue()


def pins_markdown(wiring: Wiring) -> str:
    """Give one row per header pin in use, in the order of the header."""
    pins = wiring.pins()
    rows = []
    for number in range(1, 41):
        key = f"{HEADER}.{number}"
        net = wiring.net_of(key)
        if net is None:
            continue
        gpio = pins[key].gpio
        name = f"GPIO{gpio}" if gpio is not None else net.name.replace("3V3", "3.3 V")
        ends = [pin.replace(".", " ") for pin in net.pins if not pin.startswith(f"{HEADER}.")]
        roles = [role.name.replace("_", " ") for role in wiring.roles if role.gpio == gpio]
        rows.append([str(number), name, ", ".join(roles) or "supply", ", ".join(ends)])
    return markdown(("Header pin", "Name", "For", "Goes to"), rows)


def boards_markdown(wiring: Wiring) -> str:
    """Give one row per board: supply, plug and a word of advice."""
    rows = [
        [b.name, f"{b.supply_volts} V, {b.supply_amperes:g} A or more", b.plug, b.note]
        for b in wiring.boards
    ]
    return markdown(("Board", "Supply", "Plug", "To know"), rows)
