"""The printable box: OpenSCAD is driven from here with the board's figures of the wiring table."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from hardware.wiring import Board

SCAD_FILE = Path(__file__).parent / "box" / "box.scad"
PRINTS = ("base", "lid", "frame")
CHECKS = ("base_fit", "lid_fit", "clash")
#: camera of each picture: eye turned by three angles about a centre, and its distance
VIEWS = {
    "closed": ("assembly", "54,45,20,62,0,28,430"),
    "open": ("open", "54,50,62,68,0,28,560"),
    "front": ("assembly", "54,45,20,0,0,0,470"),
}


class EnclosureError(RuntimeError):
    """OpenSCAD is missing or refused the model; the message holds its words."""


def board_figures(board: Board) -> dict[str, float]:
    """Give the box's parameters that depend on the board, in millimetres."""
    return {
        "board_width": board.width_mm,
        "board_depth": board.depth_mm,
        "hole_pitch_x": board.hole_pitch_x_mm,
        "hole_pitch_y": board.hole_pitch_y_mm,
        "hole_inset": board.hole_inset_mm,
        "board_tall": board.tall_mm,
        "overhang": board.overhang_mm,
        "power_x": board.power_x_mm,
    }


def run(show: str, out: Path, figures: Mapping[str, float], *options: str) -> str:
    """Run OpenSCAD for one body, check or picture and give what it printed.

    Raises
    ------
    EnclosureError
        OpenSCAD is not installed, or fails for another reason than an empty result.
    """
    program = shutil.which("openscad")
    if program is None:
        raise EnclosureError("openscad is not installed (apt install openscad)")
    values = [f"-D{name}={value}" for name, value in figures.items()]
    command = [program, "-o", str(out), f'-Dshow="{show}"', *values, *options, str(SCAD_FILE)]
    if out.suffix == ".png" and shutil.which("xvfb-run"):
        command = ["xvfb-run", "-a", *command]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)  # noqa: S603 - fixed program, our own file
    if done.returncode != 0 and "object is empty" not in done.stderr:
        raise EnclosureError(f"openscad failed on {show}: {done.stderr.strip()[-400:]}")
    return done.stderr


def overlaps(check: str, folder: Path, figures: Mapping[str, float]) -> Box | None:
    """Give the box around whatever two bodies both claim, or None where everything fits."""
    out = folder / f"{check}.stl"
    if "object is empty" in run(check, out, {**figures, "fine": 16}):
        return None
    return measure(out).around


@dataclass(frozen=True, slots=True)
class Box:
    """Smallest box around a body, millimetres."""

    low: tuple[float, float, float]
    high: tuple[float, float, float]

    @property
    def size(self) -> tuple[float, float, float]:
        """Width, height and depth."""
        x, y, z = (b - a for a, b in zip(self.low, self.high, strict=True))
        return (x, y, z)


@dataclass(frozen=True, slots=True)
class Body:
    """What a slicer needs to know of a printed body: closed skin, volume in millilitres, size."""

    triangles: int
    closed: bool
    millilitres: float
    around: Box


Point = tuple[float, float, float]


def measure(stl: Path) -> Body:
    """Read an ASCII STL file; the skin is closed when each edge is run once in each direction."""
    text = stl.read_text(encoding="ascii")
    numbers = re.findall(r"vertex (\S+) (\S+) (\S+)", text)
    points: list[Point] = [(float(x), float(y), float(z)) for x, y, z in numbers]
    edges: Counter[tuple[Point, Point]] = Counter()
    volume = 0.0
    for k in range(0, len(points), 3):
        a, b, c = points[k : k + 3]
        edges.update(((a, b), (b, c), (c, a)))
        volume += _six_volumes(a, b, c) / 6.0
    closed = all(count == 1 and edges[(b, a)] == 1 for (a, b), count in edges.items())
    columns = list(zip(*points, strict=True))
    low, high = (tuple(f(column) for column in columns) for f in (min, max))
    around = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
    return Body(len(points) // 3, closed, volume / 1000.0, around)


def _six_volumes(a: Point, b: Point, c: Point) -> float:
    return (
        a[0] * (b[1] * c[2] - b[2] * c[1])
        + a[1] * (b[2] * c[0] - b[0] * c[2])
        + a[2] * (b[0] * c[1] - b[1] * c[0])
    )
