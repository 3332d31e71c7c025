"""A disk without room: what cannot be kept is refused in plain words, and nothing is half done."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from wetside_desk.files import papers, sheet_acts
from wetside_desk.store import audit, versions
from wetside_desk.store.database import Database, DiskFull

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient
    from tests.desk.asking import database_of, desk_of, form_of
else:
    from desk_asking import database_of, desk_of, form_of

LONG = sheet_acts.NEW + "".join(f"# {'y' * 100}\n" for _ in range(200))


def fill(database: Database) -> None:
    """Let the database grow no further, as on a full disk."""
    with database.read() as connection:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")


def test_what_finds_no_room_is_told_and_the_next_one_goes_on(tmp_path: Path) -> None:
    """The refusal says that the disk is full, and the connection takes what still fits."""
    database = Database(tmp_path / "desk.sqlite3")
    versions.keep(database, "sheet", "one.toml", "x" * 9000, "teacher")
    fill(database)
    with pytest.raises(DiskFull, match="disk is full"):
        versions.keep(database, "sheet", "one.toml", LONG, "teacher")
    assert 1 == len(versions.of(database, "sheet", "one.toml"))
    audit.add(database, "teacher", "still here")
    assert "still here" == audit.latest(database)[0].action
    database.close()


@pytest.mark.parametrize("by", ["page", "api"])
def test_a_file_is_not_changed_where_its_version_has_no_room(teacher: TestClient, by: str) -> None:
    """Page and API answer 503 with the reason, and the sheet's file is as it was."""
    form = form_of(teacher)
    audit.latest(database_of(teacher))
    fill(database_of(teacher))
    if by == "page":
        answer = teacher.post(
            "/sheets/full.toml/text",
            data={"form": form, "text": LONG, "seen": papers.tag_of("")},
            headers={"accept": "text/html"},
        )
    else:
        answer = teacher.put(
            "/v1/sheets/full.toml/file",
            content=LONG.encode(),
            headers={"If-None-Match": "*", "content-type": "application/toml"},
        )
    assert 503 == answer.status_code
    assert "disk is full" in answer.text
    assert not (desk_of(teacher).settings.files_folder / "sheets" / "full.toml").exists()
    assert 200 == teacher.get("/settings").status_code


def test_pages_are_shown_while_nothing_can_be_written(teacher: TestClient) -> None:
    """A session that would be noted as used is good without that note."""
    database = database_of(teacher)
    with database.transaction() as connection:
        connection.execute("UPDATE session SET seen = ?", (time.time() - 3600.0,))
    with closing(sqlite3.connect(database.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = teacher.get("/v1/runs")
        other.execute("ROLLBACK")
    assert 200 == answer.status_code
