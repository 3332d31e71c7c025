"""The pages in a real Chromium, at phone and laptop size, read by axe-core.

axe-core (Deque, the rules of WCAG 2.0 to 2.2, levels A and AA) is the outside judge here.
"""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

import pytest
from PIL import Image
from playwright.sync_api import expect

from wetside_desk.store import notes, preferences
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from playwright.sync_api import Browser, StorageState
    from tests.desk import browsing
    from tests.desk.beside import beside
    from tests.desk.browsing import Served
else:
    import desk_browsing as browsing
    from beside import beside

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("size", browsing.SIZES)
def test_every_page_is_accessible_and_whole(
    chrome: Browser, desk: Served, state: StorageState, size: str
) -> None:
    """No violation, no script error, nothing from elsewhere, nothing wider than the screen."""
    page = browsing.a_page(chrome, state, size)
    wrong = browsing.watch(page, desk)
    found = browsing.troubles(page, desk, {**desk.pages, **desk.open_pages})
    page.context.close()
    assert {} == found
    assert [] == wrong


@pytest.mark.parametrize("look", ["dark", "safelight"])
def test_every_look_is_accessible(
    chrome: Browser, desk: Served, state: StorageState, look: str
) -> None:
    """Contrast holds in the dark and in the safe light too."""
    page = browsing.a_page(chrome, state, "phone")
    browsing.wear(page, desk, look)
    names = ("runs", "run-thin", "settings", "summary")
    paths = {name: desk.pages[name] for name in names} | {"live": "/live"}
    found = browsing.troubles(page, desk, paths)
    page.context.close()
    assert {} == found


@pytest.mark.parametrize("name", ["runs", "run-thin", "compare", "summary", "settings", "slips"])
def test_safe_light_is_red_and_nothing_else(
    chrome: Browser, desk: Served, state: StorageState, name: str
) -> None:
    """In the safe-light look no pixel of a page sends any green or blue light."""
    page = browsing.a_page(chrome, state, "phone")
    browsing.wear(page, desk, "safelight")
    page.goto(f"{desk.address}{desk.pages[name]}")
    browsing.settled(page)
    picture = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("RGB")
    page.context.close()
    extremes = [band.getextrema() for band in picture.split()]
    assert [(0, 238), (0, 0), (0, 0)] == extremes


