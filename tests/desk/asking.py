"""What tests of the desk ask for again and again."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from starlette.testclient import TestClient

    from wetside_desk.context import Desk

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
