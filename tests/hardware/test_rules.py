"""The electrical rules accept the wiring as it is and refuse wrong ones."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hardware.rules import check, without_optional
from hardware.wiring import HEADER, Net, Wiring

Signature = tuple[object, ...]


def test_the_wiring_as_it_stands_breaks_no_rule(wiring: Wiring) -> None:
    """The file passes every rule."""
    assert check(wiring) == []


def test_the_optional_parts_may_be_left_out(wiring: Wiring) -> None:
    """Without the second probe, the clock and the line capacitors every rule still holds."""
    assert check(without_optional(wiring)) == []


def test_a_sounder_with_a_coil_is_refused(wiring: Wiring) -> None:
    """Nothing takes up what a coil gives back when it is switched off."""
    coil = tuple(replace(p, kind="coil") if p.ref == "LS1" else p for p in wiring.parts)
    said = [fault.says for fault in check(replace(wiring, parts=coil))]
    assert any("Q1 drives no piezo" in text for text in said)


def swapped(wiring: Wiring, one: str, two: str) -> Wiring:
    """Give the wiring with two wires exchanged."""
    other = {one: two, two: one}
    nets = (replace(net, pins=tuple(other.get(p, p) for p in net.pins)) for net in wiring.nets)
    return replace(wiring, nets=tuple(nets))


def moved(wiring: Wiring, pin: str, name: str) -> Wiring:
    """Give the wiring with one wire moved to another net."""

    def pins(net: Net) -> tuple[str, ...]:
        rest = tuple(p for p in net.pins if p != pin)
        return (*rest, pin) if net.name == name else rest

    return replace(wiring, nets=tuple(replace(net, pins=pins(net)) for net in wiring.nets))


def signature(wiring: Wiring) -> list[str]:
    """Describe what the wiring does, blind to which of two like parts is which."""
    rows: list[Signature] = []
    for part in wiring.parts:
        named = part.kind in {"button", "probe", "oled", "clock"}
        homes: dict[str, object] = {}
        for pin in part.pins:
            net = wiring.net_of(pin.key)
            homes[pin.name] = net.name if net else None
        twin = part.twins[0] if part.twins else frozenset()
        ends = sorted(str(homes[name]) for name in twin)
        rest = sorted((name, str(net)) for name, net in homes.items() if name not in twin)
        label = "" if part.kind == "probe" else part.ref
        values = sorted(part.extra.items())
        rows.append((part.kind, label if named else "", values, ends, rest))
    header = [
        (pin.gpio if pin.type == "gpio" else pin.max_volts, net.name)
        for key, pin in wiring.pins().items()
        if key.startswith(HEADER) and (net := wiring.net_of(key)) is not None
    ]
    return sorted(map(repr, [*rows, *header]))


NAMED_MISTAKES = {
    "probe: red and black exchanged": ("B1.VDD", "B1.GND", "supplies_fit"),
    "probe: black and yellow exchanged": ("B1.GND", "B1.DQ", "supplies_fit"),
    "pull-up to 5 V": ("R1.1", "R3.1", "nothing_sees_too_many_volts"),
    "display: GND and VCC exchanged": ("D1.GND", "D1.VCC", "supplies_fit"),
    "display: data and clock exchanged": ("D1.SDA", "D1.SCL", "roles_reach_their_parts"),
    "two buttons exchanged": ("S1.A", "S2.A", "roles_reach_their_parts"),
    "sounder one pin along the header": ("J1.12", "J1.14", "rails_are_themselves"),
    "probe on the neighbour's GPIO": ("J1.7", "J1.11", "roles_reach_their_parts"),
    "transistor turned round": ("Q1.C", "Q1.E", "sounder_is_driven"),
    "base and collector exchanged": ("Q1.B", "Q1.C", "sounder_is_driven"),
    "3.3 V and 5 V exchanged": ("J1.1", "J1.2", "rails_are_themselves"),
}


@pytest.mark.parametrize("mistake", NAMED_MISTAKES)
def test_a_common_mistake_is_refused_by_name(wiring: Wiring, mistake: str) -> None:
    """Each mistake that beginners make is found by the rule meant for it."""
    one, two, rule = NAMED_MISTAKES[mistake]
    assert rule in {fault.rule for fault in check(swapped(wiring, one, two))}


def test_every_exchange_of_two_wires_is_refused(wiring: Wiring) -> None:
    """Any two wires exchanged break a rule, unless the circuit stays the same circuit."""
    whole = signature(wiring)
    pins = [pin for net in wiring.nets for pin in net.pins]
    escaped, tried = [], 0
    for one, two in itertools.combinations(pins, 2):
        wrong = swapped(wiring, one, two)
        if signature(wrong) == whole:
            continue
        tried += 1
        if not check(wrong):
            escaped.append(f"{one} <-> {two}")
    assert tried > 1000
    assert escaped == []


def test_every_wire_moved_to_another_net_is_refused(wiring: Wiring) -> None:
    """Any single wire put to a wrong place breaks a rule."""
    whole = signature(wiring)
    escaped, tried = [], 0
    for home in wiring.nets:
        for pin in home.pins:
            for net in wiring.nets:
                wrong = moved(wiring, pin, net.name)
                if net is home or signature(wrong) == whole:
                    continue
                tried += 1
                if not check(wrong):
                    escaped.append(f"{pin} -> {net.name}")
    assert tried > 500
    assert escaped == []


def test_every_wire_left_off_is_refused(wiring: Wiring) -> None:
    """A wire of a part that is forgotten breaks a rule."""
    pins = [pin for net in wiring.nets for pin in net.pins if not pin.startswith(HEADER)]
    assert [pin for pin in pins if not check(moved(wiring, pin, "nowhere"))] == []


@pytest.mark.parametrize(
    ("ref", "ohms", "rule"),
    [
        ("R6", 100.0, "gpio_currents_are_safe"),
        ("R1", 330.0, "open_drains_are_pulled_up"),
        ("R1", 100e3, "open_drains_are_pulled_up"),
    ],
)
def test_a_wrong_value_is_refused(wiring: Wiring, ref: str, ohms: float, rule: str) -> None:
    """A resistor far from its value breaks the rule that needs it."""
    parts = tuple(
        replace(part, extra={**part.extra, "ohms": ohms}) if part.ref == ref else part
        for part in wiring.parts
    )
    assert rule in {fault.rule for fault in check(replace(wiring, parts=parts))}


def test_a_pin_used_twice_is_refused(wiring: Wiring) -> None:
    """One header pin in two nets is a structural fault."""
    doubled = replace(wiring, nets=(*wiring.nets, Net("EXTRA", ("J1.7", "J1.29"))))
    assert [fault.rule for fault in check(doubled)] == ["every_pin_has_one_net"]


def test_settings_that_differ_from_the_roles_are_refused(wiring: Wiring) -> None:
    """The table of defaults may not drift from the roles."""
    wrong = replace(wiring, station={**wiring.station, "now_gpio": 5})
    assert [fault.rule for fault in check(wrong)] == ["settings_follow_the_roles"]


def test_two_parts_at_one_address_are_refused(wiring: Wiring) -> None:
    """The clock may not take the display's I2C address."""
    parts = tuple(
        replace(part, extra={**part.extra, "i2c_address": 0x3C}) if part.ref == "U1" else part
        for part in wiring.parts
    )
    assert [f.rule for f in check(replace(wiring, parts=parts))] == ["i2c_addresses_differ"]