def test_red_lines_are_told_apart_by_dashes(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """In the safe light, where all inks are one red, no two lines look the same."""
    page = browsing.a_page(chrome, state)
    browsing.wear(page, desk, "safelight")
    page.goto(f"{desk.address}{desk.pages['compare']}")
    browsing.settled(page)
    dashes = page.evaluate(
        "Chart.getChart(document.querySelector('canvas')).data.datasets"
        ".filter((line) => !line.quiet).map((line) => line.borderDash.join())"
    )
    page.context.close()
    assert 6 == len(dashes)  # a developer and a bath of each of three runs
    assert 6 == len(set(dashes))


def test_board_follows_the_station(chrome: Browser, desk: Served) -> None:
    """The page changes by itself within a second or so, and says what is new aloud."""
    beside("invented").write_live(desk.settings.live_file)
    page = browsing.a_page(chrome, None, "phone")
    page.goto(f"{desk.address}/live")
    expect(page.locator("[data-word=big]")).to_have_text("3:01")
    dots = page.evaluate(
        "() => [...document.getElementById('display').getContext('2d')"
        ".getImageData(0, 0, 128, 64).data].filter((v, i) => i % 4 === 0 && v > 128).length"
    )
    assert 2 * (64 + 32) - 4 == dots
    beside("invented").write_live(desk.settings.live_file, state="ready")
    expect(page.locator("[data-word=head]")).to_have_text("Ready: pour the developer")
    expect(page.locator("[aria-live=polite]")).to_have_text(
        "Ready: pour the developer. Pour the developer: the window is open."
    )
    page.context.close()


def test_board_without_a_stream_looks_again_later(chrome: Browser, desk: Served) -> None:
    """Where too many watch, the board reads its page every ten seconds, without alarm."""
    beside("invented").write_live(desk.settings.live_file)
    page = browsing.a_page(chrome, None, "phone")
    page.route(
        "**/live/words", lambda route: route.fulfill(status=503, headers={"Retry-After": "10"})
    )
    page.goto(f"{desk.address}/live")
    expect(page.locator("[data-word=big]")).to_have_text("3:01")
    beside("invented").write_live(desk.settings.live_file, state="ready")
    expect(page.locator("[data-word=head]")).to_have_text(
        "Ready: pour the developer", timeout=15_000
    )
    expect(page.locator("#connection")).to_be_hidden()
    page.context.close()


def test_without_script_pages_still_say_everything(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """The board has its words and a run its charts, drawn by the desk."""
    beside("invented").write_live(desk.settings.live_file)
    page = browsing.a_page(chrome, state, script=False)
    page.goto(f"{desk.address}/live")
    expect(page.locator("[data-word=big]")).to_have_text("3:01")
    page.goto(f"{desk.address}{desk.pages['run']}")
    assert 2 == page.locator(".chart-still svg").count()
    expect(page.locator(".chart-still svg").first).to_be_visible()
    page.context.close()


def test_chart_reads_values_and_zooms(chrome: Browser, desk: Served, state: StorageState) -> None:
    """Dragging across a chart zooms in, and the button shows the whole chart again."""
    page = browsing.a_page(chrome, state)
    page.goto(f"{desk.address}{desk.pages['run']}")
    browsing.settled(page)
    canvas = page.locator("figure.chart canvas").first
    box = canvas.bounding_box()
    assert box is not None
    whole = page.evaluate("Chart.getChart(document.querySelector('canvas')).scales.x.max")
    y = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + 0.3 * box["width"], y)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.5 * box["width"], y, steps=5)
    page.mouse.up()
    back = page.get_by_role("button", name="Whole chart").first
    expect(back).to_be_visible()
    zoomed = page.evaluate("Chart.getChart(document.querySelector('canvas')).scales.x.max")
    assert zoomed < 0.6 * whole
    back.click()
    assert whole == page.evaluate("Chart.getChart(document.querySelector('canvas')).scales.x.max")
    page.context.close()


