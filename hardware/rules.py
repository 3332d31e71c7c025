"""Electrical rules of the wiring table.

Each rule takes a `Wiring` and yields sentences; ``check`` runs them all and gives `Fault` values.
The rules know what a general rule checker cannot: which GPIO may drive what, that a 5 V pull-up
kills a pin, that a probe's wires may not be exchanged. KiCad's own checker is run beside these
where it is installed (``hardware/kicad.py``).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from hardware.wiring import HEADER, Wiring

from hardware import electrical


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with the wiring: the rule that says so, and a sentence for the builder."""

    rule: str
    says: str

    def __str__(self) -> str:
        return f"{self.rule}: {self.says}"


Rule = Callable[[Wiring], Iterator[str]]


def check(wiring: Wiring) -> list[Fault]:
    """Run every rule; an empty list means that the wiring is sound."""
    structural = [Fault(rule.__name__, says) for rule in STRUCTURE for says in rule(wiring)]
    if structural:  # the electrical rules need every pin to be in exactly one place
        return structural
    return [Fault(rule.__name__, says) for rule in ELECTRICAL for says in rule(wiring)]


def without_optional(wiring: Wiring) -> Wiring:
    """Give the wiring with the optional parts left out."""
    absent = {part.ref for part in wiring.parts if part.optional}
    return replace(
        wiring,
        parts=tuple(part for part in wiring.parts if part.ref not in absent),
        nets=tuple(
            replace(net, pins=tuple(p for p in net.pins if p.split(".")[0] not in absent))
            for net in wiring.nets
        ),
    )


# ------------------------------------------------------------------------------ structure
def every_pin_exists(wiring: Wiring) -> Iterator[str]:
    """A net names only pins that the header or a part has."""
    known = wiring.pins()
    for net in wiring.nets:
        for pin in net.pins:
            if pin not in known:
                yield f"net {net.name} names {pin}, which no part has"


def every_pin_has_one_net(wiring: Wiring) -> Iterator[str]:
    """Each pin of a part sits in exactly one net; a header pin in at most one."""
    uses = Counter(pin for net in wiring.nets for pin in net.pins)
    for key in wiring.pins():
        if uses[key] > 1:
            yield f"{key} is in {uses[key]} nets"
        elif uses[key] == 0 and not key.startswith(f"{HEADER}."):
            yield f"{key} is not connected"


def every_net_joins(wiring: Wiring) -> Iterator[str]:
    """A net joins at least two pins."""
    for net in wiring.nets:
        if len(net.pins) < 2:
            yield f"net {net.name} joins nothing"


# ------------------------------------------------------------------------------ choice of pins
def pins_suit_their_roles(wiring: Wiring) -> Iterator[str]:
    """Sound comes from a PWM pin that is low at boot; buttons avoid pins with board pull-ups."""
    header = wiring.header
    for role in wiring.roles:
        if role.name == "buzzer" and role.gpio not in header.pwm:
            yield f"GPIO{role.gpio} has no hardware PWM for the sounder"
        if role.name == "buzzer" and role.gpio in header.pulled_up_at_boot:
            yield f"GPIO{role.gpio} is pulled up at boot: the sounder would buzz"
        if role.part.startswith("S") and role.gpio in header.board_pull_up:
            yield f"GPIO{role.gpio} belongs to I2C"
    if [wiring.role(name).gpio for name in ("i2c_data", "i2c_clock")] != [2, 3]:
        yield "I2C bus 1 is on GPIO2 (data) and GPIO3 (clock)"


def settings_follow_the_roles(wiring: Wiring) -> Iterator[str]:
    """The station's default pins are those of the roles, and the address is the display's."""
    for name in ("one_wire", "buzzer", "now", "probe", "wait"):
        if wiring.station[f"{name}_gpio"] != wiring.role(name).gpio:
            yield f"station.{name}_gpio differs from the role {name}"
    displays = [part.extra["i2c_address"] for part in wiring.parts if part.kind == "oled"]
    if displays != [wiring.station["i2c_address"]]:
        yield "station.i2c_address differs from the display's"


def i2c_addresses_differ(wiring: Wiring) -> Iterator[str]:
    """No two parts answer to one address."""
    found = Counter(p.extra["i2c_address"] for p in wiring.parts if "i2c_address" in p.extra)
    for address, count in found.items():
        if count > 1:
            yield f"{count} parts at I2C address 0x{int(address):02X}"


STRUCTURE: tuple[Rule, ...] = (every_pin_exists, every_pin_has_one_net, every_net_joins)
ELECTRICAL: tuple[Rule, ...] = (
    *electrical.RULES,
    pins_suit_their_roles,
    settings_follow_the_roles,
    i2c_addresses_differ,
)
