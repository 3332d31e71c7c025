"""Shelf, bells and sheets in a real Chromium, at phone and laptop size, read by axe-core.

axe-core (Deque, the rules of WCAG 2.0 to 2.2, levels A and AA) is the outside judge here.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from wetside_desk.store import accounts
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from playwright.sync_api import Browser, StorageState
    from tests.desk import browsing, stocked
    from tests.desk.browsing import Served
else:
    import desk_browsing as browsing
    import desk_stocked as stocked

pytestmark = pytest.mark.browser


@pytest.mark.parametrize(
    ("size", "look"),
    # every size and every look; colours do not depend on the size
    [("phone", "light"), ("laptop", "light"), ("phone", "dark"), ("laptop", "safelight")],
)
def test_every_page_is_accessible_and_whole(
    chrome: Browser, desk: Served, state: StorageState, size: str, look: str
) -> None:
    """No violation, no script error, nothing from elsewhere, nothing wider than the screen."""
    page = browsing.a_page(chrome, state, size)
    browsing.wear(page, desk, look)
    wrong = browsing.watch(page, desk)
    found = browsing.troubles(page, desk, stocked.PAGES)
    page.context.close()
    assert {} == found
    assert [] == wrong


def test_the_clearing_timer(chrome: Browser, desk: Served, state: StorageState) -> None:
    """Start, wait, stop: the time stands in the field and against the fresh bath; then it is kept.

    The page's clock is moved by the browser, so that 85 s pass at once, and what the test takes
    besides. Fresh it took 40 s, so it is to be discarded.
    """
    page = browsing.a_page(chrome, state, "phone")
    page.clock.install()
    page.goto(f"{desk.address}/shelf/bottles/Fixer%201")
    page.get_by_role("button", name="Film in: start").click()
    page.clock.run_for(30_000)
    expect(page.locator("#timer-shown")).to_have_text("0:30")
    expect(page.locator("#timer-says")).to_have_text("")
    page.clock.run_for(55_000)
    expect(page.locator("#timer-says")).to_contain_text("collect it and mix new")
    page.get_by_role("button", name="Clear now: stop").click()
    field = page.get_by_label("Seconds until the film was clear")
    expect(field).to_have_value(re.compile(r"^8[5-9]\.\d$"))
    page.get_by_role("button", name="Write the test down").click()
    expect(page.get_by_role("status").first).to_contain_text("twice as long or more")
    page.goto(f"{desk.address}/shelf")
    expect(page.locator(".bottle", has_text="Fixer 1")).to_contain_text("Not to be used")
    page.context.close()


def test_the_editor_checks_while_one_types(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """A mistake is shown beside its line without being sent; mended, it goes."""
    page = browsing.a_page(chrome, state)
    page.goto(f"{desk.address}/sheets/short-wash.toml/text")
    area = page.get_by_label("short-wash.toml")
    text = area.input_value()
    area.fill(text.replace("reels = 1\n", "reels = 99\n"))
    count = page.locator("#problems-count")
    expect(count).to_have_text("1 problem")
    line = text.splitlines().index("reels = 1") + 1
    button = page.get_by_role("button", name=f"line {line}")
    expect(page.locator("#problems")).to_contain_text("reels")
    expect(page.locator(".gutter .off")).to_have_text(str(line))
    button.click()
    chosen = "area => area.value.slice(area.selectionStart, area.selectionEnd)"
    assert "reels = 99" == area.evaluate(chosen)
    area.fill(text)
    expect(count).to_have_text("No problem")
    page.context.close()


def test_a_bottle_without_script(chrome: Browser, desk: Served, state: StorageState) -> None:
    """Everything but the running timer works in a browser that runs no script."""
    page = browsing.a_page(chrome, state, "phone", script=False)
    page.goto(f"{desk.address}/shelf/new")
    page.get_by_label("Label on the bottle").fill("Fixer 9")
    page.get_by_label("Holds").select_option("fixer")
    page.get_by_label("Strength").fill("1+4")
    page.get_by_label("Volume").fill("500 mL")
    page.get_by_label("Is used").select_option("reused")
    page.get_by_label("Rolls for each litre").fill("20")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator(".bottle", has_text="Fixer 9")).to_contain_text("10 of 10 rolls left")
    page.goto(f"{desk.address}/shelf/bottles/Fixer%209")
    page.get_by_label("Seconds until the film was clear").fill("38")
    page.get_by_role("button", name="Write the test down").click()
    expect(page.locator("main")).to_contain_text("Fresh it took 0:38")
    page.context.close()


def test_the_bells_by_keyboard(chrome: Browser, desk: Served, state: StorageState) -> None:
    """A period is reached, changed and kept with the keyboard alone."""
    page = browsing.a_page(chrome, state)
    page.goto(f"{desk.address}/bells")
    link = page.get_by_role("link", name="3-4 Studio").first
    link.focus()
    page.keyboard.press("Enter")
    page.get_by_label("Group").focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("Evening")
    page.keyboard.press("Enter")
    expect(page.get_by_role("link", name="3-4 Evening").first).to_be_visible()
    page.context.close()


def test_a_long_name_of_a_sheet_fits_a_phone(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """Its editor is no wider than the screen, whatever the file is called."""
    page = browsing.a_page(chrome, state, "phone")
    page.goto(f"{desk.address}/sheets/new?file={36 * 'w'}")
    assert page.evaluate("document.documentElement.scrollWidth") <= browsing.PHONE[0]
    page.context.close()


def test_the_week_is_a_list_on_a_phone(chrome: Browser, desk: Served, state: StorageState) -> None:
    """Every period and every column of the latest starts lie on the screen."""
    page = browsing.a_page(chrome, state, "phone")
    page.goto(f"{desk.address}/bells")
    right = "all => Math.max(...all.map(one => one.getBoundingClientRect().right))"
    for places in (".week .cell", "[aria-label='Latest starts, table'] td"):
        assert page.locator(places).count() > 3
        assert page.locator(places).evaluate_all(right) <= browsing.PHONE[0]
    page.context.close()


def test_the_report_is_cards_on_a_phone_and_a_table_on_paper(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """No run is taller than the screen, nothing lies beside it, and no date is broken on paper."""
    page = browsing.a_page(chrome, state, "phone")
    page.goto(f"{desk.address}/report")
    boxes = page.locator(".report tbody tr").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect()).map(box => [box.height, box.right])"
    )
    assert 10 == len(boxes)
    assert all(height < 400 and right <= browsing.PHONE[0] for height, right in boxes)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 1030, "height": 680})  # A4 on its side less its margins
    assert page.locator(".report thead").is_visible()
    heights = page.locator(".report .when").evaluate_all(
        "all => all.map(one => one.getClientRects().length)"
    )
    assert {1} == set(heights)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.context.close()


def test_a_text_outlives_its_session(chrome: Browser, desk: Served) -> None:
    """The editor says that nothing is checked any more; signed in again, one press keeps it all."""
    page = browsing.a_page(chrome, None)
    browsing.sign_in(page, desk)
    page.goto(f"{desk.address}/bells/text")
    area = page.get_by_label("bells.toml")
    text = f"# Wörter \N{EM DASH} <b> & more\n\n{area.input_value()}"
    database = Database(desk.settings.data / "desk.sqlite3")
    token = next(one["value"] for one in page.context.cookies() if "desk" == one.get("name"))
    session = accounts.session_of(database, token)
    assert session is not None
    accounts.revoke(database, session.digest)
    database.close()
    area.fill(text)
    expect(page.locator("#problems-count")).to_contain_text("Not checked: the sign-in has ended")
    page.get_by_role("button", name="Keep").click()
    page.get_by_label("Passphrase").fill(browsing.PASSPHRASE)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name="Send it now").click()
    expect(page.get_by_role("status").first).to_contain_text("Kept at")
    page.context.close()
    kept = (desk.settings.files_folder / "bells.toml").read_text(encoding="utf-8")
    assert text == kept


def test_a_refused_form_takes_the_focus(chrome: Browser, desk: Served, state: StorageState) -> None:
    """What is wrong is read first, and again at the field that it is about; axe finds no fault."""
    page = browsing.a_page(chrome, state, "phone")
    page.goto(f"{desk.address}/bells")
    field = page.get_by_role("textbox", name="Days without school")
    field.fill("13.10.2025 14.10.2025")
    page.locator("[aria-labelledby=h-weeks]").get_by_role("button", name="Keep").click()
    expect(page.locator(".wrong:focus")).to_contain_text("13.10.2025")
    expect(field).to_have_value("13.10.2025 14.10.2025")
    expect(field).to_have_accessible_description(re.compile("is not a date"))
    expect(page).to_have_title(re.compile("^Error: "))
    assert [] == browsing.judged(page)
    page.context.close()


def test_the_present_page_is_marked_without_colours(
    chrome: Browser, desk: Served, state: StorageState
) -> None:
    """Where the system chooses the colours, its line differs from those of the other pages."""
    page = browsing.a_page(chrome, state)
    page.emulate_media(forced_colors="active")
    page.goto(f"{desk.address}/bells")
    colours = page.locator(".top nav a").evaluate_all(
        "all => all.map((one) => [one.hasAttribute('aria-current'),"
        " getComputedStyle(one).borderBottomColor])"
    )
    page.context.close()
    present = {colour for here, colour in colours if here}
    assert 1 == len(present)
    assert not present & {colour for here, colour in colours if not here}


@pytest.mark.parametrize("path", ["/shelf/week", "compare", "run"])
def test_wide_tables_are_cards_on_a_phone(
    chrome: Browser, desk: Served, state: StorageState, path: str
) -> None:
    """Stock, compared runs and events lie wholly on a narrow screen, no word cut at its edge."""
    page = browsing.a_page(chrome, state, "phone")
    page.set_viewport_size({"width": browsing.NARROW[0], "height": browsing.NARROW[1]})
    page.goto(f"{desk.address}{desk.pages.get(path, path)}")
    page.locator("details").evaluate_all("all => all.forEach(one => one.open = true)")
    wide = page.locator(".scroll").evaluate_all(
        "all => all.filter(one => one.scrollWidth > one.clientWidth).map(one => one.ariaLabel)"
    )
    page.context.close()
    assert [] == wide
