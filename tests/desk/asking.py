"""What tests of the desk ask for again and again."""

from __future__ import annotations

import re
import tomllib
from html.parser import HTMLParser
from typing import TYPE_CHECKING, Any

from wetside_desk.bells.periods import PeriodKeeper
from wetside_desk.caretaker import Caretaker
from wetside_desk.shelf.counting import Counter
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from starlette.testclient import TestClient

    from wetside_desk.context import Desk
    from wetside_desk.settings import DeskSettings

#: What a browser asks for.
PAGE = {"Accept": "text/html"}
TOML = {"Content-Type": "application/toml"}
PASSPHRASE = "four words in a row"


def desk_of(client: TestClient) -> Desk:
    """The desk behind a client."""
    found: Desk = client.app.state.desk  # type: ignore[attr-defined]  # the application inside
    return found


def database_of(client: TestClient) -> Database:
    """The desk's own database."""
    return desk_of(client).database


def ids_of(client: TestClient) -> list[str]:
    """Ids of all runs, latest first."""
    return [run["id"] for run in client.get("/v1/runs?limit=200").json()["runs"]]


def form_of(client: TestClient, address: str = "/settings") -> str:
    """The token that the forms of a page carry."""
    found = re.search(r'name="form" value="([^"]+)"', client.get(address).text)
    assert found is not None
    return found[1]


#: Hidden fields of forms: the token, and what the page showed.
_HIDDEN = ("form", "seen", "version", "seen_label", "seen_period")


def hidden(text: str, name: str) -> str:
    """A hidden field of a page."""
    found = re.search(rf'name="{name}" value="([^"]*)"', text)
    assert found is not None
    return found[1]


def send(client: TestClient, page: str, to: str, **fields: Any) -> Any:  # noqa: ANN401  # the client's own types
    """Fill a form on one page and send it to where it posts; gives the answer itself."""
    text = client.get(page).text
    found = {name: hidden(text, name) for name in _HIDDEN if f'name="{name}"' in text}
    return client.post(to, data={**found, **fields}, follow_redirects=False)


def shelf_file(settings: DeskSettings) -> dict[str, Any]:
    """What stands in the shelf file."""
    return tomllib.loads((settings.files_folder / "shelf.toml").read_text(encoding="utf-8"))


def tag(client: TestClient) -> dict[str, str]:
    """The header that a change of the shelf file needs."""
    return {"If-Match": client.get("/v1/shelf/file").headers["etag"], **TOML}


def bottle(client: TestClient, label: str) -> dict[str, object]:
    """One bottle of the API's answer."""
    found = client.get("/v1/shelf").json()["bottles"]
    return next(one for one in found if one["label"] == label)


class _Forms(HTMLParser):
    """The forms of a page, each with the fields that a browser would send."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, list[str]]]] = []
        self._select = self._text = ""
        self._first = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """A form, or one of its fields."""
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.found.append((given.get("action", ""), {}))
        elif tag == "input" and given.get("type") not in {"checkbox", "radio", "file", "submit"}:
            self._put(given.get("name", ""), given.get("value", ""))
        elif tag == "input" and "checked" in given:
            self._put(given["name"], given.get("value", "on"))
        elif tag == "select":
            self._select, self._first = given.get("name", ""), True
        elif tag == "textarea":
            self._text = given["name"]
            self._put(self._text, "")
        elif tag == "option" and self._select:
            self._option = given.get("value"), "selected" in given

    def handle_data(self, data: str) -> None:
        """What stands in a text, or the words of a choice."""
        if self._text:
            self.found[-1][1][self._text] = [data]
        elif self._select and self.lasttag == "option":
            value, selected = self._option
            if self._first or selected:
                self.found[-1][1][self._select] = [data.strip() if value is None else value]
            self._first = False

    def handle_endtag(self, tag: str) -> None:
        """The end of a text or of a list to choose from."""
        if tag == "select":
            self._select = ""
        elif tag == "textarea":
            self._text = ""

    def _put(self, name: str, value: str) -> None:
        if name and self.found:
            self.found[-1][1].setdefault(name, []).append(value)


def filled(text: str, action: str) -> dict[str, list[str]]:
    """The fields of the first form of a page that posts there, as a browser would send them."""
    reader = _Forms()
    reader.feed(text)
    return next(fields for to, fields in reader.found if to == action)


def press(client: TestClient, to: str, fields: dict[str, list[str]], **changed: Any) -> Any:  # noqa: ANN401  # as above
    """Send a form that was opened before, with some fields changed; gives the answer itself."""
    return client.post(to, data={**fields, **changed}, follow_redirects=False)


def caretaker_of(desk: Desk) -> Caretaker:
    """A caretaker whose looks a test asks for."""
    files = desk.settings.files_folder
    return Caretaker(
        desk.settings,
        desk.reader,
        desk.database,
        desk.gate.claim,
        Counter(desk.reader, desk.database, files / "shelf.toml"),
        PeriodKeeper(desk.reader, desk.database, files / "bells.toml"),
        None,
    )
