"""A desk over an invented school."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk import schooltime
from wetside_desk.settings import DeskSettings
from wetside_desk.store import accounts
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from playwright.sync_api import Browser, StorageState
    from tests.desk.beside import beside
    from tests.desk.browsing import Served
else:
    from beside import beside


beside("asking")
beside("invented")
beside("stocked")
beside("browsing")
beside("api_examples")


@pytest.fixture
def folder(tmp_path: Path) -> DeskSettings:
    """Settings of a desk in an empty folder."""
    live = tmp_path / "live"
    live.mkdir()
    return DeskSettings(journal=tmp_path / "journal.sqlite3", live=live, data=tmp_path / "desk")


@pytest.fixture
def school(folder: DeskSettings) -> DeskSettings:
    """Settings of a desk over ten finished runs."""
    sys.modules["desk_invented"].ten_runs(folder.journal)
    return folder


@pytest.fixture
def client(school: DeskSettings) -> Iterator[TestClient]:
    """A client on this machine, to a desk over the ten runs."""
    with sys.modules["desk_invented"].local(school) as client:
        yield client


@pytest.fixture
def shelf(school: DeskSettings, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A desk on this machine over ten runs, a stocked shelf and bells, on a Monday at 10:06."""
    stocked = sys.modules["desk_stocked"]
    stocked.put(school)
    monkeypatch.setattr(schooltime, "now", lambda: stocked.NOW)
    with sys.modules["desk_invented"].local(school) as client:
        yield client


@pytest.fixture
def pages(shelf: TestClient) -> TestClient:
    """The same for a browser, which wants pages."""
    shelf.headers.update(sys.modules["desk_asking"].PAGE)
    return shelf


@pytest.fixture
def bare(folder: DeskSettings, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A desk that has nothing yet, for a browser."""
    monkeypatch.setattr(schooltime, "now", lambda: sys.modules["desk_stocked"].NOW)
    with sys.modules["desk_invented"].local(folder) as client:
        client.headers.update(sys.modules["desk_asking"].PAGE)
        yield client


@pytest.fixture
def claimed(school: DeskSettings) -> DeskSettings:
    """Settings of a desk whose passphrase is set."""
    database = Database(school.data / "desk.sqlite3")
    accounts.set_passphrase(database, sys.modules["desk_asking"].PASSPHRASE)
    database.close()
    return school


@pytest.fixture
def teacher(claimed: DeskSettings) -> Iterator[TestClient]:
    """A browser on the network, signed in."""
    with sys.modules["desk_invented"].distant(claimed) as client:
        data = {"passphrase": sys.modules["desk_asking"].PASSPHRASE}
        answer = client.post("/sign-in", data=data, follow_redirects=False)
        assert 303 == answer.status_code
        yield client


@pytest.fixture(scope="module")
def chrome() -> Iterator[Browser]:
    """Chromium; where checks must be whole, a missing one is an error.

    It is closed with its module: until then its driver's event loop stands in the way of others.
    """
    browsing = beside("browsing")
    if browsing.chromium() is None:
        says = "no Chromium: apt-get install chromium, or name one in WETSIDE_CHROMIUM"
        if os.environ.get("WETSIDE_CI"):
            pytest.fail(says)
        pytest.skip(says)
    with browsing.browser() as made:
        yield made


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A served desk with a passphrase and a stocked shelf, on a Monday at 10:06."""
    stocked = sys.modules["desk_stocked"]
    with (
        pytest.MonkeyPatch.context() as patch,
        beside("browsing").served(tmp_path_factory.mktemp("served")) as made,
    ):
        patch.setattr(schooltime, "now", lambda: stocked.NOW)
        stocked.put(made.settings)
        yield made


@pytest.fixture(scope="module")
def state(chrome: Browser, desk: Served) -> StorageState:
    """A teacher's cookies."""
    found: StorageState = beside("browsing").signed_in_state(chrome, desk)
    return found
