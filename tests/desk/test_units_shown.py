"""The teacher's units where a page speaks of volumes, capacities and differences, and its days."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING

import pytest

from wetside_desk.store import preferences, uses

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import database_of, filled, ids_of, press
else:
    from desk_asking import database_of, filled, ids_of, press

CHANGE = "/shelf/bottles/Fixer%202/change"
OUNCES = preferences.Preferences(temperature="F", volume="fl oz")


def test_a_tolerance_is_told_in_the_teachers_degrees(pages: TestClient) -> None:
    """What is common practice stands in the unit of the field beside it."""
    preferences.save(database_of(pages), OUNCES)
    assert "0.45 to 0.9 °F are common practice" in pages.get("/settings").text


def test_what_was_told_when_a_run_was_counted_follows_the_unit(pages: TestClient) -> None:
    """A sentence that was kept in millilitres is read in fluid ounces, and back."""
    database = database_of(pages)
    run = ids_of(pages)[0]
    with database.transaction() as connection:
        connection.execute("DELETE FROM ended_run WHERE run = ?", (run,))
    uses.record(database, uses.Ended(run, 1_790_000_000.0, ("no developer for 300 mL",)), ())
    for page in ("/shelf", "/shelf/runs"):
        preferences.save(database, OUNCES)
        assert "no developer for 10.1 fl oz" in pages.get(page).text
        preferences.save(database, preferences.Preferences())
        assert "no developer for 300 mL" in pages.get(page).text


def test_a_capacity_is_asked_for_each_quart(pages: TestClient) -> None:
    """In fluid ounces a bottle's form counts rolls per quart; the file keeps them per litre."""
    preferences.save(database_of(pages), OUNCES)
    text = pages.get("/shelf/bottles/Fixer%202").text
    assert "Rolls for each quart" in text
    assert "18.9 rolls per quart" in text
    assert "litre" not in re.sub(r"<[^>]+>", "", text)
    fields = filled(text, CHANGE)
    assert ["18.9"] == fields["rolls_per_litre"]
    press(pages, CHANGE, fields)
    assert 20.0 == capacity(pages)
    fields = filled(pages.get("/shelf/bottles/Fixer%202").text, CHANGE)
    assert 303 == press(pages, CHANGE, fields, rolls_per_litre="16").status_code
    assert capacity(pages) == pytest.approx(16 / 0.946353, abs=0.01)


def capacity(client: TestClient) -> float:
    """Rolls for each litre of Fixer 2, as its file has them."""
    there = tomllib.loads(client.get("/v1/shelf/file").text)["bottle"]
    return next(float(one["rolls_per_litre"]) for one in there if one["label"] == "Fixer 2")


@pytest.mark.parametrize("page", ["/shelf", "/shelf/runs", "/slips", "/shelf/bottles/Fixer%201"])
def test_days_are_written_as_people_write_them(pages: TestClient, page: str) -> None:
    """Outside of forms a day is 17 Nov 2025 and not 2025-11-17."""
    told = re.sub(r"<[^>]+>", "", pages.get(page).text)
    assert re.search(r"\d+ \w{3} 2025", told)
    assert not re.search(r"\d{4}-\d\d-\d\d", told)


def test_the_shelf_lists_a_run_by_the_time_of_the_list(pages: TestClient) -> None:
    """Runs and their bottles name a run by its begin, as the list of runs does."""
    when = re.findall(r'class="run-time">([\d:]+)', pages.get("/").text)
    text = pages.get("/shelf/runs").text
    assert when == re.findall(r'href="/runs/\w{26}">\d+ \w+ \d{4} ([\d:]+)</a>', text)
