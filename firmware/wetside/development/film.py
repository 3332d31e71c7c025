"""How much film a reel holds: capacities of solutions are stated in rolls of 80 square inches."""

from __future__ import annotations

from enum import StrEnum

from wetside.development.figures import ROLL_SQUARE_METRES

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


def _inches(wide: float, long: float) -> float:
    return wide * long * _SQUARE_METRES_PER_SQUARE_INCH


def _strip(wide_millimetres: float, long_millimetres: float) -> float:
    return wide_millimetres * long_millimetres * 1e-6


_ROLL = ROLL_SQUARE_METRES.value

#: Square metres of one piece. A roll of 36 exposures is the unit itself (trade's rule, from
#: memory); 24 exposures are two thirds of its pictures. Rolls without sprocket holes are as wide
#: as ISO 732 has them; their lengths vary with the maker (from memory). Sheets by nominal size.
AREAS = {
    Film.SMALL_36: _ROLL,
    Film.SMALL_24: _ROLL * 24.0 / 36.0,
    Film.MEDIUM: _strip(61.5, 840.0),
    Film.LONG: _strip(61.5, 1680.0),
    Film.NARROW: _strip(46.0, 620.0),
    Film.SHEET_4X5: _inches(4.0, 5.0),
    Film.SHEET_5X7: _inches(5.0, 7.0),
    Film.SHEET_8X10: _inches(8.0, 10.0),
}


def rolls_of(square_metres: float) -> float:
    """Area of film as rolls of 80 square inches."""
    return square_metres / ROLL_SQUARE_METRES.value


def rolls(film: Film, pieces: float) -> float:
    """So many pieces of film as rolls of 80 square inches."""
    return rolls_of(AREAS[film] * pieces)
