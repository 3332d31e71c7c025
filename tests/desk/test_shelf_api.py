"""The shelf over the API: answers, changes, refusals."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

if TYPE_CHECKING:
    from tests.desk import stocked
    from tests.desk.asking import TOML, bottle, tag

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_asking import TOML, bottle, tag


def test_a_bottle_tells_what_is_left(shelf: TestClient) -> None:
    """1 L at 20 rolls a litre, 6 before and 11 counted leave 3; silver is collected."""
    fixer = bottle(shelf, "Fixer 1")
    assert (17.0, 3.0) == (fixer["rolls"], fixer["left_rolls"])
    assert fixer["collect"] is True
    assert "silver" in str(fixer["disposal"])
    assert ["test due"] == [one["trouble"] for one in fixer["notices"]]  # type: ignore[attr-defined]


def test_the_shelf_carries_a_tag(shelf: TestClient) -> None:
    """Asked again with its ETag the answer is 304 without a body."""
    answer = shelf.get("/v1/shelf")
    again = shelf.get("/v1/shelf", headers={"If-None-Match": answer.headers["etag"]})
    assert (304, b"") == (again.status_code, again.content)


def test_a_clearing_test_is_written_into_the_file(shelf: TestClient) -> None:
    """The test stands in the TOML with the day and the rolls so far, and fixing doubles it."""
    answer = shelf.post("/v1/shelf/bottles/Fixer 1/tests", json={"clearing_seconds": 61.0})
    assert 201 == answer.status_code
    test = answer.json()["tests"][-1]
    assert (122.0, False, "2025-11-17") == (test["fix_seconds"], test["discard"], test["on"])
    written = tomllib.loads(shelf.get("/v1/shelf/file").text)["bottle"][2]["check"][-1]
    assert (61.0, 17.0) == (written["clearing_seconds"], written["rolls"])
    assert [] == answer.json()["notices"]


def test_twice_the_fresh_time_means_discard(shelf: TestClient) -> None:
    """Fresh 40 s: at 80 s the bottle may not be used (US Navy NAVEDTRA 14209)."""
    answer = shelf.post("/v1/shelf/bottles/Fixer 1/tests", json={"clearing_seconds": 80})
    assert answer.json()["tests"][-1]["discard"] is True
    assert answer.json()["usable"] is False
    assert shelf.post("/v1/shelf/bottles/Fixer 2/tests", json={"clearing_seconds": 75}).json()[
        "usable"
    ]


def test_a_fresh_test_becomes_the_measure(shelf: TestClient) -> None:
    """A test of fresh fixer is what later ones are compared with, and no test of its own."""
    path = "/v1/shelf/bottles/Fixer 2/tests"
    shelf.post(path, json={"clearing_seconds": 30, "fresh": True})
    found = shelf.post(path, json={"clearing_seconds": 45}).json()["tests"]
    assert [1.5] == [one["ratio"] for one in found]


def test_a_test_that_does_not_belong_is_refused(shelf: TestClient) -> None:
    """A colour for fixer is refused at its key, and the file stays as it was."""
    before = shelf.get("/v1/shelf/file").text
    answer = shelf.post("/v1/shelf/bottles/Fixer 1/tests", json={"colour": "yellow"})
    assert 422 == answer.status_code
    assert "bottle[3].check[2].colour" == answer.json()["errors"][0]["place"]
    assert before == shelf.get("/v1/shelf/file").text


@pytest.mark.parametrize("body", [{}, {"clearing_seconds": 50, "colour": "yellow"}])
def test_a_test_is_one_or_the_other(shelf: TestClient, body: dict[str, object]) -> None:
    """Neither nothing nor both."""
    assert 422 == shelf.post("/v1/shelf/bottles/Fixer 1/tests", json=body).status_code


def test_an_unknown_bottle(shelf: TestClient) -> None:
    """No bottle of that label is 404."""
    answer = shelf.post("/v1/shelf/bottles/Nobody/tests", json={"clearing_seconds": 50})
    assert (404, "/problems/bottle-not-found") == (answer.status_code, answer.json()["type"])


def test_mixed_anew(shelf: TestClient) -> None:
    """Uses, tests and rolls from before are gone from the count; comments stay in the file."""
    answer = shelf.post("/v1/shelf/bottles/Fixer 1/fillings", json={"mixed_on": "2025-11-17"})
    assert (201, 0.0, 20.0) == (
        answer.status_code,
        answer.json()["rolls"],
        answer.json()["left_rolls"],
    )
    assert [] == answer.json()["tests"]
    assert "# poured away after use" in shelf.get("/v1/shelf/file").text
    assert 11.0 == bottle(shelf, "Stop 1")["rolls"]


def test_replacing_the_file_needs_its_tag(shelf: TestClient) -> None:
    """Without If-Match 428, with an old one 412, with the present one it is replaced."""
    text = stocked.SHELF.replace('label = "Stop 1"', 'label = "Stop A"')
    old = tag(shelf)
    assert 428 == shelf.put("/v1/shelf/file", content=text, headers=TOML).status_code
    answer = shelf.put("/v1/shelf/file", content=text, headers=old)
    assert 204 == answer.status_code
    assert text == shelf.get("/v1/shelf/file").text
    assert answer.headers["etag"] == shelf.get("/v1/shelf/file").headers["etag"]
    assert 412 == shelf.put("/v1/shelf/file", content=text, headers=old).status_code


def test_a_new_file_is_made_only_where_there_is_none(
    folder: DeskSettings, shelf: TestClient
) -> None:
    """If-None-Match: * makes the first file and never replaces one."""
    never = {**TOML, "If-None-Match": "*"}
    assert 412 == shelf.put("/v1/shelf/file", content="format = 1\n", headers=never).status_code
    (folder.files_folder / "shelf.toml").unlink()
    assert 404 == shelf.get("/v1/shelf/file").status_code
    assert 204 == shelf.put("/v1/shelf/file", content="format = 1\n", headers=never).status_code


def test_a_wrong_file_names_file_key_and_reason(shelf: TestClient) -> None:
    """Every problem at once; nothing is replaced."""
    wrong = stocked.SHELF.replace('"1+19"', '"1:19"').replace('use = "once"', 'use = "twice"', 1)
    answer = shelf.put("/v1/shelf/file", content=wrong, headers=tag(shelf))
    found = {(one["file"], one["place"]) for one in answer.json()["errors"]}
    assert {("shelf.toml", "bottle[1].use"), ("shelf.toml", "bottle[2].strength")} == found
    assert stocked.SHELF == shelf.get("/v1/shelf/file").text


def test_a_day_of_another_age_is_refused(shelf: TestClient) -> None:
    """Sums of days would leave what a date can hold; the file is refused at its key instead."""
    wrong = stocked.SHELF.replace("mixed_on = 2025-09-01", "mixed_on = 9999-12-31")
    answer = shelf.put("/v1/shelf/file", content=wrong, headers=tag(shelf))
    assert "bottle[6].mixed_on" == answer.json()["errors"][0]["place"]


def test_a_broken_file_on_the_disk_is_told(folder: DeskSettings, shelf: TestClient) -> None:
    """Somebody wrote nonsense by hand: the answer says what, and is no error itself."""
    (folder.files_folder / "shelf.toml").write_text("format = 2\n[[bottle]]\n", encoding="utf-8")
    answer = shelf.get("/v1/shelf")
    assert 200 == answer.status_code
    assert "format" in {one["place"] for one in answer.json()["file"]["problems"]}
    assert [] == answer.json()["bottles"]


def test_check_gives_lines(shelf: TestClient) -> None:
    """A look at a text names the line of each problem and keeps nothing."""
    wrong = stocked.SHELF.replace('"1+19"', '"1:19"')
    line = wrong.splitlines().index('strength = "1:19"') + 1
    answer = shelf.post("/v1/shelf/check", content=wrong, headers=TOML).json()
    assert [(line, "bottle[2].strength")] == [
        (one["line"], one["place"]) for one in answer["problems"]
    ]
    assert stocked.SHELF == shelf.get("/v1/shelf/file").text


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("tests", {"clearing_seconds": True}),
        ("tests", {"clearing_seconds": "50"}),
        ("tests", {"clearing_seconds": 50, "fresh": "yes"}),
        ("fillings", {"mixed_on": 0}),
        ("fillings", {"mixed_on": 1763337600}),
        ("fillings", {"mixed_on": "1763337600"}),
        ("fillings", {"mixed_on": "2025-11-17T10:00:00"}),
        ("fillings", {"mixed_on": "2025-11-18"}),
        ("fillings", {"mixed_on": "2200-12-31"}),
    ],
)
def test_nothing_is_taken_for_what_it_is_not(
    shelf: TestClient, path: str, body: dict[str, object]
) -> None:
    """No truth as a number, no number as a day, no day that is still to come; nothing is kept."""
    before = shelf.get("/v1/shelf/file").text
    assert 422 == shelf.post(f"/v1/shelf/bottles/Fixer 1/{path}", json=body).status_code
    assert before == shelf.get("/v1/shelf/file").text


def test_a_number_in_an_address_is_no_day(shelf: TestClient) -> None:
    """As seconds it would be one of 1970."""
    assert 422 == shelf.get("/v1/shelf?on=0").status_code
