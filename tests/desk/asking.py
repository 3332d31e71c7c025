"""What tests of the desk ask for again and again."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any

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
