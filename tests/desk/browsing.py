"""A served desk and a real Chromium: for the browser tests and for the pictures."""

from __future__ import annotations

import logging
import os
import shutil
import socket
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import uvicorn
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]  # ships no types
from playwright.sync_api import Browser, Page, StorageState, sync_playwright

from wetside.journal.reader import Reader
from wetside_desk.app import create_app
from wetside_desk.settings import DeskSettings
from wetside_desk.store import accounts, labels, notes, periods, preferences
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from tests.desk.beside import beside
else:
    from beside import beside

PASSPHRASE = "four words in a row"
PHONE = (390, 844)
NARROW = (360, 740)
LAPTOP = (1366, 768)
SIZES = {"phone": PHONE, "laptop": LAPTOP}

#: What axe-core is asked: WCAG 2.0 to 2.2, levels A and AA, and its best practice.
RULES = {
    "runOnly": {
        "type": "tag",
        "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    }
}


def chromium() -> str | None:
    """Where Chromium is, or None."""
    return os.environ.get("WETSIDE_CHROMIUM") or shutil.which("chromium")


@dataclass(frozen=True, slots=True)
class Served:
    """A running desk: where it is, what it is made of, its runs (latest first), a label link."""

    address: str
    settings: DeskSettings
    runs: tuple[str, ...]
    link: str

    @property
    def pages(self) -> dict[str, str]:
        """Every page for people, by a short name; those of the teacher need a session."""
        first, second, third = self.runs[:3]
        return {
            "runs": "/",
            "found": "/?flag=late-develop",
            "run": f"/runs/{self.runs[4]}",
            "run-thin": f"/runs/{first}",
            "compare": f"/compare?run={first}&run={second}&run={third}",
            "summary": "/summary",
            "station": "/station",
            "settings": "/settings",
            "report": "/report",
            "slips": "/slips",
            "rules": "/rules",
        }

    @property
    def open_pages(self) -> dict[str, str]:
        """Pages that need no session."""
        return {
            "live": "/live",
            "sign-in": "/sign-in",
            "label": f"/L/{self.link}",
            "api": "/api",
            "problems": "/problems",
            "nowhere": "/nowhere",
        }


@contextmanager
def served(folder: Path, *, claimed: bool = True) -> Iterator[Served]:
    """A desk over ten invented runs, some of them judged and labelled."""
    school = beside("invented")
    live = folder / "live"
    live.mkdir()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    settings = DeskSettings(
        journal=folder / "journal.sqlite3", live=live, data=folder / "desk", port=port
    )
    school.ten_runs(settings.journal)
    school.write_live(settings.live_file)
    with Reader(settings.journal) as reader:
        runs = tuple(row.id for row in reader.runs().rows)
    database = Database(settings.data / "desk.sqlite3")
    if claimed:
        accounts.set_passphrase(database, PASSPHRASE)
    # the runs are of 2025: labels must outlive that, whatever the clock says today
    preferences.save(database, preferences.Preferences(retention_days=3660))
    notes.write(database, runs[0], "thin", "Edge numbers pale as well.", 0)
    for run, outcome in zip(runs[1:6], ("good", "good", "dense", "stained", "good"), strict=True):
        notes.write(database, run, outcome, "", 0)
    for number, run in enumerate(runs[:7]):
        labels.give(database, run, labels.checked(f"K{number + 3}"))
        periods.write(database, run, str(1 + number % 4))
    link, _ = labels.new_link(database, runs[8])
    database.close()
    server = uvicorn.Server(
        uvicorn.Config(create_app(settings), port=port, log_level="error", lifespan="on")
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.05)
    try:
        yield Served(f"http://127.0.0.1:{port}", settings, runs, link)
    finally:
        # an open live page would hold the server; being cut short is then no error to print
        logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL)
        server.should_exit = True
        server.force_exit = True
        thread.join(timeout=10)


@contextmanager
def browser() -> Iterator[Browser]:
    """Debian's Chromium, headless."""
    path = chromium()
    assert path is not None
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        try:
            yield made
        finally:
            made.close()


def sign_in(page: Page, desk: Served) -> None:
    """Sign in as the teacher."""
    page.goto(f"{desk.address}/sign-in")
    page.get_by_label("Passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{desk.address}/")


def signed_in_state(chrome: Browser, desk: Served) -> StorageState:
    """The cookies of a signed-in teacher, for contexts of any size."""
    context = chrome.new_context()
    sign_in(context.new_page(), desk)
    state = context.storage_state()
    context.close()
    return state


def a_page(
    chrome: Browser, state: StorageState | None, size: str = "laptop", *, script: bool = True
) -> Page:
    """A page of this size, signed in with a state."""
    width, height = SIZES[size]
    return chrome.new_context(
        viewport={"width": width, "height": height}, storage_state=state, java_script_enabled=script
    ).new_page()


def watch(page: Page, desk: Served) -> list[str]:
    """What goes wrong on a page: errors of scripts, refused or foreign requests."""
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(f"error: {error}"))
    page.on(
        "console",
        lambda line: (
            wrong.append(f"console: {line.text}")
            if line.type in {"error", "warning"} and "404" not in line.text
            else None
        ),
    )
    page.on(
        "request",
        lambda request: (
            None
            if request.url.startswith((desk.address, "data:"))
            else wrong.append(f"foreign: {request.url}")
        ),
    )
    return wrong


def judged(page: Page) -> list[str]:
    """What axe-core finds, one text each."""
    found = Axe().run(page, options=RULES).response["violations"]
    return [
        f"{rule['id']}: {rule['help']}: {[node['target'] for node in rule['nodes']][:4]}"
        for rule in found
    ]


def troubles(page: Page, desk: Served, paths: Mapping[str, str]) -> dict[str, list[str]]:
    """What is wrong with pages, by name: violations, and what is wider than the screen."""
    found: dict[str, list[str]] = {}
    for name, path in paths.items():
        page.goto(f"{desk.address}{path}")
        settled(page)
        said = judged(page)
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            said.append("wider than the screen")
        if said:
            found[name] = said
    return found


def wear(page: Page, desk: Served, look: str) -> None:
    """Choose a look."""
    page.context.add_cookies([{"name": "theme", "value": look, "url": desk.address}])


def settled(page: Page) -> None:
    """Wait until the charts of a page are alive."""
    for at in range(page.locator("figure.chart").count()):
        figure = page.locator("figure.chart").nth(at)
        figure.scroll_into_view_if_needed()
        figure.locator(".chart-live").wait_for(state="visible", timeout=30_000)
    page.evaluate("scrollTo(0, 0)")


def until(page: Page, expression: str) -> bool:
    """Whether an expression of the page's script becomes true within thirty seconds.

    Each look is an evaluation of its own. Playwright's wait_for_function looks a second time from
    within the page, where the desk's content security policy forbids to evaluate a text: it fails
    whenever the first look came too early.
    """
    for _ in range(300):
        if page.evaluate(expression):
            return True
        page.wait_for_timeout(100)
    return False
