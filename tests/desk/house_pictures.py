"""Pictures of the pages of shelf, bells and sheets, at phone and laptop size.

``python tests/desk/house_pictures.py OUTDIR [light|dark|safelight]``.
With ``--docs`` the few that docs/shelf.md shows are written, as small files.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
import tempfile
from pathlib import Path
from types import ModuleType

from wetside_desk import schooltime


def beside(name: str) -> ModuleType:
    """A module beside this file; test folders are no packages, so it is loaded by path."""
    known = f"desk_{name}"
    if known not in sys.modules:
        spec = importlib.util.spec_from_file_location(known, Path(__file__).with_name(f"{name}.py"))
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[known] = module
        spec.loader.exec_module(module)
    return sys.modules[known]


#: What docs/shelf.md shows: page, size, and how much of it from the top, in pixels.
DOCS = {
    "shelf": ("shelf", "laptop", 900),
    "clearing": ("bottle-fixer", "phone", 900),
    "bells": ("bells", "laptop", 900),
    "sheet": ("sheet", "laptop", 900),
    "sheet-text": ("sheet-broken", "laptop", 760),
}


def main(out: Path, look: str = "light", *, docs: bool = False) -> None:
    """Write the pictures."""
    browsing, stocked = beside("browsing"), beside("stocked")
    schooltime.now = lambda: stocked.NOW
    out.mkdir(parents=True, exist_ok=True)
    sizes = {"phone": browsing.PHONE, "laptop": browsing.LAPTOP}
    with (
        tempfile.TemporaryDirectory() as folder,
        browsing.served(Path(folder)) as desk,
        browsing.browser() as chrome,
    ):
        stocked.put(desk.settings)
        state = browsing.signed_in_state(chrome, desk)
        for size, (width, height) in sizes.items():
            context = chrome.new_context(
                viewport={"width": width, "height": height}, storage_state=state
            )
            page = context.new_page()
            browsing.wear(page, desk, look)
            wanted = stocked.PAGES
            if docs:
                wanted = {
                    name: stocked.PAGES[of] for name, (of, at, _) in DOCS.items() if at == size
                }
            for name, path in wanted.items():
                page.goto(f"{desk.address}{path}")
                if docs:
                    clip = {"x": 0, "y": 0, "width": width, "height": DOCS[name][2]}
                    page.screenshot(path=out / f"{name}.png", full_page=True, clip=clip)
                else:
                    page.screenshot(path=out / f"{name}-{size}-{look}.png", full_page=True)
            context.close()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Draw the pages of shelf, bells and sheets.")
    parser.add_argument("out", type=Path, help="folder for the pictures")
    parser.add_argument("look", nargs="?", default="light", help="light, dark or safelight")
    parser.add_argument("--docs", action="store_true", help="only those that docs/shelf.md shows")
    found = parser.parse_args()
    main(found.out, found.look, docs=found.docs)