def test_a_chart_is_read_and_zoomed_by_keyboard(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """Arrows read value after value in the words of the page, plus and minus zoom, 0 shows all."""
    page = browsing.a_page(chrome, state)
    page.goto(f"{desk.address}{desk.pages['run']}")
    browsing.settled(page)
    chart = page.get_by_role("slider", name="Temperature, read by the arrow keys")
    chart.focus()
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    said = chart.get_attribute("aria-valuetext")
    assert said is not None
    assert re.fullmatch(r"\d+:\d\d: developer \d\d\.\d °C(, [a-z, ]+ \d\d\.\d °C)+", said)
    span = (
        "(({ min, max }) => max - min)(Chart.getChart(document.querySelector('canvas')).scales.x)"
    )
    whole = page.evaluate(span)
    page.keyboard.press("+")
    assert whole / 2 == pytest.approx(page.evaluate(span))
    page.keyboard.press("0")
    assert whole == page.evaluate(span)
    page.context.close()


def test_a_chart_is_zoomed_by_buttons(chrome: Browser, desk: Served, state: StorageState) -> None:
    """One thumb comes closer, goes aside and back to the whole, and the focus is never lost."""
    page = browsing.a_page(chrome, state, "phone")
    page.goto(f"{desk.address}{desk.pages['run']}")
    browsing.settled(page)
    axis = "Chart.getChart(document.querySelector('canvas')).scales.x"
    whole = page.evaluate(f"{axis}.max")
    page.get_by_role("button", name="Closer").first.click()
    assert page.evaluate(f"{axis}.max") < whole
    page.get_by_role("button", name="Later").first.click()
    assert page.evaluate(f"{axis}.max") == pytest.approx(whole)
    page.get_by_role("button", name="Whole chart").first.press("Enter")
    expect(page.get_by_role("button", name="Closer").first).to_be_focused()
    expect(page.get_by_role("button", name="Whole chart").first).to_be_hidden()
    page.context.close()


def test_what_a_pointer_reads_has_its_unit(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """A hovered value says degrees, and its time as the tables say it."""
    page = browsing.a_page(chrome, state)
    page.goto(f"{desk.address}{desk.pages['run']}")
    browsing.settled(page)
    page.locator("canvas").first.hover(position={"x": 200, "y": 120})
    tip = "Chart.getChart(document.querySelector('canvas')).tooltip"
    assert browsing.until(page, f"{tip}.body.length > 0")
    assert re.fullmatch(r"\d+:\d\d", page.evaluate(f"{tip}.title[0]"))
    assert re.search(r": \d\d\.\d °C$", page.evaluate(f"{tip}.body[0].lines[0]"))
    page.context.close()


def test_two_fingers_zoom(chrome: Browser, desk: Served, state: StorageState) -> None:
    """On a phone, spreading two fingers on a chart shows a shorter time."""
    page = browsing.a_page(chrome, state, "phone")
    page.goto(f"{desk.address}{desk.pages['run']}")
    browsing.settled(page)
    spans = page.evaluate(
        """() => {
          const canvas = document.querySelector("canvas");
          const chart = Chart.getChart(canvas);
          const box = canvas.getBoundingClientRect();
          const send = (name, id, share) => canvas.dispatchEvent(new PointerEvent(name, {
            pointerId: id, pointerType: "touch", bubbles: true,
            clientX: box.left + share * box.width, clientY: box.top + 100 }));
          const before = chart.scales.x.max - chart.scales.x.min;
          send("pointerdown", 1, 0.45); send("pointerdown", 2, 0.55);
          send("pointermove", 1, 0.25); send("pointermove", 2, 0.75);
          send("pointerup", 1, 0.25); send("pointerup", 2, 0.75);
          return [before, chart.scales.x.max - chart.scales.x.min];
        }"""
    )
    page.context.close()
    assert spans[1] < 0.5 * spans[0]


def test_paper_gets_the_still_chart(chrome: Browser, desk: Served, state: StorageState) -> None:
    """On paper the drawn picture stands where the screen has the live one, on white."""
    page = browsing.a_page(chrome, state)
    browsing.wear(page, desk, "dark")
    page.goto(f"{desk.address}{desk.pages['run']}")
    browsing.settled(page)
    page.emulate_media(media="print")
    expect(page.locator(".chart-still svg").first).to_be_visible()
    expect(page.locator(".chart-live").first).to_be_hidden()
    expect(page.get_by_role("navigation", name="Pages")).to_be_hidden()
    assert "rgb(255, 255, 255)" == page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert page.pdf(format="A4").startswith(b"%PDF")
    for name, picture in (("compare", ".chart-still svg"), ("summary", "svg.bars")):
        page.emulate_media(media="screen")
        page.goto(f"{desk.address}{desk.pages[name]}")
        browsing.settled(page)
        page.emulate_media(media="print")
        expect(page.locator(picture).first).to_be_visible()
        expect(page.locator(".chart-tools").first).to_be_hidden()
    page.context.close()


def test_note_is_kept_by_keyboard_alone(chrome: Browser, desk: Served, state: StorageState) -> None:
    """Skip link, fields and button are reached in order with the keyboard."""
    page = browsing.a_page(chrome, state)
    page.goto(f"{desk.address}/runs/{desk.runs[7]}")
    page.keyboard.press("Tab")
    assert "Skip to the content" == page.evaluate("document.activeElement.textContent")
    page.keyboard.press("Enter")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "words":
            break
    page.keyboard.type("Held up to the lamp: even.")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url(f"{desk.address}/runs/{desk.runs[7]}#note")
    expect(page.get_by_label("Note", exact=True)).to_have_value("Held up to the lamp: even.")
    page.context.close()


def test_targets_are_large_enough_for_a_thumb(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """Buttons and fields are at least 36 by 24 pixels (WCAG 2.2, 2.5.8 asks for 24 by 24)."""
    page = browsing.a_page(chrome, state, "phone")
    small = []
    for name in ("runs", "run", "settings"):
        page.goto(f"{desk.address}{desk.pages[name]}")
        small += page.evaluate(
            """() => [...document.querySelectorAll("button, .button, select, input, textarea")]
              .filter((e) => e.offsetParent && e.type !== "hidden" && e.type !== "checkbox")
              .filter((e) => e.offsetHeight < 36 || e.offsetWidth < 24)
              .map((e) => e.outerHTML.slice(0, 80))"""
        )
    page.context.close()
    assert [] == small


def test_boxes_to_tick_keep_their_size(chrome: Browser, desk: Served, state: StorageState) -> None:
    """However long the sentence beside it is, a box on a narrow phone is as wide as high."""
    page = browsing.a_page(chrome, state, "phone")
    page.set_viewport_size({"width": browsing.NARROW[0], "height": browsing.NARROW[1]})
    page.goto(f"{desk.address}/settings")
    sizes = page.locator(".tick input").evaluate_all(
        "all => all.filter(one => one.offsetParent).map(one => [one.offsetWidth, one.offsetHeight])"
    )
    page.context.close()
    assert len(sizes) > 2
    assert {(20, 20)} == {tuple(size) for size in sizes}


def test_a_look_is_changed_without_losing_what_was_typed(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """The page stays, its charts are drawn anew in red, and the next page has the look as well."""
    page = browsing.a_page(chrome, state)
    browsing.wear(page, desk, "light")
    page.goto(f"{desk.address}{desk.pages['run']}")
    browsing.settled(page)
    page.get_by_label("Note", exact=True).fill("half a sentence")
    page.route("**/*.json", lambda _: None)  # what a chart asks for is kept waiting
    page.get_by_role("button", name="safe light").click()
    expect(page.locator("html")).to_have_attribute("data-theme", "safelight")
    expect(page.get_by_role("button", name="safe light")).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_label("Note", exact=True)).to_have_value("half a sentence")
    drawn = (
        "[...document.querySelectorAll('figure.chart canvas')].every((one) => Chart.getChart(one))"
    )
    assert not page.evaluate(drawn)
    page.unroute("**/*.json")  # and lets go
    assert browsing.until(page, drawn)
    picture = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("RGB")
    assert [(0, 0), (0, 0)] == [band.getextrema() for band in picture.split()[1:]]
    page.goto(f"{desk.address}/summary")
    expect(page.locator("html")).to_have_attribute("data-theme", "safelight")
    page.context.close()


def test_live_charts_keep_their_words(chrome: Browser, desk: Served, state: StorageState) -> None:
    """Who hears the page finds each chart by its title, also once a script drew it."""
    page = browsing.a_page(chrome, state)
    page.goto(f"{desk.address}{desk.pages['run']}")
    browsing.settled(page)
    expect(page.get_by_role("img", name="Temperature")).to_have_count(1)
    page.context.close()


def test_long_words_stay_on_a_narrow_screen(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """No page is wider than 360 px or than paper, whatever was typed without a space."""
    database = Database(desk.settings.data / "desk.sqlite3")
    run = desk.runs[9]
    notes.write(database, run, "", 1990 * "n", notes.of_run(database, run).version)
    preferences.save(database, preferences.Preferences(school=60 * "S"))
    page = browsing.a_page(chrome, state)
    for media, (width, height) in (("screen", browsing.NARROW), ("print", (680, 1000))):
        page.emulate_media(media="print" if media == "print" else "screen")
        page.set_viewport_size({"width": width, "height": height})
        for path in ("/", f"/runs/{run}", "/report", "/api", "/settings", "/summary"):
            page.goto(f"{desk.address}{path}")
            wide = page.evaluate("document.documentElement.scrollWidth")
            assert (media, path, width) == (media, path, max(wide, width))
    page.set_viewport_size({"width": browsing.NARROW[0], "height": browsing.NARROW[1]})
    page.emulate_media(media="screen")
    page.goto(f"{desk.address}{desk.pages['run']}")
    ends = page.locator("[aria-labelledby=h-steps] td[data-name='Off by']").evaluate_all(
        "all => all.map((one) => one.getBoundingClientRect().right)"
    )
    assert max(ends) <= browsing.NARROW[0]
    preferences.save(database, preferences.Preferences())
    database.close()
    page.context.close()
