"""The station page, and the address that phones are given."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wetside_desk import formats
from wetside_desk.settings import DeskSettings
from wetside_desk.whereabouts import address_of, for_phones

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import desk_of
    from tests.desk.invented import SCHOOL_DAY, write_live
else:
    from desk_asking import desk_of
    from desk_invented import SCHOOL_DAY, write_live


def test_address_for_phones() -> None:
    """A given address is used as it is; a bound one stands for itself."""
    folder = Path("/nowhere")
    assert "http://127.0.0.1:8470" == address_of(DeskSettings(folder, folder, folder))
    named = DeskSettings(folder, folder, folder, address="http://sink-1.local:8470/")
    assert "http://sink-1.local:8470" == address_of(named)


@pytest.mark.parametrize(
    ("address", "open_to_phones"),
    [
        ("http://192.0.2.7:8470", True),
        ("https://sink-1.local", True),
        ("http://127.0.0.1:8470", False),
        ("http://localhost:8470", False),
        ("http://[::1]:8470", False),
    ],
)
def test_an_address_of_this_machine_alone_is_not_given_to_phones(
    address: str, open_to_phones: bool
) -> None:
    """Loopback, by name or number, cannot be opened from elsewhere."""
    assert open_to_phones == for_phones(address)


def test_the_station_page_offers_no_code_that_no_phone_can_open(client: TestClient) -> None:
    """On loopback it says how to let phones in instead."""
    page = client.get("/station").text
    assert "--host 0.0.0.0" in page
    assert "code-card" not in page


def test_the_station_page_speaks_of_this_place(client: TestClient) -> None:
    """Health is told in local time, in gigabytes and in sentences."""
    folder = desk_of(client).settings
    write_live(folder.live_file, troubles={"probe": "failed read"})
    page = client.get("/station").text
    when = formats.local(SCHOOL_DAY)
    assert f"It is {when:%A} {when.day} {when:%B %Y}, {when:%H:%M}." in page
    assert re.search(r"10 runs with [\d,]+ readings\.", page)
    assert re.search(r"[\d.]+ [GM]B free for the journal\.", page)
    assert "The probe could not be read." in page
    assert "probe: " not in page
