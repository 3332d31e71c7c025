"""The card fits one page and says what the catalogue says; examples of the pages compute."""

from __future__ import annotations

import importlib.util
import os
import re
import tomllib
from html import unescape
from pathlib import Path
from types import ModuleType

import pytest

from wetside.devices.ds18b20 import Bus
from wetside.settings import Probe
from wetside.sim.tree import Tree

DOCS = Path(__file__).parents[2] / "docs"


def _card() -> ModuleType:
    """The script that writes the tones into the card."""
    spec = importlib.util.spec_from_file_location("docs_card", DOCS / "tables" / "card.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_tones_on_the_card_are_the_catalogues() -> None:
    """To renew them: python docs/tables/card.py."""
    card = _card()
    for name, tones in (("card.md", card.rows()), ("card.html", card.cells())):
        page = (DOCS / name).read_text(encoding="utf-8")
        assert card.renewed(page, tones) == page


def _plain(text: str) -> str:
    """Words alone: no marks of Markdown or HTML, one kind of quotation marks."""
    bare = unescape(re.sub(r"<[^>]+>", "", text)).replace("**", "")
    return re.sub(r"\s+", " ", bare.replace("“", '"').replace("”", '"')).strip()


def test_the_printed_card_says_what_the_page_says() -> None:
    """Steps and troubles of card.html and card.md are the same, word for word."""
    page = (DOCS / "card.md").read_text(encoding="utf-8")
    printed = (DOCS / "card.html").read_text(encoding="utf-8")
    (listed,) = re.findall(r"## A roll\n\n(.*?)\n\n", page, re.DOTALL)
    steps = re.split(r"^\d\. ", listed, flags=re.MULTILINE)[1:]
    assert 8 == len(steps)
    items = re.findall(r"<li>(.*?)</li>", printed, re.DOTALL)
    assert [_plain(step) for step in steps] == [_plain(item) for item in items]
    rows = [
        [_plain(cell) for cell in line.strip("|").split("|")]
        for line in page.split("## When something is wrong")[1].splitlines()
        if line.startswith("|") and not line.startswith("|--")
    ]
    cells = re.findall(r"<tr><t[hd]>(.*?)</t[hd]><t[hd]>(.*?)</t[hd]></tr>", printed)
    assert rows == [[_plain(one) for one in pair] for pair in cells][-len(rows) :]


def test_the_card_has_nobody_stir_with_the_probe() -> None:
    """Where a step says to stir it says with what, as the safety page forbids the probe."""
    page = _plain((DOCS / "card.md").read_text(encoding="utf-8"))
    stirred = re.findall(r"[^.]*\bstir\b[^.]*", page)
    assert 1 == len(stirred)
    assert "stir with a rod, never with the probe" in stirred[0]


@pytest.mark.browser
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_card_is_one_page(paper: str) -> None:
    """Printed on either paper it is one sheet, and nothing reaches over the edge."""
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as runner:
        try:
            browser = runner.chromium.launch(
                executable_path=_chromium(), args=["--no-sandbox", "--disable-gpu"]
            )
        except playwright.Error as problem:
            if os.environ.get("WETSIDE_CI"):
                raise
            pytest.skip(f"no browser: {problem}")
        page = browser.new_page(viewport={"width": 700, "height": 900})
        page.goto((DOCS / "card.html").as_uri())
        page.emulate_media(media="print")
        printed = page.pdf(format=paper, print_background=True)
        wide = page.evaluate("document.documentElement.scrollWidth")
        loaded = page.evaluate("[...document.images].every(one => one.naturalWidth > 0)")
        browser.close()
    assert 1 == len(re.findall(rb"/Type\s*/Page\b", printed))
    assert wide <= 700
    assert loaded


def _chromium() -> str | None:
    """The system's Chromium, where there is one."""
    path = Path("/usr/bin/chromium")
    return str(path) if path.exists() else None


def test_the_example_of_the_calibration_computes(tmp_path: Path) -> None:
    """A probe corrected as the page says shows the thermometer's 20.00 and the ice's 0."""
    page = (DOCS / "calibrate.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    probe = Probe(**tomllib.loads(example)["probe"][0])
    tree = Tree(tmp_path)
    tree.add(probe.rom)
    for read, true in ((20.3125, 20.0), (0.25, 0.0)):
        tree.show(probe.rom, read)
        (answer,) = Bus(tree.folder, [probe]).read()
        assert answer.celsius is not None
        assert abs(answer.celsius - true) < 0.01


def test_every_caution_has_its_publication() -> None:
    """The figures of the safety page name where they are from, or say that it is memory."""
    page = (DOCS / "safety.md").read_text(encoding="utf-8")
    for source in ("McCann", "NSEAD", "NEC 2017", "PNEAC", "T.O. 33B-1-1", "40 CFR 261.24"):
        assert source in page
    assert "from memory" in page
    assert "local codes" in page
