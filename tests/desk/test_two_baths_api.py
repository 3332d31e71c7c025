"""A fixer in two baths over the API: bath 2 becomes bath 1, and what each of them takes."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside.development.shelf import Use
from wetside_desk.shelf import acts
from wetside_desk.store import uses

if TYPE_CHECKING:
    from tests.desk.asking import desk_of, tag

else:
    from desk_asking import desk_of, tag


TWO_BATHS = """\
format = 1

[[bottle]]
label = "Fixer 1"
holds = "fixer"
strength = "1+4"
millilitres = 1000
mixed_on = 2025-11-03
use = "two-bath"
bath = 1
rolls_per_litre = 20
rolls_before = 20
fresh_clearing_seconds = 40
  [[bottle.check]]
  on = 2025-11-10
  clearing_seconds = 70

[[bottle]]
label = "Fixer 2"              # on the upper board
holds = "fixer"
strength = "1+4"
millilitres = 1000
mixed_on = 2025-11-03
use = "two-bath"
bath = 2
rolls_per_litre = 20
rolls_before = 20
"""


@pytest.fixture
def two_baths(shelf: TestClient) -> TestClient:
    """A shelf with a two-bath fixer alone, bath 1 exhausted."""
    assert 204 == shelf.put("/v1/shelf/file", content=TWO_BATHS, headers=tag(shelf)).status_code
    return shelf


def test_bath_2_becomes_bath_1(two_baths: TestClient) -> None:
    """The bottle of bath 1 begins anew as bath 2; bath 2 is bath 1 with its whole capacity."""
    moved = {"bath_2": "Fixer 2", "mixed_on": "2025-11-17"}
    answer = two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved)
    assert 201 == answer.status_code
    first, second = answer.json()["bath_1"], answer.json()["bath_2"]
    assert ("Fixer 2", 1, 20.0, 20.0) == tuple(
        first[key] for key in ("label", "bath", "rolls", "left_rolls")
    )
    assert ("Fixer 1", 2, 0.0, None, []) == tuple(
        second[key] for key in ("label", "bath", "rolls", "left_rolls", "tests")
    )
    assert ("2025-11-17", "2025-11-03") == (second["mixed_on"], first["mixed_on"])
    assert "# on the upper board" in two_baths.get("/v1/shelf/file").text
    again = two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved)
    assert (422, "'Fixer 1' is not bath 1 of a two-bath fixer.") == (
        again.status_code,
        again.json()["detail"],
    )


def test_a_mixed_anew_bath_forgets_that_it_was_bath_2(two_baths: TestClient) -> None:
    """The rolls from its time as bath 2 go with the filling that they went through."""
    moved = {"bath_2": "Fixer 2", "mixed_on": "2025-11-17"}
    two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved)
    assert "rolls_as_second_bath = 20" in two_baths.get("/v1/shelf/file").text
    two_baths.post("/v1/shelf/bottles/Fixer 2/fillings", json={"mixed_on": "2025-11-17"})
    assert "rolls_as_second_bath" not in two_baths.get("/v1/shelf/file").text


def test_a_bath_that_was_moved_days_ago_takes_the_rolls_since(two_baths: TestClient) -> None:
    """Told late with the right day: five rolls went through it before that day, seven since."""
    desk = desk_of(two_baths)
    for number, on in enumerate([date(2025, 11, 8)] * 5 + [date(2025, 11, 14)] * 7):
        use = Use(f"r{number}", "Fixer 2", on, 1.0, 0.0)
        uses.record(desk.database, uses.Ended(f"r{number}", 2.0), [use])
    moved = {"bath_2": "Fixer 2", "mixed_on": "2025-11-10"}
    first = two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved).json()["bath_1"]
    assert (32.0, 13.0) == (first["rolls"], first["left_rolls"])


@pytest.mark.parametrize(("day", "left"), [(17, 20.0), (14, 13.0)])
def test_rolls_of_the_day_of_the_move_went_through_bath_2_where_it_is_today(
    two_baths: TestClient, day: int, left: float
) -> None:
    """Told on the day, what was counted by then came before; told later, it came after."""
    desk = desk_of(two_baths)
    for number in range(7):
        use = Use(f"r{number}", "Fixer 2", date(2025, 11, day), 1.0, 0.0)
        uses.record(desk.database, uses.Ended(f"r{number}", 2.0), [use])
    moved = {"bath_2": "Fixer 2", "mixed_on": f"2025-11-{day}"}
    first = two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved).json()["bath_1"]
    assert (27.0, left) == (first["rolls"], first["left_rolls"])


def test_a_later_day_of_mixing_in_the_form_forgets_it_too(two_baths: TestClient) -> None:
    """However the new filling is told, nothing of it was taken as bath 2."""
    moved = {"bath_2": "Fixer 2", "mixed_on": "2025-11-10"}
    two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved)
    desk = desk_of(two_baths)
    assert "rolls_as_second_bath = 20" in two_baths.get("/v1/shelf/file").text
    seen = acts.find(desk, "Fixer 2")[0].written.tag
    acts.change(desk, "Fixer 2", {"mixed_on": date(2025, 11, 16)}, seen, "teacher")
    text = two_baths.get("/v1/shelf/file").text
    assert "rolls_as_second_bath" not in text
    assert "moved_up_on" not in text


def test_a_later_day_of_mixing_in_the_text_is_refused_beside_it(two_baths: TestClient) -> None:
    """A new filling written by hand cannot keep what went through the old one as bath 2."""
    moved = {"bath_2": "Fixer 2", "mixed_on": "2025-11-10"}
    two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved)
    text = two_baths.get("/v1/shelf/file").text
    assert "moved_up_on = 2025-11-10" in text
    text = text.replace("mixed_on = 2025-11-03", "mixed_on = 2025-11-16")
    answer = two_baths.put("/v1/shelf/file", content=text, headers=tag(two_baths))
    assert 422 == answer.status_code
    assert "2025-11-10 is before it was mixed, 2025-11-16" in answer.text


def test_a_week_takes_both_baths(two_baths: TestClient) -> None:
    """Each of them must fill the four tanks of 300 mL at once, and a tenth more."""
    found = two_baths.get("/v1/shelf/week?day=2025-11-17").json()["stock"]
    baths = [one for one in found if one["holds"] == "fixer"]
    assert [("Fixer 1", 1), ("Fixer 2", 2)] == [(one["bottle"], one["bath"]) for one in baths]
    assert pytest.approx(1.1 * 4 * 300) == baths[1]["millilitres"]
    assert baths[0]["millilitres"] > baths[1]["millilitres"]
