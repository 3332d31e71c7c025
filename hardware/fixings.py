"""What holds the box together and on the wall: screws and ties, as box.scad has holes for."""

from __future__ import annotations

import re
from dataclasses import dataclass

from hardware.enclosure import SCAD_FILE
from hardware.tables import markdown


@dataclass(frozen=True, slots=True)
class Fixing:
    """Some screws or ties of one kind; the diameter of a screw, the width of a tie."""

    place: str
    count: int
    millimetres: float
    long_millimetres: float | None
    what: str
    where: str

    @property
    def size(self) -> str:
        """As a shop writes it."""
        if self.long_millimetres is None:
            return f"{self.millimetres:g} mm"
        return f"M{self.millimetres:g} by {self.long_millimetres:g} mm"


FIXINGS = (
    Fixing("lid", 4, 3.0, 12.0, "countersunk screw for plastic", "lid on the base"),
    Fixing("board", 4, 2.5, 6.0, "screw for plastic", "board on its posts"),
    Fixing("frame", 2, 2.5, 6.0, "screw for plastic", "frame behind the display"),
    Fixing("wall", 3, 4.0, None, "wall screw with a round head", "ears of the box"),
    Fixing("bridges", 3, 2.5, None, "cable tie", "a cable at its bridge"),
)


def box_sizes() -> dict[str, float]:
    """Give the single numbers of the model by their names, millimetres."""
    text = SCAD_FILE.read_text(encoding="utf-8")
    found = re.findall(r"^(\w+) = ([-\d.]+);", text, re.MULTILINE)
    return {name: float(value) for name, value in found}


def fixings_markdown() -> str:
    """Give the list for the docs."""
    rows = [[str(one.count), one.what, one.size, one.where] for one in FIXINGS]
    return markdown(("How many", "What", "Size", "For"), rows)
