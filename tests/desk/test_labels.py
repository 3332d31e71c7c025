"""Labels: how long they stay, one student forgotten, nothing taken away unseen."""

from __future__ import annotations

import asyncio
import json
import shutil
import sqlite3
import time
from contextlib import closing
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from wetside_desk.store import audit, labels, notes, periods
from wetside_desk.store.periods import RunPeriod

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import caretaker_of, database_of, desk_of, form_of, ids_of
    from tests.desk.invented import SCHOOL_DAY, write_live
else:
    from desk_asking import caretaker_of, database_of, desk_of, form_of, ids_of
    from desk_invented import SCHOOL_DAY, write_live


def test_old_labels_are_removed_and_runs_stay(client: TestClient) -> None:
    """After the chosen number of days a label goes; the run and its note stay."""
    runs = ids_of(client)
    desk = desk_of(client)
    for run in runs[:2]:
        labels.give(desk.database, run, labels.checked("AB7"))
    notes.write(desk.database, runs[0], "good", "fine", 0)
    keeper = caretaker_of(desk)
    day = 86400.0
    assert 0 == keeper.clean(SCHOOL_DAY + 364 * day)
    assert 2 == keeper.clean(SCHOOL_DAY + 376 * day)
    assert {} == labels.of_runs(desk.database, runs)
    assert "fine" == notes.of_run(desk.database, runs[0]).note
    assert runs == ids_of(client)


def test_a_label_is_as_old_as_its_run(client: TestClient) -> None:
    """Given while the clock stood years behind or ahead, it stays as long as any other."""
    runs, desk = ids_of(client), desk_of(client)
    for run, wrong in zip(runs, (0.0, SCHOOL_DAY + 4000 * 86400.0), strict=False):
        labels.give(desk.database, run, replace(labels.checked("AB7"), given=wrong))
    keeper = caretaker_of(desk)
    assert 0 == keeper.clean(SCHOOL_DAY + 364 * 86400.0)
    assert 2 == keeper.clean(SCHOOL_DAY + 376 * 86400.0)


def test_without_a_journal_a_label_is_as_old_as_it_was_given(client: TestClient) -> None:
    """Somebody deleted the journal: the labels of its runs go all the same."""
    run, desk = ids_of(client)[0], desk_of(client)
    labels.give(desk.database, run, labels.checked("AB7"))
    keeper = caretaker_of(desk)
    desk.reader.close()
    desk.settings.journal.unlink()
    assert 0 == keeper.clean(time.time() + 364 * 86400.0)
    assert 1 == keeper.clean(time.time() + 366 * 86400.0)


