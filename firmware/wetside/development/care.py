"""Cautions and disposal of each solution, to be shown where it is mixed, poured or counted.

They repeat what safety data sheets and local rules say in general and never stand above them.
Sources: McCann, Photo Processing Hazards in Schools; NSEAD guide to safe practice 6.5;
T.O. 33B-1-1 p. 6-76 (acid into water); PNEAC list 2000 (silver in fixer).
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
            "Developer irritates skin and may make it sensitive for good: no bare hands in it.",
            POWDER_CAUTION,
        ),
        DEVELOPER_DISPOSAL,
        collect=False,
    ),
    Holds.STOP: Care((GENERAL_CAUTION, ACID_CAUTION), STOP_DISPOSAL, collect=False),
    Holds.FIXER: Care(
        (
            GENERAL_CAUTION,
            "Fixer gives off sulfur dioxide, more so with stop bath carried in: fan on, lids on.",
        ),
        FIXER_DISPOSAL,
        collect=True,
    ),
    Holds.CLEARING: Care(
        (GENERAL_CAUTION,),
        "Used clearing bath holds a little silver: ask the local sewer authority; collect it "
        "with the fixer where it says so.",
        collect=False,
    ),
    Holds.WETTING: Care(
        (GENERAL_CAUTION,),
        "Used wetting bath follows the wash water, if the local sewer authority agrees.",
        collect=False,
    ),
}


def care(holds: Holds) -> Care:
    """Cautions and disposal of a kind of solution."""
    return _CARE[holds]
