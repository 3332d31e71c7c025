"""Washing: how much thiosulfate stays after changes of water.

Fill-and-dump is dilution. What a roll, its reel and its tank hold back (10 mL, Torzynski 2004)
meets a tank of fresh water; when the two have come to rest, pouring out leaves the held part.
With 500 mL each change dilutes fifty times, not two. A change that is poured out too early has
not come to rest; ``completeness`` says how far it got.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from wetside.development.figures import (
    CARRIED_THIOSULFATE,
    CARRY_OVER,
    RESIDUAL_THIOSULFATE,
    ROLL_SQUARE_METRES,
)

#: Wash time against that at 20 degC: twice at 50 degF, four times at 35 degF (US Army
#: TM 11-2323, for prints). The page counts doublings from 68 degF on.
COLD_POINTS = ((20.0, 1.0), (10.0, 2.0), (15.0 / 9.0, 4.0))

_MOST_CHANGES = 50


def allowed_milligrams(rolls: float = 1.0) -> float:
    """Thiosulfate that may stay on film to last 500 years, mg (36 CFR 1238.14(c), ISO 18901)."""
    return RESIDUAL_THIOSULFATE.value * 1000.0 * ROLL_SQUARE_METRES.value * rolls


@dataclass(frozen=True, slots=True)
class FillAndDump:
    """A wash by full changes of water.

    Parameters
    ----------
    tank_millilitres
        Water and held liquid together when the tank is full.
    held_millilitres
        What stays behind when it is poured out.
    completeness
        How far each change comes to rest, 0 to 1; 1 is full equilibrium.

    Raises
    ------
    ValueError
        Volumes that do not fit each other, or a completeness outside 0 to 1.
    """

    tank_millilitres: float
    held_millilitres: float = CARRY_OVER.value
    completeness: float = 1.0

    def __post_init__(self) -> None:
        if not 0 < self.held_millilitres < self.tank_millilitres:
            raise ValueError(
                f"a tank of {self.tank_millilitres:g} mL cannot hold back "
                f"{self.held_millilitres:g} mL"
            )
        if not 0 < self.completeness <= 1:
            raise ValueError(f"completeness {self.completeness:g} is not between 0 and 1")

    @property
    def left_per_change(self) -> float:
        """Part of the thiosulfate that a change leaves behind."""
        held = self.held_millilitres / self.tank_millilitres
        return 1.0 - self.completeness * (1.0 - held)

    def left(self, milligrams: float, changes: int) -> tuple[float, ...]:
        """Thiosulfate before the first change and after each one, mg."""
        return tuple(milligrams * self.left_per_change**count for count in range(changes + 1))

    def changes_for(self, milligrams: float, allowed: float) -> int | None:
        """Full changes until no more than ``allowed`` mg stay; None if fifty are not enough."""
        for count, stays in enumerate(self.left(milligrams, _MOST_CHANGES)):
            if stays <= allowed:
                return count
        return None


@dataclass(frozen=True, slots=True)
class WashPlan:
    """A wash that reaches its target.

    ``changes`` of water, which leave ``left_milligrams`` of the ``allowed_milligrams``.
    """

    changes: int
    left_milligrams: float
    allowed_milligrams: float
    text: str


def plan(rolls: float, tank_millilitres: float, *, completeness: float = 1.0) -> WashPlan | None:
    """Changes of water for ``rolls`` in one tank, one more than the arithmetic asks for.

    Parameters
    ----------
    rolls
        Rolls of 80 square inches in the tank; each brings its own carry-over.
    tank_millilitres
        Volume of a full tank.
    completeness
        As in ``FillAndDump``. The extra change stands for what dilution does not describe:
        thiosulfate leaves the gelatine slowly.

    Returns
    -------
    WashPlan or None
        None if no number of changes is enough.
    """
    wash = FillAndDump(tank_millilitres, CARRY_OVER.value * rolls, completeness)
    start, allowed = CARRIED_THIOSULFATE.value * rolls, allowed_milligrams(rolls)
    least = wash.changes_for(start, allowed)
    if least is None:
        return None
    changes = least + 1
    left = wash.left(start, changes)[-1]
    text = (
        f"{changes} changes, each left to come to rest, leave {left:.3g} of {allowed:.2g} mg "
        f"allowed ({RESIDUAL_THIOSULFATE.publication})"
    )
    return WashPlan(changes, left, allowed, text)


def cold_factor(celsius: float) -> float | None:
    """How many times longer to wash in cold water; None below 1.7 degC, where nothing is printed.

    Straight in the logarithm between the printed points, 1 from 20 degC on: warmer water is not
    taken as a reason to wash less.
    """
    warm, coldest = COLD_POINTS[0][0], COLD_POINTS[-1][0]
    if celsius >= warm:
        return 1.0
    if celsius < coldest - 0.05:
        return None
    for (upper, less), (lower, more) in pairwise(COLD_POINTS):
        if celsius >= lower:
            share = (upper - celsius) / (upper - lower)
            return less * math.exp(share * math.log(more / less))
    return COLD_POINTS[-1][1]
