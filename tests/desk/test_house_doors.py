"""Who may read and change shelf, bells and sheets, and what no other site can send."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk.store import accounts
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from tests.desk import stocked
    from tests.desk.asking import TOML
    from tests.desk.invented import distant

else:
    import desk_stocked as stocked
    from desk_asking import TOML
    from desk_invented import distant


READING = [
    "/v1/shelf",
    "/v1/shelf/file",
    "/v1/shelf/uses",
    "/v1/shelf/class?tanks=3",
    "/v1/shelf/week",
    "/v1/bells",
    "/v1/bells/file",
    "/v1/bells/day",
    "/v1/bells/starts",
    "/v1/sheets",
    "/v1/sheets/one-reel-20.toml",
    "/v1/sheets/one-reel-20.toml/file",
    "/v1/sheets/one-reel-20.toml/versions",
]


CHANGING = [
    ("PUT", "/v1/shelf/file"),
    ("POST", "/v1/shelf/check"),
    ("POST", "/v1/shelf/bottles/Stop 1/tests"),
    ("POST", "/v1/shelf/bottles/Stop 1/fillings"),
    ("PUT", "/v1/bells/file"),
    ("POST", "/v1/bells/check"),
    ("PUT", "/v1/sheets/one-reel-20.toml/file"),
    ("DELETE", "/v1/sheets/one-reel-20.toml/file"),
    ("POST", "/v1/sheets/one-reel-20.toml/copies"),
    ("POST", "/shelf/new"),
    ("POST", "/shelf/bottles/Stop 1/change"),
    ("POST", "/shelf/bottles/Stop 1/take"),
    ("POST", "/shelf/bottles/Stop 1/renew"),
    ("POST", "/shelf/bottles/Stop 1/test"),
    ("POST", "/shelf/runs/move"),
    ("POST", "/shelf/text"),
    ("POST", "/bells/room"),
    ("POST", "/bells/table"),
    ("POST", "/bells/text"),
    ("POST", "/bells/periods/1"),
    ("POST", "/sheets/one-reel-20.toml/text"),
    ("POST", "/sheets/one-reel-20.toml/copy"),
    ("POST", "/sheets/one-reel-20.toml/take"),
    ("POST", "/sheets/one-reel-20.toml/back"),
]


@pytest.fixture(scope="module")
def stranger(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str]]:
    """Somebody on the school's network without a session, and a key that may only read."""
    from wetside_desk.settings import DeskSettings  # noqa: PLC0415  # one fixture needs it

    place = tmp_path_factory.mktemp("stranger")
    (place / "live").mkdir()
    settings = DeskSettings(place / "journal.sqlite3", place / "live", place / "desk")
    stocked.put(settings)
    database = Database(settings.data / "desk.sqlite3")
    accounts.set_passphrase(database, "four words in a row")
    key = accounts.open_session(database, "a program", "key")
    database.close()
    with distant(settings) as client:
        yield client, key


@pytest.mark.parametrize("path", READING)
def test_nobody_reads_without_a_session(stranger: tuple[TestClient, str], path: str) -> None:
    """Shelf, bells and sheets are the teacher's; a key may read them."""
    client, key = stranger
    assert 401 == client.get(path).status_code
    assert 200 == client.get(path, headers={"Authorization": f"Bearer {key}"}).status_code


@pytest.mark.parametrize(("method", "path"), CHANGING)
def test_nobody_changes_without_a_session(
    stranger: tuple[TestClient, str], method: str, path: str
) -> None:
    """Neither a stranger nor a key that reads can change anything."""
    client, key = stranger
    body = {"content": "format = 1\n", "headers": {**TOML, "If-Match": "*"}}
    assert 401 == client.request(method, path, **body).status_code  # type: ignore[arg-type]
    body["headers"] = {**TOML, "If-Match": "*", "Authorization": f"Bearer {key}"}
    assert 401 == client.request(method, path, **body).status_code  # type: ignore[arg-type]


def test_another_sites_page_changes_nothing(shelf: TestClient) -> None:
    """The browser says where a request comes from; one from elsewhere is refused."""
    headers = {**TOML, "If-Match": "*", "Sec-Fetch-Site": "cross-site"}
    for method, path in CHANGING:
        answer = shelf.request(method, path, content="format = 1\n", headers=headers)
        assert (path, 403) == (path, answer.status_code)
    assert stocked.SHELF == shelf.get("/v1/shelf/file").text


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", ""])
def test_what_a_form_could_send_is_not_taken(shelf: TestClient, kind: str) -> None:
    """A form of another site can post these types without being asked; the API takes none."""
    headers = {"Content-Type": kind} if kind else {}
    answer = shelf.post("/v1/shelf/check", content="format = 1\n", headers=headers)
    assert 400 == answer.status_code
