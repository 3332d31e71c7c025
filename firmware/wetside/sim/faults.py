"""Faults of the bench's parts on request: what, where, from when, how long, how much.

In words: ``KIND [PROBE] BEGIN LENGTH [AMOUNT]``, seconds from the start of the bench::

    unplug bath 300 40        the bath probe's plug is out from 300 s to 340 s
    bus-gone 200 15           the kernel shows no 1-Wire bus
    bad-crc bath 0 900 0.2    one read in five fails its check, for a quarter of an hour
    noise bath 120 30 0.5     30 s of noise with a standard deviation of 0.5 C
    display-lost 400 25
    bounce 0 3600 4           every press bounces four times at either end

A probe fault without PROBE is one of all probes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from wetside.errors import BenchError
from wetside.sim.tree import Answer


class FaultKind(StrEnum):
    """What can go wrong."""

    UNPLUG = "unplug"
    EMPTY = "empty"
    BAD_CRC = "bad-crc"
    OPEN = "open"
    SHORT = "short"
    POWER_ON = "power-on"
    WEAK_SUPPLY = "weak-supply"
    FIRST_LINE = "first-line"
    GARBAGE = "garbage"
    STUCK = "stuck"
    NOISE = "noise"
    BUS_GONE = "bus-gone"
    DISPLAY_LOST = "display-lost"
    BOUNCE = "bounce"


#: Faults that are a way of answering; their AMOUNT is the share of reads that fail, 1 unless said.
ANSWERS: Mapping[FaultKind, Answer] = {
    FaultKind.EMPTY: Answer.EMPTY,
    FaultKind.BAD_CRC: Answer.BAD_CRC,
    FaultKind.OPEN: Answer.OPEN_BUS,
    FaultKind.SHORT: Answer.SHORTED,
    FaultKind.POWER_ON: Answer.POWER_ON,
    FaultKind.WEAK_SUPPLY: Answer.UNDERPOWERED,
    FaultKind.FIRST_LINE: Answer.FIRST_LINE,
    FaultKind.GARBAGE: Answer.GARBAGE,
    FaultKind.STUCK: Answer.STUCK,
}

#: Faults of a probe; the others belong to no probe.
OF_PROBES = frozenset({*ANSWERS, FaultKind.UNPLUG, FaultKind.NOISE})

_USUAL_AMOUNTS = {FaultKind.NOISE: 0.5, FaultKind.BOUNCE: 3.0}


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault and its span, seconds from the start of the bench.

    ``probe`` is a probe's name, None for all probes or for faults of no probe. ``amount`` is
    a share of reads, a standard deviation in degrees Celsius, or a number of bounces.
    """

    kind: FaultKind
    begin_seconds: float
    seconds: float
    probe: str | None = None
    amount: float = 1.0

    def __post_init__(self) -> None:
        if not (self.begin_seconds >= 0 and self.seconds > 0):
            raise BenchError(f"fault {self.kind}: it begins at 0 or later and lasts above 0 s")
        if self.probe is not None and self.kind not in OF_PROBES:
            raise BenchError(f"fault {self.kind}: it belongs to no probe, leave {self.probe!r} out")
        if self.kind in ANSWERS and not 0 < self.amount <= 1:
            raise BenchError(f"fault {self.kind}: its amount is a share of reads, above 0 up to 1")
        if self.amount < 0:
            raise BenchError(f"fault {self.kind}: its amount is not below zero")


def _number(text: str) -> float | None:
    try:
        number = float(text)
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def parse(text: str, probes: Sequence[str] = ()) -> Fault:
    """Read a fault in words; ``probes`` are the names that may be given, any if empty.

    Raises
    ------
    BenchError
        Says what is wrong and what would be right.
    """
    words = text.split()
    form = "KIND [PROBE] BEGIN LENGTH [AMOUNT], for example: unplug bath 300 40"
    if not words:
        raise BenchError(f"an empty fault; write {form}")
    try:
        kind = FaultKind(words[0])
    except ValueError:
        kinds = ", ".join(FaultKind)
        raise BenchError(f"fault {text!r}: no kind {words[0]!r}; there are {kinds}") from None
    rest = words[1:]
    probe = rest.pop(0) if rest and _number(rest[0]) is None else None
    numbers = [_number(word) for word in rest]
    if not 2 <= len(numbers) <= 3 or None in numbers:
        raise BenchError(f"fault {text!r}: write {form}")
    if probe is not None and probes and probe not in probes:
        raise BenchError(f"fault {text!r}: no probe {probe!r}; there are {', '.join(probes)}")
    begin, length, *amount = [number for number in numbers if number is not None]
    return Fault(kind, begin, length, probe, amount[0] if amount else _USUAL_AMOUNTS.get(kind, 1.0))
