"""Make everything of this folder from the wiring table.

``python -m hardware.build OUTDIR`` checks the wiring and writes drawings, lists, the KiCad
schematic and, where OpenSCAD is installed, the prints (STL) and pictures.
``python -m hardware.build --docs`` writes the pictures and tables that docs/ shows.
"""

from __future__ import annotations

import argparse
import re
import shutil
import sys
from collections.abc import Mapping
from pathlib import Path

from hardware.placing import placing_svg
from hardware.wiring import Wiring, load

from hardware import enclosure, fixings, kicad, rules, sums, tables

DOCS = Path(__file__).parents[1] / "docs"
PICTURES = DOCS / "pictures" / "hardware"
#: which pages hold which table between the marks <!-- wiring:NAME --> and <!-- /wiring -->
PAGE = DOCS / "build.md"


def drawings(wiring: Wiring) -> dict[str, str]:
    """Give the drawings by file name.

    Raises
    ------
    ModuleNotFoundError
        The drawing library is not installed.
    """
    from hardware.schematic import header_svg, schematic_svg  # noqa: PLC0415 - not all need it

    return {
        "schematic.svg": schematic_svg(wiring),
        "header.svg": header_svg(wiring),
        "placing.svg": placing_svg(),
    }


def doc_tables(wiring: Wiring) -> dict[str, str]:
    """Give the tables by the name that a page's mark uses."""
    return {
        "parts": tables.parts_markdown(wiring),
        "pins": tables.pins_markdown(wiring),
        "boards": tables.boards_markdown(wiring),
        "cables": sums.cable_markdown(),
        "flows": sums.flows_markdown(wiring),
        "fixings": fixings.fixings_markdown(),
    }


def filled(page: str, found: Mapping[str, str]) -> str:
    """Give a page with each marked table replaced by the present one.

    Raises
    ------
    KeyError
        A mark asks for a table that does not exist.
    """
    return re.sub(
        r"(<!-- wiring:(\w+) -->\n).*?(<!-- /wiring -->)",
        lambda mark: mark.group(1) + found[mark.group(2)] + mark.group(3),
        page,
        flags=re.DOTALL,
    )


def write_all(wiring: Wiring, out: Path) -> list[str]:
    """Write every product into a folder; give a line for each that could not be made."""
    out.mkdir(parents=True, exist_ok=True)
    missing = write_drawings(wiring, out)
    (out / "parts.md").write_text(tables.parts_markdown(wiring), encoding="utf-8")
    (out / "parts.csv").write_text(tables.parts_csv(wiring), encoding="utf-8", newline="")
    (out / "pins.md").write_text(tables.pins_markdown(wiring), encoding="utf-8")
    if kicad.SYMBOLS.is_dir():
        (out / "wetside.kicad_sch").write_text(kicad.schematic(wiring), encoding="utf-8")
    else:
        missing.append("wetside.kicad_sch: KiCad's symbol libraries are not installed")
    if shutil.which("openscad") is None:
        return [*missing, "STL files and pictures of the box: openscad is not installed"]
    for board in wiring.boards:
        if board.key in ("zero2w", "pi4"):  # a Pi 3 and a Pi 5 have the holes of a Pi 4
            enclosure.run("base", out / f"base_{board.key}.stl", enclosure.board_figures(board))
    for part in ("lid", "frame"):
        enclosure.run(part, out / f"{part}.stl", {})
    return missing + write_pictures(out)


def write_drawings(wiring: Wiring, out: Path) -> list[str]:
    """Write the drawings; give a line where they could not be made."""
    try:
        found = drawings(wiring)
    except ModuleNotFoundError as error:
        return [f"drawings: {error.name} is not installed (pip install '.[hardware]')"]
    for name, text in found.items():
        (out / name).write_text(text, encoding="utf-8")
    return []


def write_pictures(out: Path) -> list[str]:
    """Write the pictures of the box; give a line for each that could not be made."""
    failed = []
    for name, (show, camera) in enclosure.VIEWS.items():
        options = ["--imgsize=900,720", f"--camera={camera}", "--colorscheme=Tomorrow"]
        if name == "front":
            options.append("--projection=o")
        try:
            enclosure.run(show, out / f"box_{name}.png", {}, *options)
        except enclosure.EnclosureError as error:
            failed.append(f"box_{name}.png: {error} (a picture needs an X server, or xvfb-run)")
    return failed


def write_docs(wiring: Wiring) -> list[str]:
    """Refresh the drawings, pictures and tables of the documentation."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    missing = write_drawings(wiring, PICTURES)
    page = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(filled(page, doc_tables(wiring)), encoding="utf-8")
    return missing + write_pictures(PICTURES)


def main() -> int:
    """Check, then build; exit 1 where the wiring is wrong or the folder cannot be written."""
    parser = argparse.ArgumentParser(prog="python -m hardware.build", description=__doc__)
    parser.add_argument("out", type=Path, nargs="?", help="folder for the products")
    parser.add_argument("--docs", action="store_true", help="refresh docs/ instead")
    parser.add_argument("--check", action="store_true", help="only check the wiring")
    chosen = parser.parse_args()
    wiring = load()
    faults = rules.check(wiring)
    for fault in faults:
        print(f"wrong: {fault}", file=sys.stderr)
    if faults:
        return 1
    print(f"wiring: {len(wiring.parts)} parts, {len(wiring.nets)} nets, no fault")
    if chosen.check:
        return 0
    if not chosen.docs and chosen.out is None:
        parser.error("name a folder, or give --docs or --check")
    try:
        missing = write_docs(wiring) if chosen.docs else write_all(wiring, chosen.out)
    except OSError as problem:
        print(f"{problem.filename or chosen.out}: {problem.strerror}", file=sys.stderr)
        return 1
    for line in missing:
        print(f"not made: {line}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
