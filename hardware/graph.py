"""Questions about paths through a wiring: which rail, through which resistors, how many volts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from hardware.wiring import Wiring

CONDUCTS = {"resistor", "button", "piezo"}


@dataclass(frozen=True, slots=True)
class Edge:
    """A part with two ends between two nets. A closed button has no resistance."""

    ref: str
    kind: str
    ends: tuple[str, str]
    ohms: float

    def other(self, net: str) -> str:
        """Give the net at the far end."""
        return self.ends[1] if self.ends[0] == net else self.ends[0]


class Circuit:
    """The nets as nodes and the two-ended parts as edges. Wrong wirings are welcome here."""

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self._home = {pin: net.name for net in wiring.nets for pin in net.pins}
        self._volts = {net.name: net.volts for net in wiring.nets}
        self._edges = list(self._two_ended())

    def _two_ended(self) -> Iterator[Edge]:
        for part in self.wiring.parts:
            if part.kind in CONDUCTS and len(part.pins) == 2:
                one, two = (self._home[pin.key] for pin in part.pins)
                yield Edge(part.ref, part.kind, (one, two), part.extra.get("ohms", 0.0))

    def home(self, pin: str) -> str:
        """Give the net of a pin."""
        return self._home[pin]

    def rail_of(self, pin: str) -> float | None:
        """Give the volts of the rail a pin sits on, or None."""
        return self._volts[self._home[pin]]

    def rail_name(self, volts: float) -> str:
        """Give the name of the rail of a voltage."""
        return next(name for name, value in self._volts.items() if value == volts)

    def edges_at(self, net: str, kinds: set[str]) -> list[Edge]:
        """Give the two-ended parts of some kinds that touch a net."""
        return [edge for edge in self._edges if net in edge.ends and edge.kind in kinds]

    def through_one_resistor(self, net: str) -> set[str]:
        """Give the nets at the far ends of the resistors on a net, rails left out."""
        far = {edge.other(net) for edge in self.edges_at(net, {"resistor"})}
        return {name for name in far if self._volts[name] is None}

    def twins_of(self, pin: str) -> set[str]:
        """Give the pin and those it may be exchanged with, such as both ends of a button."""
        ref, name = pin.split(".")
        groups = [pair for pair in self.wiring.part(ref).twins if name in pair]
        return {pin} | {f"{ref}.{twin}" for pair in groups for twin in pair}

    def resistors_to_rail(self, net: str, volts: float) -> list[float]:
        """Give the ohms of each resistor from a net straight to a rail."""
        return [
            edge.ohms
            for edge in self.edges_at(net, {"resistor"})
            if self._volts[edge.other(net)] == volts and edge.other(net) != net
        ]

    def resistor_between(self, one: str, two: str = "") -> list[float]:
        """Give the ohms of each resistor that joins two nets."""
        return [e.ohms for e in self.edges_at(one, {"resistor"}) if set(e.ends) == {one, two}]

    def ends(self, net: str) -> list[tuple[float, float]]:
        """Give (volts of the rail, ohms to it) for every way to a rail, all buttons closed.

        A way stops at the first rail. A rail itself is reached with zero ohms. The base of a
        transistor counts as a way to ground, which is on the safe side.
        """
        found: list[tuple[float, float]] = []
        bases = {
            self._home[pin.key] for p in self.wiring.parts for pin in p.pins if pin.type == "base"
        }

        def walk(here: str, ohms: float, used: frozenset[str]) -> None:
            volts = self._volts[here]
            if volts is not None:
                found.append((volts, ohms))
                return
            if here in bases:
                found.append((0.0, ohms))
            for edge in self.edges_at(here, CONDUCTS):
                if edge.ref not in used:
                    walk(edge.other(here), ohms + edge.ohms, used | {edge.ref})

        walk(net, 0.0, frozenset())
        return found

    def highest_volts(self, net: str) -> float:
        """Give the highest rail that a net can be lifted to; 0 when none."""
        return max((volts for volts, _ in self.ends(net)), default=0.0)

    def worst_milliamps(self, net: str, drive_volts: float) -> float:
        """Give the largest current of a pin on the net driven to ``drive_volts`` or to 0 V."""
        worst = 0.0
        for volts, ohms in self.ends(net):
            across = max(abs(drive_volts - volts), volts)
            worst = max(worst, 1000.0 * across / ohms if ohms else math.inf)
        return worst