def test_a_label_of_a_run_without_a_clock_is_as_old_as_it_was_given(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sink that never learnt the time puts its run 500 days back; the label given today stays."""
    run, desk = ids_of(client)[0], desk_of(client)
    row = desk.reader.run(run)
    assert row is not None
    now = time.time()
    back = replace(
        row,
        began=replace(row.began, trusted=False),
        listed_wall_seconds=now - 500 * 86400.0,
    )
    monkeypatch.setattr(desk.reader, "run", lambda _: back)
    labels.give(desk.database, run, labels.checked("AB7"))
    keeper = caretaker_of(desk)
    assert 0 == keeper.clean(now + 3600.0)
    assert 1 == keeper.clean(now + 366 * 86400.0)


@pytest.mark.parametrize("clock", ["trusted", "wrong", "silent"])
def test_nothing_is_removed_by_a_clock_that_nobody_trusts(client: TestClient, clock: str) -> None:
    """Labels and entries wait until a station runs that trusts the clock."""
    run, desk = ids_of(client)[0], desk_of(client)
    labels.give(desk.database, run, labels.checked("AB7"))
    audit.add(desk.database, "teacher", "something")
    write_live(
        desk.settings.live_file,
        age_seconds=60.0 if clock == "silent" else 0.0,
        trusted=clock != "wrong",
    )
    keeper = caretaker_of(desk)
    keeper.look(time.time() + 800 * 86400.0)
    gone = clock == "trusted"
    assert gone == (labels.of_run(desk.database, run) is None)
    assert gone == ("something" not in [one.action for one in audit.latest(desk.database)])


def test_one_student_is_exported_and_forgotten(client: TestClient) -> None:
    """The export of a label holds exactly its runs; forgetting removes label and notes."""
    runs = ids_of(client)
    database = database_of(client)
    for run in runs[2:5]:
        labels.give(database, run, labels.checked("AB7"))
        notes.write(database, run, "good", "about AB7", 0)
    lines = client.get("/export/runs.jsonl?label=AB7").text.splitlines()
    assert runs[2:5] == [json.loads(line)["id"] for line in lines]
    form = {"form": form_of(client), "label": "ab7"}
    assert 422 == client.post("/settings/forget", data=form).status_code
    assert 3 == len(labels.runs_with(database, "AB7"))
    client.post("/settings/forget", data={**form, "sure": "on"})
    assert () == labels.runs_with(database, "AB7")
    assert notes.Note() == notes.of_run(database, runs[2])
    assert "AB7" not in repr(audit.latest(database))
    kept = [path.read_bytes() for path in database.path.parent.glob("*.sqlite3*")]
    assert kept
    assert not any(b"AB7" in content for content in kept)


def test_a_stale_page_takes_no_label_away(client: TestClient) -> None:
    """A student gives the label while the run's page stands open: its other field is kept alone."""
    run, database = ids_of(client)[0], database_of(client)
    form = {"form": form_of(client), "label": "", "seen_label": "", "seen_period": ""}
    labels.give(database, run, labels.checked("AB7"))
    saved = client.post(f"/runs/{run}/label", data={**form, "period": "5"})
    assert 200 == saved.status_code
    given = labels.of_run(database, run)
    assert given is not None
    assert "AB7" == given.label
    assert {run: RunPeriod("5", by_hand=True)} == periods.of_runs(database, [run])
    for late in ({"label": "CD8"}, {"period": "6"}):
        answer = client.post(f"/runs/{run}/label", data={**form, **late})
        assert 409 == answer.status_code
    assert given == labels.of_run(database, run)
    assert {run: RunPeriod("5", by_hand=True)} == periods.of_runs(database, [run])


def test_a_label_is_removed_by_somebody_who_saw_it(client: TestClient) -> None:
    """The form carries the label that it shows; emptied, it takes that one away."""
    run, database = ids_of(client)[0], database_of(client)
    labels.give(database, run, labels.checked("AB7"))
    assert 'name="seen_label" value="AB7"' in client.get(f"/runs/{run}").text
    client.post(
        f"/runs/{run}/label", data={"form": form_of(client), "label": "", "seen_label": "AB7"}
    )
    assert labels.of_run(database, run) is None


def test_a_label_outside_the_english_letters_is_found_as_typed(client: TestClient) -> None:
    """Given, looked for and forgotten in small letters; kept in capitals."""
    run, database = ids_of(client)[0], database_of(client)
    labels.give(database, run, labels.checked("märz"))
    assert (run,) == labels.runs_with(database, "märz")
    assert 1 == labels.forget(database, "märz")
    assert {} == labels.of_runs(database, [run])


def test_what_a_restore_set_aside_forgets_too(client: TestClient) -> None:
    """Forgetting a student and the end of the school year reach the copies; a broken one stays."""
    runs, database = ids_of(client), database_of(client)
    for run, label in zip(runs, ("AB7", "CD8", "EF9"), strict=False):
        labels.give(database, run, labels.checked(label))
        notes.write(database, run, "good", f"about {label}", 0)
    database.close()
    aside = database.path.with_name("desk.replaced-1.sqlite3")
    shutil.copy(database.path, aside)
    broken = database.path.with_name("desk.replaced-2.sqlite3")
    broken.write_bytes(b"no database")
    database.path.with_name("desk.replaced-3.sqlite3").mkdir()
    assert 1 == labels.forget(database, "AB7")
    content = aside.read_bytes()
    assert (False, True) == (b"AB7" in content, b"about CD8" in content)
    assert 2 == labels.expire(database, time.time() + 1.0, lambda _, given: given)
    with closing(sqlite3.connect(aside)) as connection:
        assert [] == connection.execute("SELECT label FROM label").fetchall()
    assert b"no database" == broken.read_bytes()


def test_a_label_that_stands_only_aside_is_counted(client: TestClient) -> None:
    """The page says of how many runs it was removed, wherever they were kept."""
    first, second, *_ = ids_of(client)
    database = database_of(client)
    labels.give(database, first, labels.checked("OLD1"))
    labels.give(database, second, labels.checked("OLD1"))
    database.close()
    shutil.copy(database.path, database.path.with_name("desk.replaced-1.sqlite3"))
    labels.give(database, first, None, "OLD1")
    assert 2 == labels.forget(database, "OLD1")
    assert 0 == labels.forget(database, "OLD1")


def test_the_caretaker_goes_on_after_a_mistake(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """A look that breaks off is told in the log, and the next one removes old labels."""
    desk = desk_of(client)
    keeper = caretaker_of(desk)
    looks: list[int] = []

    def look() -> None:
        looks.append(len(looks))
        if len(looks) == 1:
            raise sqlite3.OperationalError("database is locked")

    async def some_looks() -> None:
        task = asyncio.create_task(keeper.run())
        while len(looks) < 3 and not task.done():
            await asyncio.sleep(0.01)
        task.cancel()

    monkeypatch.setattr(keeper, "look", look)
    monkeypatch.setattr("wetside_desk.caretaker.EVERY_SECONDS", 0.01)
    asyncio.run(some_looks())
    assert len(looks) >= 3
    assert "database is locked" in caplog.text


def test_a_database_that_somebody_holds_is_told_and_not_broken(client: TestClient) -> None:
    """Another program writes for long: the page says that it cannot be written now."""
    run, database = ids_of(client)[0], database_of(client)
    token = form_of(client)
    with closing(sqlite3.connect(database.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = client.post(f"/runs/{run}/note", data={"form": token, "version": "0"})
        other.execute("ROLLBACK")
    assert 503 == answer.status_code
    assert "desk.sqlite3 cannot be written now" in answer.text


def test_deleted_labels_are_overwritten(client: TestClient) -> None:
    """The desk's database is told so, and not left to how this machine's SQLite was built."""
    with database_of(client).read() as connection:
        assert (1,) == connection.execute("PRAGMA secure_delete").fetchone()
