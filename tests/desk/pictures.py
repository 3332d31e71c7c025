"""Pictures of every page, at phone and laptop size and in each look, for people to look at.

``python tests/desk/pictures.py OUTDIR``. With ``--docs`` the few that docs/shelf.md shows are
written, as small files.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING

from wetside_desk import schooltime

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, StorageState
    from tests.desk.beside import beside
    from tests.desk.browsing import Served
else:
    from beside import beside


#: What docs/shelf.md shows: page, size, and how much of it from the top, in pixels.
DOCS = {
    "shelf": ("shelf", "laptop", 900),
    "clearing": ("bottle-fixer", "phone", 900),
    "bells": ("bells", "laptop", 900),
    "sheet": ("sheet", "laptop", 900),
    "sheet-text": ("sheet-broken", "laptop", 760),
}


LOOKS = ("light", "dark", "safelight")


def main(out: Path) -> None:
    """Write a picture of every page."""
    with a_school() as (desk, chrome, state):
        for size, look in product(beside("browsing").SIZES, LOOKS):
            beside("invented").write_live(desk.settings.live_file)
            wanted = {**desk.pages, **desk.open_pages, **beside("stocked").PAGES}
            for name, page in shown(chrome, desk, state, wanted, size, look):
                page.screenshot(path=out / f"{name}-{size}-{look}.png", full_page=True)


def docs(out: Path) -> None:
    """Write what docs/shelf.md shows."""
    pages = beside("stocked").PAGES
    with a_school() as (desk, chrome, state):
        for name, (of, size, height) in DOCS.items():
            width = beside("browsing").SIZES[size][0]
            for _, page in shown(chrome, desk, state, {name: pages[of]}, size, "light"):
                page.screenshot(
                    path=out / f"{name}.png",
                    full_page=True,
                    clip={"x": 0, "y": 0, "width": width, "height": height},
                )


@contextmanager
def a_school() -> Iterator[tuple[Served, Browser, StorageState]]:
    """A served desk over the invented school on its Monday, a browser, a teacher's cookies."""
    browsing, stocked = beside("browsing"), beside("stocked")
    schooltime.now = lambda: stocked.NOW
    with (
        tempfile.TemporaryDirectory() as folder,
        browsing.served(Path(folder)) as desk,
        browsing.browser() as chrome,
    ):
        stocked.put(desk.settings)
        yield desk, chrome, browsing.signed_in_state(chrome, desk)


def shown(
    chrome: Browser,
    desk: Served,
    state: StorageState,
    paths: Mapping[str, str],
    size: str,
    look: str,
) -> Iterator[tuple[str, Page]]:
    """Each page as it looks at this size, by its short name."""
    browsing = beside("browsing")
    page = browsing.a_page(chrome, state, size)
    browsing.wear(page, desk, look)
    for name, path in paths.items():
        page.goto(f"{desk.address}{path}")
        browsing.settled(page)
        yield name, page
    page.context.close()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Draw the desk's pages.")
    parser.add_argument("out", type=Path, help="folder for the pictures")
    parser.add_argument("--docs", action="store_true", help="only those that docs/shelf.md shows")
    found = parser.parse_args()
    found.out.mkdir(parents=True, exist_ok=True)
    (docs if found.docs else main)(found.out)
