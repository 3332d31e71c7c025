"""Runs and their bottles put right at the desk."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, cast

import pytest

from wetside.development.bottles import Holds
from wetside.development.shelf import Use
from wetside.errors import JournalUnavailable
from wetside.journal.reader import Reader
from wetside_desk.files import papers
from wetside_desk.shelf import correcting
from wetside_desk.store import uses

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk import stocked
    from tests.desk.asking import database_of, ids_of, send

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_asking import database_of, ids_of, send

MORE = """
[[bottle]]
label = "Dev neat"
holds = "developer"
millilitres = 3000
mixed_on = 2025-11-04
use = "once"

[[bottle]]
label = "Dev reused"
holds = "developer"
millilitres = 1000
mixed_on = 2025-11-05
use = "reused"
rolls_per_litre = 4
"""


@pytest.fixture
def developers(pages: TestClient, school: DeskSettings) -> TestClient:
    """A shelf with a developer at 1+1, a neat one, both used once, and a reused one."""
    pages.get("/shelf")
    (school.files_folder / "shelf.toml").write_text(stocked.SHELF + MORE, encoding="utf-8")
    pages.get("/shelf")
    return pages


def put_right(client: TestClient, run: str, old: str, new: str) -> int:
    """Send the form of one use and give the status of the answer."""
    fields = {"run": run, "old": old, "new": new}
    return int(send(client, "/shelf/runs", "/shelf/runs/move", **fields).status_code)


def drawn(client: TestClient, run: str) -> dict[str, float]:
    """Millilitres that a run drew from each bottle."""
    found = uses.of_runs(database_of(client), [run])[run]
    return {use.bottle: use.drawn_millilitres for use in found}


def test_a_run_that_is_moved_draws_what_the_other_bottle_gives(developers: TestClient) -> None:
    """300 mL: half of it from a stock at 1+1, all of it from a neat one, none from a reused one."""
    run = ids_of(developers)[0]
    expected = {"Dev stock": 150.0, "Dev neat": 300.0, "Dev reused": 0.0}
    old = "Dev stock"
    assert expected[old] == drawn(developers, run)[old]
    for new in ("Dev neat", "Dev reused", "Dev neat", "Dev stock", "Dev stock"):
        assert 303 == put_right(developers, run, old, new)
        found = {name: took for name, took in drawn(developers, run).items() if name in expected}
        assert {new: expected[new]} == found
        old = new


def test_a_developer_is_not_moved_onto_a_fixer(pages: TestClient) -> None:
    """A request made by hand is refused with both kinds named, and nothing changes."""
    pages.get("/shelf")
    run = ids_of(pages)[0]
    before = drawn(pages, run)
    fields = {"run": run, "old": "Dev stock", "new": "Fixer 2"}
    answer = send(pages, "/shelf/runs", "/shelf/runs/move", **fields)
    assert 422 == answer.status_code
    assert "holds fixer and" in answer.text
    assert "between bottles of one kind" in answer.text
    assert before == drawn(pages, run)


def test_what_a_bottle_held_that_is_gone_is_not_guessed(
    pages: TestClient, school: DeskSettings
) -> None:
    """A run through a bottle taken away is moved onto no other; it may be taken off it."""
    run = ids_of(pages)[0]
    pages.get("/shelf")
    gone = stocked.SHELF.replace('label = "Fixer 1"', 'label = "Fixer 3"')
    (school.files_folder / "shelf.toml").write_text(gone, encoding="utf-8")
    assert 422 == put_right(pages, run, "Fixer 1", "Fixer 2")
    assert "Fixer 1" in drawn(pages, run)
    assert 303 == put_right(pages, run, "Fixer 1", "")
    assert "Fixer 1" not in drawn(pages, run)


def test_a_run_that_the_journal_does_not_tell_draws_nothing_unknown(
    developers: TestClient,
) -> None:
    """Counted before the journal was replaced, it may move onto a reused bottle only."""
    run = ids_of(developers)[0]
    database = database_of(developers)
    with database.transaction() as connection:
        connection.execute("UPDATE bottle_use SET run = 'elsewhere' WHERE run = ?", (run,))
        connection.execute("UPDATE ended_run SET run = 'elsewhere' WHERE run = ?", (run,))
    assert 422 == put_right(developers, "elsewhere", "Dev stock", "Dev neat")
    assert {"Dev stock": 150.0}.items() <= drawn(developers, "elsewhere").items()
    assert 303 == put_right(developers, "elsewhere", "Dev stock", "Dev reused")


def offered(client: TestClient, run: str) -> dict[str, list[str]]:
    """What the page offers a run that is on record with no bottle: by kind, the labels."""
    text = client.get("/shelf/runs").text
    found = re.findall(
        rf'name="run" value="{run}"><input type="hidden" name="old" value="">\n'
        r"<div><label[^>]*>([a-z ]+), .*?</label><select[^>]*>(.*?)</select>",
        text,
    )
    return {kind: re.findall(r"<option>([^<]*)", options) for kind, options in found}


@pytest.mark.parametrize("bottle", ["Dev stock", "Fixer 1", "Wetting"])
def test_none_of_these_is_undone(pages: TestClient, bottle: str) -> None:
    """Put back the run counts as it did; its kind was offered meanwhile and is not before."""
    pages.get("/shelf")
    run = ids_of(pages)[0]
    before = uses.of_runs(database_of(pages), [run])
    assert {} == offered(pages, run)
    assert 303 == put_right(pages, run, bottle, "")
    assert [bottle] == [labels[0] for labels in offered(pages, run).values()]
    assert 303 == put_right(pages, run, "", bottle)
    assert before == uses.of_runs(database_of(pages), [run])
    assert {} == offered(pages, run)
    assert 422 == put_right(pages, run, "", bottle)


def to_look_at(client: TestClient, run: str) -> list[str]:
    """Kinds of which no bottle served the run, as the shelf still says."""
    (ended,) = (one for one in uses.latest_ended(database_of(client), 60) if one.run == run)
    return re.findall(r"^no bottle of (.+) serves", "\n".join(ended.missing), re.MULTILINE)


@pytest.fixture
def scarce(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> TestClient:
    """A desk that never saw more of most bottles than 200 ml, too little for a filling."""
    small = stocked.SHELF.replace("millilitres = 1000", "millilitres = 200")
    monkeypatch.setattr(stocked, "SHELF", small.replace("millilitres = 2000", "millilitres = 200"))
    return cast("TestClient", request.getfixturevalue("pages"))


def test_a_run_that_no_bottle_served_is_put_right(scarce: TestClient) -> None:
    """The fixer was too little for a filling; its runs are put right by hand."""
    scarce.get("/shelf")
    run = ids_of(scarce)[0]
    assert {"Dev stock", "Wetting"} == set(drawn(scarce, run))
    kinds = {
        "stop bath": ["Stop 1"],
        "fixer": ["Fixer 1", "Fixer 2"],
        "clearing bath": ["Clearing"],
    }
    assert kinds == offered(scarce, run)
    assert ["stop bath", "fixer", "clearing bath"] == to_look_at(scarce, run)
    assert 303 == put_right(scarce, run, "", "Fixer 2")
    assert ["stop bath", "clearing bath"] == to_look_at(scarce, run)
    (use,) = (one for one in uses.current(database_of(scarce)) if one.bottle == "Fixer 2")
    assert (run, 1.0, 0.0) == (use.run, use.rolls, use.drawn_millilitres)
    assert "fixer" not in offered(scarce, run)


def test_runs_are_shown_while_the_journal_cannot_be_read(
    pages: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page stands with what is on record, and offers nothing that only the journal tells."""
    pages.get("/shelf")
    run = ids_of(pages)[0]
    put_right(pages, run, "Fixer 1", "")

    def unreadable(_: Reader, run: str) -> None:
        raise JournalUnavailable(run)

    monkeypatch.setattr(Reader, "run", unreadable)
    assert "Dev stock" in pages.get("/shelf/runs").text
    assert {} == offered(pages, run)


