"""Mixing: parts, water first, volumes for reels, stock for a week of classes."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self

from wetside.development.figures import (
    STOCK_PER_ROLL,
    TANK_MILLILITRES_PLASTIC,
    TANK_MILLILITRES_PLASTIC_WIDE,
    TANK_MILLILITRES_STEEL,
    TANK_MILLILITRES_STEEL_WIDE,
    Figure,
)
from wetside.errors import UnitsError
from wetside.outlook import Wall
from wetside.units import parse_number, volume_text

_PARTS = re.compile(r"^\d+(?:[.,]\d+)?(?:\s*\+\s*\d+(?:[.,]\d+)?)+$")

ACID_CAUTION = "Acid slowly into the water, never water into acid. Goggles, gloves, fan on."
POWDER_CAUTION = "Powder dust is harmful to breathe: teacher mixes, mask and fan on, lid at once."
GENERAL_CAUTION = (
    "Goggles and gloves; wash splashes with plenty of water; read the safety data sheet first."
)
LABELLED = "Label it: what, strength, date."
DEVELOPER_DISPOSAL = (
    "Used developer holds no silver to speak of; whether it may go down the drain is for the "
    "local sewer authority to say, never into a septic tank."
)
FIXER_DISPOSAL = (
    "Used fixer holds silver (3,000-5,000 mg/L, PNEAC): collect it in its marked container; "
    "local rules decide where it goes. Never into the sink."
)
STOP_DISPOSAL = (
    "Used stop bath is acid: keep it away from fixer, and follow the local sewer authority."
)


@dataclass(frozen=True, slots=True)
class Dilution:
    """Parts of concentrates and, last, of water: ``1+4``, or ``1+1+8`` with two concentrates.

    Stock, undiluted, has no water: one part and nothing else.
    """

    concentrates: tuple[float, ...]
    water: float

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read ``stock`` or parts with plus signs.

        Raises
        ------
        UnitsError
            Anything else. A colon is refused: 1:4 is read as 1+4 by some and as 1+3 by others.
        """
        plain = text.strip().lower()
        if plain == "stock":
            return cls((1.0,), 0.0)
        if ":" in plain:
            raise UnitsError(
                f"{text!r}: a colon is read in two ways; write 1+4 for one part and four of water"
            )
        if _PARTS.match(plain) is None:
            raise UnitsError(f"{text!r} is not a strength; write stock, 1+4 or 1+1+8")
        *concentrates, water = (parse_number(part) for part in plain.split("+"))
        if not all(part > 0 for part in concentrates):
            raise UnitsError(f"{text!r}: a part of a concentrate is above zero")
        return cls(tuple(concentrates), water)

    @property
    def parts(self) -> float:
        """All parts together."""
        return sum(self.concentrates) + self.water


@dataclass(frozen=True, slots=True)
class Measures:
    """Volumes to measure, millilitres, in the order of the dilution."""

    concentrates: tuple[float, ...]
    water: float


def measures(total_millilitres: float, dilution: Dilution) -> Measures:
    """How much of each makes ``total_millilitres``."""
    if not total_millilitres > 0:
        raise UnitsError(f"a volume is above zero, not {total_millilitres:g} mL")
    one = total_millilitres / dilution.parts
    return Measures(tuple(one * part for part in dilution.concentrates), one * dilution.water)


def instructions(amounts: Measures, *, acid: bool, unit: str = "mL") -> tuple[str, ...]:
    """Steps of diluting, cautions first, water before anything else; volumes in mL or fl oz.

    Water is measured first, at three quarters, so that what follows always meets water. What is
    used undiluted meets none.
    """
    steps = [GENERAL_CAUTION]
    if not amounts.water > 0:
        total = volume_text(sum(amounts.concentrates), unit)
        return (*steps, f"It is used undiluted: measure {total}.", LABELLED)
    if acid:
        steps.append(ACID_CAUTION)
    water = volume_text(amounts.water * 0.75, unit)
    steps.append(f"Pour {water} of water into the marked jug.")
    for index, millilitres in enumerate(amounts.concentrates):
        name = "the concentrate" if len(amounts.concentrates) == 1 else f"part {chr(65 + index)}"
        manner = "slowly, stirring, " if acid else ""
        steps.append(f"Add {volume_text(millilitres, unit)} of {name} {manner}to it.")
    total = volume_text(sum(amounts.concentrates) + amounts.water, unit)
    return (*steps, f"Fill up with water to {total} and stir.", LABELLED)


