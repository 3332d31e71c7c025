"""The products of the wiring table, and the pages and pictures that show them."""

from __future__ import annotations

import csv
import io
import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hardware.wiring import HEADER, Wiring

from hardware import build, tables

ROOT = Path(__file__).parents[2]


def words(svg: str) -> str:
    """Give all text of a drawing."""
    return " ".join("".join(node.itertext()) for node in ET.fromstring(svg).iter())


def test_a_folder_that_cannot_be_written_is_told_in_one_line(tmp_path: Path) -> None:
    """A file where the folder should be is named, with the reason."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "hardware.build", str(tmp_path / "file")],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (1, f"{tmp_path / 'file'}: File exists\n") == (done.returncode, done.stderr)


def test_the_schematic_shows_every_part_with_its_value(wiring: Wiring) -> None:
    """Each reference is in the schematic; resistors and capacitors with their values."""
    text = words(build.drawings(wiring)["schematic.svg"])
    for part in wiring.parts:
        assert re.search(rf"\b{part.ref}\b", text), part.ref
        if part.kind in {"resistor", "capacitor"}:
            assert part.value in text
    for role in wiring.roles:
        assert f"GPIO{role.gpio}, {HEADER} pin {wiring.header.pin_of(role.gpio)}" in text


def test_the_header_drawing_names_every_pin_in_use(wiring: Wiring) -> None:
    """Each GPIO with a role is written beside its pin, and all 40 pins are numbered."""
    text = words(build.drawings(wiring)["header.svg"])
    for role in wiring.roles:
        assert f"GPIO{role.gpio}:" in text
    assert set(range(1, 41)) <= {int(n) for n in re.findall(r"\b\d+\b", text)}


def test_the_parts_list_survives_a_spreadsheet(wiring: Wiring) -> None:
    """The CSV reads back as one row per part."""
    rows = list(csv.DictReader(io.StringIO(tables.parts_csv(wiring))))
    assert [part.ref for part in wiring.parts] == [row["Ref"] for row in rows]
    assert [part.alternatives for part in wiring.parts] == [
        row["Instead, or to know"] for row in rows
    ]


def test_the_page_shows_the_tables_as_they_are(wiring: Wiring) -> None:
    """docs/build.md holds what the wiring table says now (python -m hardware.build --docs)."""
    page = build.PAGE.read_text(encoding="utf-8")
    found = build.doc_tables(wiring)
    assert build.filled(page, found) == page
    assert set(found) == set(re.findall(r"<!-- wiring:(\w+) -->", page))


@pytest.mark.parametrize("name", ["schematic.svg", "header.svg", "placing.svg"])
def test_the_drawings_in_the_docs_are_fresh(wiring: Wiring, name: str) -> None:
    """The committed drawing is the one that the table gives now."""
    committed = (build.PICTURES / name).read_text(encoding="utf-8")
    assert build.drawings(wiring)[name] == committed


def test_every_picture_of_the_page_exists() -> None:
    """No picture link of docs/build.md is dead, and no picture is empty."""
    links = re.findall(r"!\[[^]]*\]\(([^)]+)\)", build.PAGE.read_text(encoding="utf-8"))
    assert len(links) == 6
    for link in links:
        assert (build.DOCS / link).stat().st_size > 1000


def test_the_command_stops_at_a_wrong_wiring(tmp_path: Path) -> None:
    """``python -m hardware.build --check`` exits 1 and names the fault when a wire is wrong."""
    copy = tmp_path / "hardware"
    copy.mkdir()
    for file in (ROOT / "hardware").glob("*.py"):
        (copy / file.name).write_text(file.read_text(encoding="utf-8"), encoding="utf-8")
    table = (ROOT / "hardware" / "wiring.toml").read_text(encoding="utf-8")
    run = [sys.executable, "-m", "hardware.build", "--check"]
    for text, code in ((table, 0), (table.replace('"B1.VDD", ', "", 1), 1)):
        (copy / "wiring.toml").write_text(text, encoding="utf-8")
        done = subprocess.run(run, cwd=tmp_path, capture_output=True, text=True, check=False)
        assert code == done.returncode
    assert "B1.VDD is not connected" in done.stderr


def _without_the_drawing_library(*words: str) -> subprocess.CompletedProcess[str]:
    """The command on a machine with nothing but the program, and no OpenSCAD."""
    script = (
        "import runpy, sys; sys.modules['schemdraw'] = None; "
        f"sys.argv[1:] = {list(words)!r}; runpy.run_module('hardware.build', run_name='__main__')"
    )
    command = [sys.executable, "-c", script]
    env = {**os.environ, "PATH": ""}
    return subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, check=False, env=env, timeout=60
    )


@pytest.mark.parametrize("words", ["--check", "--help"])
def test_the_check_needs_no_drawing_library(words: str) -> None:
    """What draws nothing runs where only the program is installed."""
    done = _without_the_drawing_library(words)
    assert (0, "") == (done.returncode, done.stderr)


def test_what_cannot_be_drawn_is_told_with_what_to_install(tmp_path: Path) -> None:
    """Without the drawing library the lists are there, and a line says how to get the rest."""
    done = _without_the_drawing_library(str(tmp_path))
    assert 0 == done.returncode
    assert "not made: drawings: schemdraw is not installed (pip install '.[hardware]')" in (
        done.stderr
    )
    assert (tmp_path / "parts.csv").exists()


def test_the_page_says_what_its_commands_need() -> None:
    """Before the first command that builds, the page names the library and OpenSCAD."""
    before = build.PAGE.read_text(encoding="utf-8").split("python -m hardware.build")[0]
    assert "pip install '.[hardware]'" in before
    assert "openscad" in before