def test_what_a_run_did_not_take_is_not_offered(pages: TestClient) -> None:
    """A second bottle of a kind, one for no run on record and none at all are refused."""
    pages.get("/shelf")
    run = ids_of(pages)[0]
    before = drawn(pages, run)
    for other, new in ((run, "Fixer 2"), ("elsewhere", "Fixer 2"), (run, "")):
        assert 422 == put_right(pages, other, "", new)
    assert 404 == put_right(pages, run, "", "Fixer 9")
    assert before == drawn(pages, run)


def test_a_bottle_mixed_after_the_run_is_no_choice(pages: TestClient, school: DeskSettings) -> None:
    """Taken off fixer 1, a run is not offered fixer 2, which was mixed on a later day."""
    later = stocked.SHELF.replace("mixed_on = 2025-11-10", "mixed_on = 2025-11-17")
    (school.files_folder / "shelf.toml").write_text(later, encoding="utf-8")
    pages.get("/shelf")
    run = ids_of(pages)[-1]
    put_right(pages, run, "Fixer 1", "")
    assert {"fixer": ["Fixer 1"]} == offered(pages, run)


def test_of_two_baths_the_one_that_is_lacking_is_a_choice() -> None:
    """On record with bath 2 alone a run may have gone through a bath 1, and through nothing else.

    A run through a bottle that is not there any more is offered none.
    """
    text = stocked.SHELF.replace(
        'use = "reused"\nrolls_per_litre = 20',
        'use = "two-bath"\nrolls_per_litre = 20\nbath = 1',
        1,
    )
    text = text.replace(
        'use = "reused"\nrolls_per_litre = 20',
        'use = "two-bath"\nrolls_per_litre = 20\nbath = 2',
        1,
    )
    there = papers.parse_shelf(text, "shelf.toml")

    def labels(*went: str) -> list[str]:
        on_record = [Use("run", label, date(2025, 11, 12), 1.0) for label in went]
        return [one.label for one in correcting.choices(there, on_record, Holds.FIXER)]

    assert ["Fixer 1", "Fixer 2"] == labels("Stop 1")
    assert ["Fixer 1"] == labels("Fixer 2")
    assert ["Fixer 2"] == labels("Fixer 1")
    assert [] == labels("Fixer 1", "Fixer 2")
    assert [] == labels("Fixer 9")
