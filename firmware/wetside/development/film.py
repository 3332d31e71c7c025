"""How much film a reel holds: capacities of solutions are stated in rolls of 80 square inches."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wetside.development.figures import ROLL_SQUARE_METRES, Basis

_SQUARE_METRES_PER_SQUARE_INCH = 0.0254**2


class Film(StrEnum):
    """What is on a reel, by the names of the trade."""

    SMALL_36 = "135-36"
    SMALL_24 = "135-24"
    MEDIUM = "120"
    LONG = "220"
    NARROW = "127"
    SHEET_4X5 = "4x5"
    SHEET_5X7 = "5x7"
    SHEET_8X10 = "8x10"


#: Film whose reels are as wide as those of 120.
WIDE = frozenset({Film.MEDIUM, Film.LONG})


@dataclass(frozen=True, slots=True)
class Area:
    """Area of one piece of film, and how it is known."""

    square_metres: float
    publication: str
    basis: Basis


def _inches(wide: float, long: float) -> Area:
    area = wide * long * _SQUARE_METRES_PER_SQUARE_INCH
    return Area(area, f"its nominal size, {wide:g} by {long:g} inches", Basis.COMPUTED)


def _strip(wide_millimetres: float, long_millimetres: float, standard: str) -> Area:
    area = wide_millimetres * long_millimetres * 1e-6
    source = f"{wide_millimetres:g} mm wide ({standard}), about {long_millimetres:g} mm long"
    return Area(area, source, Basis.FROM_MEMORY)


_ROLL = ROLL_SQUARE_METRES.value
_RULE = "trade's rule: one 36 exposure roll is 80 square inches"

#: A roll of 36 exposures is the unit itself; 24 exposures are two thirds of its pictures. Widths
#: of rolls are those of ISO 1007 and ISO 732; their lengths vary with the maker.
AREAS = {
    Film.SMALL_36: Area(_ROLL, _RULE, Basis.FROM_MEMORY),
    Film.SMALL_24: Area(_ROLL * 24.0 / 36.0, f"{_RULE}, 24 of 36 pictures", Basis.COMPUTED),
    Film.MEDIUM: _strip(61.5, 840.0, "ISO 732"),
    Film.LONG: _strip(61.5, 1680.0, "ISO 732"),
    Film.NARROW: _strip(46.0, 620.0, "ISO 732"),
    Film.SHEET_4X5: _inches(4.0, 5.0),
    Film.SHEET_5X7: _inches(5.0, 7.0),
    Film.SHEET_8X10: _inches(8.0, 10.0),
}


def rolls_of(square_metres: float) -> float:
    """Area of film as rolls of 80 square inches."""
    return square_metres / ROLL_SQUARE_METRES.value


def rolls(film: Film, pieces: float) -> float:
    """So many pieces of film as rolls of 80 square inches."""
    return rolls_of(AREAS[film].square_metres * pieces)
