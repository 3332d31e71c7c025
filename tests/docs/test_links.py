"""Every link of the documentation leads somewhere, and every page can be found."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
PAGES = sorted([*ROOT.glob("*.md"), *DOCS.rglob("*.md"), *DOCS.rglob("*.html")])

_LINK = re.compile(r"\]\(([^)\s]+)\)")
_HEADING = re.compile(r"^#+ (.+)$", re.MULTILINE)
_FENCED = re.compile(r"^ *```.*?^ *```$", re.MULTILINE | re.DOTALL)


class _Targets(HTMLParser):
    """What an HTML page leads to, and the ids it has."""

    def __init__(self) -> None:
        super().__init__()
        self.links: list[str] = []
        self.ids: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep what a tag refers to."""
        for name, value in attrs:
            if name in {"href", "src"} and value:
                self.links.append(value)
            if name == "id" and value:
                self.ids.add(value)


def links(page: Path) -> list[str]:
    """Every link of a page that is meant for this repository."""
    text = page.read_text(encoding="utf-8")
    if page.suffix == ".html":
        parser = _Targets()
        parser.feed(text)
        found = parser.links
    else:
        found = _LINK.findall(_FENCED.sub("", text))
    return [link for link in found if not re.match(r"[a-z]+:", link)]


def anchors(page: Path) -> set[str]:
    """The anchors of a page: as common Markdown readers make them of its headings."""
    text = page.read_text(encoding="utf-8")
    if page.suffix == ".html":
        parser = _Targets()
        parser.feed(text)
        return parser.ids
    headings = _HEADING.findall(_FENCED.sub("", text))
    plain = [re.sub(r"[^\w\- ]", "", one.lower()) for one in headings]
    return {one.strip().replace(" ", "-") for one in plain}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_leads_to_a_file_and_a_heading(page: Path) -> None:
    """A link that was right once and is not any more is named here."""
    broken = []
    for link in links(page):
        name, _, anchor = link.partition("#")
        target = (page.parent / name).resolve() if name else page
        if not target.exists() or (anchor and anchor not in anchors(target)):
            broken.append(link)
    assert [] == broken


def test_every_page_is_in_the_index() -> None:
    """A page that nobody can find is not documentation."""
    listed = {(DOCS / link.partition("#")[0]).resolve() for link in links(DOCS / "index.md")}
    pages = {page for page in DOCS.glob("*.md") if page.name != "index.md"} | {DOCS / "card.html"}
    assert set() == pages - listed
