"""``wetside screens``: a picture of every screen, a sheet of contacts and a page."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer
from PIL import Image
from typer.testing import CliRunner

from wetside.commands.screens import screens
from wetside.cues import gallery
from wetside.session import sheet as sheets

app = typer.Typer()
app.command()(screens)
NAMES = {
    scene.name
    for scene in gallery.scenes(sheets.load(sheets.available([sheets.shipped_folder()])[0]))
}


@pytest.mark.parametrize("scale", [1, 3])
def test_every_screen_is_written_as_a_picture(tmp_path: Path, scale: int) -> None:
    """One PNG a screen, enlarged without new grey levels, and one of all."""
    out = tmp_path / "new" / "folder"
    result = CliRunner().invoke(app, [str(out), "--scale", str(scale)])
    assert 0 == result.exit_code, result.output
    assert NAMES | {"contacts"} == {path.stem for path in out.glob("*.png")}
    for name in NAMES:
        with Image.open(out / f"{name}.png") as image:
            assert (128 * scale, 64 * scale) == image.size
            assert {0, 255} >= {value for _, value in image.convert("L").getcolors() or []}


def test_the_page_shows_every_picture_with_its_words(tmp_path: Path) -> None:
    """Each picture is there with a size and with its text for people who cannot see it."""
    assert 0 == CliRunner().invoke(app, [str(tmp_path)]).exit_code
    page = (tmp_path / "index.html").read_text(encoding="utf-8")
    shown = re.findall(r'<img src="([^"]+)\.png" width="\d+" height="\d+" alt="[^"]+"', page)
    assert sorted(NAMES) == sorted(shown)


def test_a_bad_sheet_is_named_and_exits_with_2(tmp_path: Path) -> None:
    """A sheet that cannot be used is a message, not a traceback."""
    bad = tmp_path / "bad.toml"
    bad.write_text("format = 1\n", encoding="utf-8")
    result = CliRunner().invoke(app, [str(tmp_path / "out"), "--sheet", str(bad)])
    assert 2 == result.exit_code
    assert f"{bad}: name: is missing" in result.output


def test_a_folder_that_cannot_be_made_is_named_and_exits_with_2(tmp_path: Path) -> None:
    """A file stands where the folder should be."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    result = CliRunner().invoke(app, [str(tmp_path / "file" / "out")])
    assert 2 == result.exit_code
    assert "cannot be written" in result.output
