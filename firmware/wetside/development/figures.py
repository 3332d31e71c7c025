"""Figures of the trade that the program uses or shows, each with its publication.

A law that goes through several published points, such as fixing and washing in the cold, stands
with its source where it is worked out, and so does what somebody here estimated. "Second hand"
was read in a page that quotes the publication; "from memory" was not verified and is marked
wherever it is shown.
docs/chemistry.md prints this list; a test holds the two together.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Basis(StrEnum):
    """How far a figure can be trusted."""

    PUBLISHED = "published"
    SECOND_HAND = "second hand"
    FROM_MEMORY = "from memory"
    COMPUTED = "computed"
    TEACHER = "teacher's own"


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure, what it is, where it comes from."""

    what: str
    value: float
    unit: str
    publication: str
    basis: Basis

    @property
    def text(self) -> str:
        """``20 rolls per litre (Anchell 2008 p. 108)``."""
        mark = "" if self.basis is Basis.PUBLISHED else f", {self.basis}"
        return f"{self.value:g} {self.unit} ({self.publication}{mark})"


ANCHELL = "Anchell, The Darkroom Cookbook, 3rd ed. 2008"
NAVY = "US Navy NAVEDTRA 14209"
ARMY = "US Army SS0509-8"
TORZYNSKI = "Torzynski 2004, note on fixing and washing"

ROLL_SQUARE_METRES = Figure(
    "area of one roll, 80 square inches", 0.0516, "m2", "80 sq in in metres", Basis.COMPUTED
)
ACID_FIXER_ROLLS = Figure(
    "acid fixer of unknown capacity, safe rule",
    20.0,
    "rolls per litre",
    f"{ANCHELL} p. 108",
    Basis.PUBLISHED,
)
ALKALINE_FIXER_ROLLS = Figure(
    "alkaline fixer", 25.0, "rolls per litre", f"{ANCHELL} p. 108", Basis.PUBLISHED
)
TABULAR_SHARE = Figure(
    "part of a fixer's capacity with tabular films, low end of 50 to 70 %",
    0.5,
    "of the capacity",
    "note on fixing by G. Brodie-Tyrrell",
    Basis.SECOND_HAND,
)
STOP_ROLLS = Figure(
    "non-swelling stop bath (formula SB-5)",
    12.0,
    "rolls per litre",
    f"{ANCHELL} p. 268",
    Basis.PUBLISHED,
)
REUSED_DEVELOPER_ROLLS = Figure(
    "reused stock developer without replenisher, at most",
    4.0,
    "rolls per litre",
    "film makers' developer sheets",
    Basis.FROM_MEMORY,
)
REUSE_TIME = Figure(
    "longer time for each roll before, as a part, low end of 10 to 15 %",
    0.10,
    "per roll",
    "Kodak J-78",
    Basis.FROM_MEMORY,
)
STOCK_PER_ROLL = Figure(
    "least stock of a powder developer for one roll, 8 fl oz (about 240 mL)",
    236.6,
    "mL",
    "Kodak J-78",
    Basis.FROM_MEMORY,
)
CLEARING_BATH_ROLLS = Figure(
    "clearing bath after a rinse, low end of 40 to 50",
    40.0,
    "rolls per litre",
    "makers' labels",
    Basis.FROM_MEMORY,
)
FIXER_DAYS = Figure(
    "working fixer kept at most", 60.0, "days", f"{ANCHELL} p. 108", Basis.PUBLISHED
)
FIXER_PART_FULL_DAYS = Figure(
    "working fixer in a part full bottle",
    30.0,
    "days",
    "rapid fixer sheet as reported in 2005",
    Basis.SECOND_HAND,
)
STOCK_DAYS = Figure(
    "stock developer in a full stoppered bottle", 180.0, "days", "Kodak J-78", Basis.FROM_MEMORY
)
STOCK_PART_FULL_DAYS = Figure(
    "stock developer in a part full bottle, the shorter of 1 and 2 months",
    30.0,
    "days",
    "makers' developer sheets",
    Basis.FROM_MEMORY,
)
CLEARING_RATIO = Figure(
    "fixer is exhausted when the clearing time has grown",
    2.0,
    "times",
    NAVY,
    Basis.PUBLISHED,
)
FIX_RATIO = Figure(
    "fixing time over clearing time",
    2.0,
    "times",
    f"{NAVY}; T.O. 33B-1-1 p. 6-77",
    Basis.PUBLISHED,
)
FIX_MOST_SECONDS = Figure(
    "film in the fixer at most", 900.0, "s", "T.O. 33B-1-1 p. 6-77", Basis.PUBLISHED
)
FIX_LEAST_SECONDS = Figure(
    "film in rapid fixer at least, low end of 2 to 5 min",
    120.0,
    "s",
    "makers' rapid fixer sheets",
    Basis.FROM_MEMORY,
)
CARRY_OVER = Figure(
    "held by one roll, its reel and tank (2 absorbed, 2 on the surface, 6 on the walls)",
    10.0,
    "mL",
    TORZYNSKI,
    Basis.PUBLISHED,
)
CARRIED_THIOSULFATE = Figure(
    "thiosulfate in that carry-over", 600.0, "mg", TORZYNSKI, Basis.PUBLISHED
)
RESIDUAL_THIOSULFATE = Figure(
    "residual thiosulfate, silver film to last 500 years (LE-500)",
    0.014,
    "g/m2",
    "36 CFR 1238.14(c) citing ISO 18901",
    Basis.PUBLISHED,
)
WASH_MINIMUM_SECONDS = Figure(
    "wash without clearing bath, full change every 3 min, at least",
    1200.0,
    "s",
    f"{NAVY} p. 10-8",
    Basis.PUBLISHED,
)
WASH_AFTER_CLEARING_SECONDS = Figure(
    "wash after a clearing bath", 300.0, "s", f"{ARMY} p. 18", Basis.PUBLISHED
)
OTHER_BATHS_CELSIUS = Figure(
    "other baths within, of the developer", 3.0, "degrees", "makers' sheets", Basis.FROM_MEMORY
)
WASH_CELSIUS = Figure(
    "wash within, of the process", 5.0, "degrees", "makers' sheets", Basis.FROM_MEMORY
)
SALT_ABOVE_CELSIUS = Figure(
    "above this the stop bath needs a salt against swelling (75 degF)",
    23.9,
    "degC",
    f"{ARMY} p. 15",
    Basis.PUBLISHED,
)
TANK_MILLILITRES_STEEL = Figure(
    "steel tank, per 135 reel", 237.0, "mL", "common tank sizes", Basis.FROM_MEMORY
)
TANK_MILLILITRES_PLASTIC = Figure(
    "plastic tank, per 135 reel", 300.0, "mL", "marks on tank bases", Basis.FROM_MEMORY
)
TANK_MILLILITRES_PLASTIC_WIDE = Figure(
    "plastic tank, per 120 reel", 590.0, "mL", "marks on tank bases", Basis.FROM_MEMORY
)
TANK_MILLILITRES_STEEL_WIDE = Figure(
    "steel tank, per 120 reel", 500.0, "mL", "marks on tank bases", Basis.FROM_MEMORY
)


def all_figures() -> tuple[Figure, ...]:
    """Every figure of this module, in the order it stands here."""
    return tuple(value for value in globals().values() if isinstance(value, Figure))
