"""The screws and ties of the list are those that the box has holes for."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hardware.fixings import FIXINGS, box_sizes
from hardware.wiring import Wiring

ROOT = Path(__file__).parents[2]
SCAD = (ROOT / "hardware" / "box" / "box.scad").read_text(encoding="utf-8")
SIZES = box_sizes()
#: What the pane leaves of the frame's bosses, whose holes end in the lid's front.
PANE = re.search(r"^pane = \[.*, ([\d.]+)\]; ", SCAD, re.MULTILINE)
assert PANE is not None
SIZES["frame_boss"] = float(PANE[1]) - 0.8 + SIZES["module_thick"] - 0.6
BY_PLACE = {one.place: one for one in FIXINGS}


@pytest.mark.parametrize(
    ("place", "clear", "thread", "clamped", "deep"),
    [
        ("lid", "lid_screw", "lid_screw_thread", ("front", "tape"), "lid_screw_deep"),
        ("frame", "frame_screw", "frame_screw_thread", ("frame_thick",), "frame_boss"),
        ("board", None, "board_screw_thread", ("board_thick",), "post"),
    ],
)
def test_a_screw_fits_its_holes(
    place: str, clear: str | None, thread: str, clamped: tuple[str, ...], deep: str
) -> None:
    """It passes the upper hole, bites in the lower one, and does not reach its end."""
    screw = BY_PLACE[place]
    if clear is not None:
        assert 0.2 <= SIZES[clear] - screw.millimetres <= 0.6
    assert 0.75 <= SIZES[thread] / screw.millimetres <= 0.92
    assert screw.long_millimetres is not None
    bite = screw.long_millimetres - sum(SIZES[name] for name in clamped)
    assert screw.millimetres <= bite <= SIZES[deep]


def test_there_is_a_screw_for_each_hole() -> None:
    """Corners, posts, bosses of the frame and holes of the ears are counted in the model."""
    ears = re.findall(r"^    ear\(.*\[([-\d, ]+)\], [\d.]+\);", SCAD, re.MULTILINE)
    assert {"lid": 4, "board": 4, "frame": 2, "wall": sum(len(one.split(",")) for one in ears)} == {
        place: BY_PLACE[place].count for place in ("lid", "board", "frame", "wall")
    }
    assert "for (s = [-1, 1]) translate([display_at.x + s * frame_x" in SCAD
    for name in ("corners", "holes"):
        body = re.search(rf"function {name}\(\) = \[for \(x = \[(.*?)\], y = \[(.*?)\]\)", SCAD)
        assert body is not None
        assert [2, 2] == [len(one.split(", ")) for one in body.groups()]


def test_wall_screws_and_ties_fit() -> None:
    """A wall screw passes its ear, a cable tie the slot under each of the bridges."""
    assert 0.3 <= SIZES["ear_hole"] - BY_PLACE["wall"].millimetres <= 1.0
    bridges = re.search(r"for \(x = \[(probe_x.*?)\]\) translate\(\[x - 5, 4", SCAD)
    assert bridges is not None
    assert len(bridges[1].split(", ")) == BY_PLACE["bridges"].count
    assert BY_PLACE["bridges"].millimetres <= SIZES["tie_wide"]


@pytest.mark.parametrize(
    ("ref", "words"),
    [
        ("LS1", "at most {sounder_body:g} mm wide and {sounder_tall:g} mm high"),
        ("S1", "at most {button_deep:g} mm behind the front"),
    ],
)
def test_the_parts_list_says_how_large_a_part_may_be(wiring: Wiring, ref: str, words: str) -> None:
    """Sizes that the box leaves for sounder and buttons are in the list that people buy from."""
    (part,) = (one for one in wiring.parts if one.ref == ref)
    assert words.format(**SIZES) in part.rating


def test_the_list_has_everything_that_a_step_asks_for() -> None:
    """Cable ties, silicone, glue and what hangs the box are bought before they are needed."""
    page = (ROOT / "docs" / "build.md").read_text(encoding="utf-8")
    bought = page.split("## Parts")[1].split("### Boards")[0]
    for word in ("cable tie", "neutral silicone", "glue", "wall screw", "plugs for the wall"):
        assert word in bought, word
    hang = page.split("## Hang it up")[1]
    assert "three ears" in hang
