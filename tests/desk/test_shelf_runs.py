"""Runs and their bottles put right at the desk."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

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
