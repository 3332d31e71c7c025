"""docs/cues.md and docs/pictures are what the program says and shows."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image, ImageChops

from wetside.cues import gallery, table
from wetside.cues.panels import picture
from wetside.cues.view import view
from wetside.session import sheet as sheets
from wetside.session.signals import CueName

DOCS = Path(__file__).parents[2] / "docs"
SCENES = gallery.scenes(sheets.load(sheets.available([sheets.shipped_folder()])[0]))


def test_the_table_of_cues_is_the_catalogue() -> None:
    """To renew it: python -m wetside.cues.table docs/cues.md."""
    page = (DOCS / "cues.md").read_text(encoding="utf-8")
    assert table.renewed(page) == page
    assert all(f"\n| {name} | `" in page for name in CueName)


def test_a_page_without_marks_is_refused() -> None:
    """A lost mark is told, not passed over."""
    with pytest.raises(ValueError, match="no <!-- table of cues -->"):
        table.renewed("# Cues\n")


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: str(scene.name))
def test_each_picture_of_the_documentation_is_the_screen(scene: gallery.Scene) -> None:
    """To renew them: wetside screens docs/pictures --scale 3.

    Versions of the font's renderer may set a pixel otherwise, so one in fifty may differ.
    """
    with Image.open(DOCS / "pictures" / f"{scene.name}.png") as shown:
        small = shown.convert("1").resize((128, 64), Image.Resampling.NEAREST)
    differing = ImageChops.logical_xor(small, picture(view(scene.snapshot))).histogram()[255]
    assert differing <= 128 * 64 // 50


def test_no_picture_is_left_over() -> None:
    """A screen that is gone takes its picture along."""
    expected = {scene.name for scene in SCENES} | {"contacts"}
    assert expected == {path.stem for path in (DOCS / "pictures").glob("*.png")}
