"""The box prints as a closed body and everything has its place in it.

The boards' dimensions are those of the Raspberry Pi mechanical drawings, from memory.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from hardware.wiring import Board, load

from hardware import enclosure

BOARDS = load().boards

if shutil.which("openscad") is None:
    if os.environ.get("WETSIDE_CI"):
        raise RuntimeError("openscad is missing (apt install openscad)")
    pytest.skip("openscad is not installed", allow_module_level=True)


@pytest.mark.parametrize("check", enclosure.CHECKS)
@pytest.mark.parametrize("board", BOARDS, ids=lambda board: board.key)
def test_everything_fits(tmp_path: Path, board: Board, check: str) -> None:
    """Board, plug, wires, buttons, nuts, sounder and display touch neither box nor each other."""
    assert enclosure.overlaps(check, tmp_path, enclosure.board_figures(board)) is None


@pytest.mark.parametrize(
    ("check", "wrong"),
    [
        ("base_fit", {"board_width": 104.0}),
        ("base_fit", {"boss_at": 9.0}),
        ("base_fit", {"hole_pitch_y": 49.0, "board_depth": 66.0}),
        ("lid_fit", {"module_thick": 4.5, "view_height": 14.8, "gap": -0.3}),
        ("clash", {"button_deep": 40.0}),
        ("clash", {"supply_nut": 50.0}),
    ],
)
def test_a_wrong_size_is_found(tmp_path: Path, check: str, wrong: dict[str, float]) -> None:
    """The checks see a long board, a boss in its way, a tight skirt, a long button, a wide nut."""
    figures = enclosure.board_figures(BOARDS[-1]) | wrong
    assert enclosure.overlaps(check, tmp_path, figures) is not None


@pytest.mark.parametrize("part", enclosure.PRINTS)
def test_each_print_is_one_closed_skin(tmp_path: Path, part: str) -> None:
    """The exported skin has no hole, the volume is sensible, the size fits a 180 mm printer bed."""
    out = tmp_path / f"{part}.stl"
    enclosure.run(part, out, enclosure.board_figures(BOARDS[0]))
    body = enclosure.measure(out)
    assert body.closed
    assert 1.0 < body.millilitres < 200.0
    assert max(body.around.size) < 180.0


def test_the_measure_knows_a_cube(tmp_path: Path) -> None:
    """A 10 mm cube measures 1 mL and closed; with one triangle missing it is open."""
    corners = [(x, y, z) for x in (0, 10) for y in (0, 10) for z in (0, 10)]
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    triangles = [tri for a, b, c, d in quads for tri in ((a, b, c), (a, c, d))]
    lines = ["\n".join("vertex {} {} {}".format(*corners[i]) for i in tri) for tri in triangles]
    whole, broken = tmp_path / "cube.stl", tmp_path / "open.stl"
    whole.write_text("\n".join(lines), encoding="ascii")
    broken.write_text("\n".join(lines[:-1]), encoding="ascii")
    cube = enclosure.measure(whole)
    assert cube.closed
    assert abs(cube.millilitres) == pytest.approx(1.0)
    assert not enclosure.measure(broken).closed
