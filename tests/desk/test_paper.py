"""What stands on paper: pages as a browser prints them, and slips."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from wetside.clock import Moment
from wetside.journal.writer import Writer

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, StorageState
    from starlette.testclient import TestClient
    from tests.desk import browsing
    from tests.desk.browsing import Served
    from tests.desk.invented import Story, local, tell

    from wetside_desk.settings import DeskSettings
else:
    import desk_browsing as browsing
    from desk_invented import Story, local, tell


def told(folder: DeskSettings) -> dict[str, str]:
    """Three runs of a journal: one that was hung, one given up in the wash, one that is running."""
    wall = Story().wall
    with Writer(folder.journal, "sink-1") as writer:
        return {
            "hung": tell(writer, Story(wall=wall, seed=1)),
            "given up": tell(writer, Story(wall=wall + 7200, seed=2, abandon_in="wash")),
            "running": tell(writer, Story(wall=wall + 14400, seed=3, stop_in="fix")),
        }


def test_slips_are_for_films_that_hang(folder: DeskSettings) -> None:
    """A roll that was given up or is still running has no film on the line, and no slip."""
    runs = told(folder)
    found = re.findall(r"sink-1</bdi> · (\w{6})<", local(folder).get("/slips").text)
    assert [runs["hung"][-6:]] == found


def test_the_report_says_how_each_run_ended(folder: DeskSettings) -> None:
    """Given up and running stand in the report as finished does, with sink and search."""
    told(folder)
    text = local(folder).get("/report?day=2025-11-12&sheet=one+reel+20").text
    ended = re.findall(
        r'data-name="Sink"><bdi>([^<]*)</bdi></td>.*?data-name="Ended">([^<]*)', text
    )
    assert [("sink-1", "Running"), ("sink-1", "Given up"), ("sink-1", "Finished")] == ended
    assert "Looked for: from 12 Nov 2025, sheet one reel 20." in text


def test_the_report_says_how_much_of_the_nominal_development_it_was(folder: DeskSettings) -> None:
    """Where the station told it stands in per cent; elsewhere the place is empty."""
    runs = told(folder)
    with Writer(folder.journal, "sink-1") as writer:
        now = Moment(1e6, Story().wall + 1e5, True, "boot-a")
        writer.append(now, "effective-development", {"percent": 97.3}, runs["hung"])
    text = local(folder).get("/report").text
    assert ["", "", "97 %"] == re.findall(r'data-name="Of nominal">([^<]*)<', text)


def test_a_recipe_names_what_it_makes(pages: TestClient) -> None:
    """Solution, strength and volume stand above what is measured, not in the form alone."""
    text = pages.get("/shelf/mixing?holds=stop+bath&strength=1%2B19&total=2+L").text
    assert "<h3>Stop bath, 1+19, 2 L</h3>" in text


def printed(
    chrome: Browser, desk: Served, state: StorageState, path: str, width: int = 680
) -> Page:
    """A page as it lies on paper, A4 upright less its margins unless it is told otherwise."""
    page = browsing.a_page(chrome, state)
    page.goto(f"{desk.address}{path}")
    page.emulate_media(media="print")
    page.set_viewport_size({"width": width, "height": 1000})
    return page


@pytest.mark.browser
def test_the_list_prints_its_runs(chrome: Browser, desk: Served, state: StorageState) -> None:
    """Each run stands on paper, without boxes and buttons, and above them what was looked for."""
    page = printed(chrome, desk, state, "/?state=finished")
    names = page.locator(".run-name")
    assert names.count() > 5
    for at in range(names.count()):
        expect(names.nth(at)).to_be_visible()
    for hidden in (page.locator("input[name=run]").first, page.get_by_role("button").first):
        expect(hidden).to_be_hidden()
    expect(page.get_by_text("Looked for: finished.")).to_be_visible()
    page.context.close()


@pytest.mark.browser
def test_a_printed_run_says_whose_it_is(chrome: Browser, desk: Served, state: StorageState) -> None:
    """Label, period and sink are at its head, and no help of a form is printed."""
    page = printed(chrome, desk, state, f"/runs/{desk.runs[0]}")
    for part in ("K3", "period 1", "sink-1"):
        expect(page.locator("h1 + p")).to_contain_text(part)
    for help_text in ("A label is one to eight letters", "No names of students"):
        expect(page.get_by_text(help_text)).to_be_hidden()
    page.context.close()


@pytest.mark.browser
def test_no_word_of_the_report_is_broken(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """Lying on its side the report has room: labels, sinks and single words of flags are whole."""
    page = printed(chrome, desk, state, "/report", 1030)
    cells = page.locator(".report td:not(:last-child)")
    broken = cells.evaluate_all(
        """all => all.flatMap(cell => {
          const room = document.createElement("canvas").getContext("2d");
          const style = getComputedStyle(cell);
          room.font = style.font;
          const width = cell.clientWidth - parseFloat(style.paddingRight);
          const words = cell.textContent.trim().split(/\\s+/);
          return words.filter(word => room.measureText(word).width > width);
        })"""
    )
    assert [] == broken
    sheet = re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", page.pdf(prefer_css_page_size=True))
    assert sheet is not None
    assert float(sheet[1]) > float(sheet[2])
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.context.close()


@pytest.mark.browser
@pytest.mark.parametrize(
    ("path", "there", "left_out"),
    [
        ("/shelf/week?sheet=one+reel+20", "To have ready for one reel 20", "Change the table"),
        ("/bells?sheet=warm+room+24", "With warm room 24.", "The room"),
        ("/sheets/one-reel-20.toml", "Steps and cues", "Copy it"),
    ],
)
def test_pages_of_the_house_print_what_they_tell(
    chrome: Browser, desk: Served, state: StorageState, path: str, there: str, left_out: str
) -> None:
    """Stock and bells name the sheet that they are for, and forms leave no empty cards."""
    page = printed(chrome, desk, state, path)
    expect(page.get_by_text(there, exact=True)).to_be_visible()
    expect(page.get_by_text(left_out, exact=True).first).to_be_hidden()
    page.context.close()
