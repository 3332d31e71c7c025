"""Faults in words."""

from __future__ import annotations

import pytest

from wetside.errors import BenchError
from wetside.sim.faults import Fault, FaultKind, parse


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        ("unplug bath 300 40", Fault(FaultKind.UNPLUG, 300.0, 40.0, "bath")),
        ("bus-gone 200 15", Fault(FaultKind.BUS_GONE, 200.0, 15.0)),
        ("bad-crc bath 0 900 0.2", Fault(FaultKind.BAD_CRC, 0.0, 900.0, "bath", 0.2)),
        ("noise 120 30", Fault(FaultKind.NOISE, 120.0, 30.0, None, 0.5)),
        ("bounce 0 3600 4", Fault(FaultKind.BOUNCE, 0.0, 3600.0, None, 4.0)),
        ("  display-lost   1.5 2 ", Fault(FaultKind.DISPLAY_LOST, 1.5, 2.0)),
    ],
)
def test_reads_a_fault(words: str, fault: Fault) -> None:
    """Kind, probe, begin, length and amount are read from words in that order."""
    assert parse(words) == fault


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        ("", "empty fault"),
        ("flood 1 2", "no kind 'flood'; there are unplug"),
        ("unplug bath 300", "KIND"),
        ("unplug bath 300 40 1 2", "KIND"),
        ("unplug bath soon 40", "KIND"),
        ("unplug bath -1 40", "begins at 0 or later"),
        ("unplug bath 10 0", "lasts above 0"),
        ("unplug bath nan 40", "KIND"),
        ("bus-gone bath 10 5", "belongs to no probe"),
        ("bad-crc 10 5 1.5", "share of reads"),
        ("noise 10 5 -1", "not below zero"),
        ("unplug devloper 10 5", "no probe 'devloper'; there are bath"),
    ],
)
def test_refuses_what_it_cannot_read_and_says_why(words: str, reason: str) -> None:
    """A fault that cannot be read is answered with what is wrong or what would be right."""
    with pytest.raises(BenchError, match=reason):
        parse(words, ("bath",))