def from_powder(total_millilitres: float, unit: str = "mL") -> tuple[str, ...]:
    """Steps of making stock from a packet, cautions first (common practice).

    How much powder makes how much is on the packet, so no weight is given.
    """
    water, total = (volume_text(one, unit) for one in (0.75 * total_millilitres, total_millilitres))
    return (
        GENERAL_CAUTION,
        POWDER_CAUTION,
        f"Take the whole packet, one that makes {total}: its substances do not lie evenly in it.",
        f"Pour {water} of water, as warm as the packet says, into the marked jug.",
        "Strew the powder in slowly, stirring, until all of it is dissolved.",
        f"Fill up with water to {total} and stir: this is the stock.",
        LABELLED,
    )


def tank_millilitres(wall: Wall, *, wide: bool = False) -> Figure:
    """Volume for one reel; ``wide`` for 120 film. Follow the mark on the tank where it has one."""
    if wall is Wall.STEEL:
        return TANK_MILLILITRES_STEEL_WIDE if wide else TANK_MILLILITRES_STEEL
    return TANK_MILLILITRES_PLASTIC_WIDE if wide else TANK_MILLILITRES_PLASTIC


#: Powder stock is diluted with up to three parts of water (common practice); more is a liquid's.
_MOST_WATER = 3.0


def rolls_of_stock(total_millilitres: float, dilution: Dilution, unit: str = "mL") -> str | None:
    """A sentence on how many rolls a volume holds stock for, if it may be stock from powder.

    None for dilutions of liquid concentrates, of which a roll takes far less. ``unit`` is that of
    the volumes in it, mL or fl oz.
    """
    if len(dilution.concentrates) > 1 or dilution.water > _MOST_WATER * dilution.concentrates[0]:
        return None
    held = sum(measures(total_millilitres, dilution).concentrates)
    # Half a millilitre that rounding took is not missed.
    rolls = math.floor(held / (STOCK_PER_ROLL.value - 0.5))
    stock, each = volume_text(held, unit), volume_text(STOCK_PER_ROLL.value, unit)
    much = (
        f"enough for {rolls} roll{'s' if rolls != 1 else ''}" if rolls else "too little for a roll"
    )
    return (
        f"If the stock is made from powder, {stock} of it are {much}: each takes at least {each} "
        f"({STOCK_PER_ROLL.publication}, {STOCK_PER_ROLL.basis})."
    )


#: Part that is added for spills.
SPARE = 0.1


@dataclass(frozen=True, slots=True)
class Planned:
    """One class of the week: how many tanks, rolls in each, and the volume of each filling."""

    tanks: int
    rolls_per_tank: float
    millilitres: float


@dataclass(frozen=True, slots=True)
class WeekNeed:
    """What a week takes of one solution."""

    working_millilitres: float
    concentrate_millilitres: tuple[float, ...]


def week_once(classes: Iterable[Planned], dilution: Dilution) -> WeekNeed:
    """Need of a solution that is used once, and something for spills."""
    plan = list(classes)
    working = sum(one.tanks * one.millilitres for one in plan) * (1.0 + SPARE)
    amounts = measures(working, dilution).concentrates if working else ()
    return WeekNeed(working, amounts)


def week_reused(
    classes: Iterable[Planned],
    dilution: Dilution,
    rolls_per_litre: float | None,
    at_once: int,
) -> WeekNeed:
    """Need of a solution that goes back into its bottle.

    The larger of two: what the capacity asks for, and what ``at_once`` tanks hold together. To
    it comes something for spills.
    ``rolls_per_litre`` is None for bath 2 of a fixer, which only has to fill the tanks.
    """
    plan = list(classes)
    rolls = sum(one.tanks * one.rolls_per_tank for one in plan)
    by_capacity = math.ceil(rolls) / rolls_per_litre * 1000.0 if rolls_per_litre else 0.0
    in_tanks = max((min(at_once, one.tanks) * one.millilitres for one in plan), default=0.0)
    working = max(by_capacity, in_tanks) * (1.0 + SPARE)
    amounts = measures(working, dilution).concentrates if working else ()
    return WeekNeed(working, amounts)
