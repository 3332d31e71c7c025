"""Cautions and disposal of each solution, to be shown where it is mixed, poured or counted.

They repeat what safety data sheets and local rules say in general and never stand above them.
Sources: McCann, Photo Processing Hazards in Schools; NSEAD guide to safe practice 6.5;
T.O. 33B-1-1 p. 6-76 (acid into water); PNEAC list 2000 (silver in fixer). What must not meet is
general chemistry: hypochlorite with acid or ammonium, sulfite and thiosulfate with acid,
ammonium with alkali.
"""

from __future__ import annotations

from dataclasses import dataclass

from wetside.development.bottles import Holds
from wetside.development.mixing import (
    ACID_CAUTION,
    DEVELOPER_DISPOSAL,
    FIXER_DISPOSAL,
    GENERAL_CAUTION,
    POWDER_CAUTION,
    STOP_DISPOSAL,
)

NEVER_BLEACH = (
    "Never together with household bleach or a chlorine cleaner, in a bottle or in the sink: "
    "toxic gas."
)
ONLY_FIXER = (
    "Only fixer into the fixer can, and a vented cap on it: acid stop bath sets sulfur dioxide "
    "free there, alkaline developer ammonia."
)


@dataclass(frozen=True, slots=True)
class Care:
    """What to mind with a solution and where it goes; ``collect`` means never into the sink."""

    cautions: tuple[str, ...]
    disposal: str
    collect: bool


_CARE = {
    Holds.DEVELOPER: Care(
        (
            GENERAL_CAUTION,
            NEVER_BLEACH,
            "Developer irritates skin and may make it sensitive for good: no bare hands in it.",
            POWDER_CAUTION,
        ),
        DEVELOPER_DISPOSAL,
        collect=False,
    ),
    Holds.STOP: Care((GENERAL_CAUTION, NEVER_BLEACH, ACID_CAUTION), STOP_DISPOSAL, collect=False),
    Holds.FIXER: Care(
        (
            GENERAL_CAUTION,
            NEVER_BLEACH,
            ONLY_FIXER,
            "Fixer gives off sulfur dioxide, more so with stop bath carried in: fan on, lids on.",
        ),
        FIXER_DISPOSAL,
        collect=True,
    ),
    Holds.CLEARING: Care(
        (GENERAL_CAUTION, NEVER_BLEACH),
        "Used clearing bath holds a little silver: ask the local sewer authority; collect it "
        "with the fixer where it says so.",
        collect=False,
    ),
    Holds.WETTING: Care(
        (GENERAL_CAUTION, NEVER_BLEACH),
        "Used wetting bath follows the wash water, if the local sewer authority agrees.",
        collect=False,
    ),
}


def care(holds: Holds) -> Care:
    """Cautions and disposal of a kind of solution."""
    return _CARE[holds]
