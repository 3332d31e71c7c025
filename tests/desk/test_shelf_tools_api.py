"""What the API works out from the shelf: before a class, mixing, a week, washing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk.store import preferences
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from wetside_desk.settings import DeskSettings
else:
    pass


def test_before_a_class(shelf: TestClient) -> None:
    """Nine tanks: the stop bath serves one of them, said before the class and not in it."""
    found = shelf.get("/v1/shelf/class", params={"tanks": 9}).json()["notices"]
    assert "stop bath: serves 1 of 9 tanks; mix before class" == found[0]["text"]


def test_a_slow_fixer_is_held_against_the_sheet(shelf: TestClient) -> None:
    """Clear after 2:40 asks for 5:20; the shipped sheet fixes 5:00 from the full tank."""
    shelf.post("/v1/shelf/bottles/Fixer 2/tests", json={"clearing_seconds": 160, "fresh": True})
    asked = {"tanks": "1", "sheet": "one reel 20"}
    found = shelf.get("/v1/shelf/class", params=asked).json()["notices"]
    (notice,) = [one for one in found if one["trouble"] == "fix too short"]
    assert "Fixer 2" == notice["bottle"]
    assert "fix for 5:20, the sheet fixes for 5:00" in notice["text"]


def test_mixing_keeps_acid_for_the_water(shelf: TestClient) -> None:
    """1+19 to 1 L is 50 mL and 950 mL; water is poured first, acid slowly into it."""
    asked = {"total": "1L", "strength": "1+19", "holds": "stop bath"}
    found = shelf.get("/v1/shelf/mixing", params=asked).json()
    assert ([50.0], 950.0) == (found["concentrate_millilitres"], found["water_millilitres"])
    steps = found["steps"]
    water = next(at for at, text in enumerate(steps) if text.startswith("Pour"))
    acid = next(at for at, text in enumerate(steps) if text.startswith("Add"))
    assert water < acid
    assert any("never water into acid" in text for text in steps[:water])


def test_mixing_takes_fluid_ounces(shelf: TestClient) -> None:
    """32 fl oz at 1+4: a fifth of 946.35 mL (NIST Handbook 44)."""
    asked = {"total": "32floz", "strength": "1+4", "holds": "fixer"}
    found = shelf.get("/v1/shelf/mixing", params=asked).json()
    assert pytest.approx(189.27, abs=0.01) == found["concentrate_millilitres"][0]


def test_texts_speak_in_the_teachers_unit(shelf: TestClient, school: DeskSettings) -> None:
    """A teacher of fluid ounces reads steps and warnings in them; the numbers stay millilitres."""
    preferences.save(
        Database(school.data / "desk.sqlite3"), preferences.Preferences(volume="fl oz")
    )
    asked = {"total": "32floz", "strength": "1+3", "holds": "fixer"}
    found = shelf.get("/v1/shelf/mixing", params=asked).json()
    assert pytest.approx(946.35, abs=0.01) == found["total_millilitres"]
    assert "Add 8 fl oz of the concentrate to it." in found["steps"]
    notices = shelf.get("/v1/shelf/class", params={"tanks": 30}).json()["notices"]
    told = [one["text"] for one in notices if "at hand" in one["text"]]
    assert told
    assert all("fl oz" in text and "mL" not in text for text in told)


@pytest.mark.parametrize(
    "asked",
    [
        {"total": "1L", "strength": "1:4", "holds": "fixer"},
        {"total": "some", "strength": "1+4", "holds": "fixer"},
        {"total": "1L", "strength": "1+4", "holds": "soup"},
    ],
)
def test_mixing_refuses_what_it_cannot_read(shelf: TestClient, asked: dict[str, str]) -> None:
    """A colon, no volume, no solution."""
    assert 422 == shelf.get("/v1/shelf/mixing", params=asked).status_code


def test_a_week_spares_a_tenth_without_a_bottle_too(
    shelf: TestClient, school: DeskSettings
) -> None:
    """A kind that the shelf does not keep is counted as one that is used once."""
    file = school.files_folder / "shelf.toml"
    head, _, *others = file.read_text(encoding="utf-8").split("[[bottle]]")
    file.write_text("[[bottle]]".join([head, *others]), encoding="utf-8")
    found = shelf.get("/v1/shelf/week", params={"day": "2025-11-19"}).json()["stock"]
    without = [one for one in found if one["bottle"] is None]
    assert without
    for one in without:
        assert pytest.approx(1.1 * one["fillings_millilitres"]) == one["millilitres"]
        assert [] == one["concentrate_millilitres"]


def test_a_week_of_stock(shelf: TestClient) -> None:
    """By hand: week A has 12*3 + 9*2 + 16*2 = 86 tanks of 300 mL developer, 1+1, a tenth spare."""
    found = shelf.get("/v1/shelf/week", params={"day": "2025-11-19"}).json()
    assert ("2025-11-17", 7) == (found["monday"], found["classes"])
    developer = next(one for one in found["stock"] if one["holds"] == "developer")
    assert 86 == developer["tanks"]
    assert pytest.approx(86 * 300 * 1.1 / 2) == developer["concentrate_millilitres"][0]


def test_washing_by_changes(shelf: TestClient) -> None:
    """500 mL: two changes leave 0.24 of 0.72 mg (Torzynski 2004), one more is planned."""
    found = shelf.get("/v1/shelf/wash", params={"tank": "500mL", "water": "50F"}).json()
    assert (3, 2.0) == (found["changes"], found["times_longer_cold"])
