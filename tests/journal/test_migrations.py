"""Older journals are brought up to date, newer and foreign ones are left alone."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from wetside.clock import Moment
from wetside.errors import JournalError, JournalUnavailable
from wetside.journal import migrations, schema
from wetside.journal.migrations import MIGRATIONS, VERSION, migrate
from wetside.journal.opening import connect, open_for_writing
from wetside.journal.reader import Reader
from wetside.journal.writer import Writer
from wetside.outlook import Outlook
from wetside.readings import Condition, Place

MakeMoment = Callable[..., Moment]


def _pragma(path: Path, name: str) -> int:
    plain = sqlite3.connect(path)
    found = plain.execute(f"PRAGMA {name}").fetchone()[0]
    plain.close()
    return int(found)


def add_lamp(connection: sqlite3.Connection) -> None:
    """An invented later version."""
    connection.execute("ALTER TABLE run ADD COLUMN lamp TEXT")


def break_half_way(connection: sqlite3.Connection) -> None:
    """An invented later version that fails after it has changed something."""
    connection.execute("ALTER TABLE run ADD COLUMN half TEXT")
    connection.execute("INSERT INTO nowhere VALUES (1)")


def test_an_empty_file_becomes_a_journal(path: Path) -> None:
    """Version 0, a file of no bytes, is migrated to the present version without a copy."""
    path.touch()
    with Writer(path, "sink-1") as writer:
        assert (0, None) == (writer.opening.version_found, writer.opening.copy)
    assert (VERSION, schema.APPLICATION_ID) == (
        _pragma(path, "user_version"),
        _pragma(path, "application_id"),
    )


def test_a_journal_of_the_present_version_is_not_touched(path: Path) -> None:
    """Opening again migrates nothing and copies nothing."""
    Writer(path, "sink-1").close()
    with Writer(path, "sink-1") as writer:
        assert (VERSION, None) == (writer.opening.version_found, writer.opening.copy)


def test_an_older_journal_is_copied_before_it_is_changed(path: Path, at: MakeMoment) -> None:
    """The copy holds the old version with all its rows; the journal has the new one."""
    with Writer(path, "sink-1") as writer:
        writer.append(at(1.0), "tick", {})
    connection, opening, _ = open_for_writing(path, None, (*MIGRATIONS, add_lamp))
    columns = [row[1] for row in connection.execute("PRAGMA table_info(run)")]
    rows = connection.execute("SELECT count(*) FROM event").fetchone()[0]
    connection.close()
    copy = path.with_name(f"journal.version-{VERSION}.sqlite")
    assert (VERSION, copy) == (opening.version_found, opening.copy)
    assert ("lamp", 1, VERSION + 1) == (columns[-1], rows, _pragma(path, "user_version"))
    assert VERSION == _pragma(copy, "user_version")
    with Reader(copy) as reader:
        assert 1 == len(reader.latest_events("sink-1"))


def test_a_failing_migration_leaves_the_journal_as_it_was(path: Path, at: MakeMoment) -> None:
    """A migration is one transaction: half of it is nothing, and those before it stay."""
    with Writer(path, "sink-1") as writer:
        writer.append(at(1.0), "tick", {})
    connection = connect(path)
    with pytest.raises(sqlite3.OperationalError, match="nowhere"):
        migrate(connection, path, (*MIGRATIONS, add_lamp, break_half_way))
    columns = [row[1] for row in connection.execute("PRAGMA table_info(run)")]
    connection.close()
    assert ("lamp", VERSION + 1) == (columns[-1], _pragma(path, "user_version"))


def test_a_newer_journal_is_refused_politely(path: Path) -> None:
    """A journal of a later wetside is not touched; writer and reader say what to do."""
    Writer(path, "sink-1").close()
    plain = sqlite3.connect(path)
    plain.execute("PRAGMA user_version = 99")
    plain.close()
    before = path.read_bytes()
    for use in (lambda: Writer(path, "sink-1"), lambda: Reader(path).runs()):
        with pytest.raises(JournalError, match=r"newer wetside \(journal version 99") as caught:
            use()
        assert not isinstance(caught.value, JournalUnavailable)
    assert before == path.read_bytes()
    assert [] == list(path.parent.glob("*damaged*"))


def test_the_database_of_another_program_is_left_alone(path: Path) -> None:
    """A database that is no journal is neither changed nor set aside."""
    plain = sqlite3.connect(path)
    plain.execute("CREATE TABLE recipes (name TEXT)")
    plain.commit()
    plain.close()
    with pytest.raises(JournalError, match="some other program"):
        Writer(path, "sink-1")
    assert [] == list(path.parent.glob("*damaged*"))
    plain = sqlite3.connect(path)
    assert [("recipes",)] == plain.execute("SELECT name FROM sqlite_master").fetchall()
    plain.close()


def test_a_reader_waits_for_the_station_to_migrate(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A desk that is newer than the station says that the station has to start first."""
    Writer(path, "sink-1").close()
    monkeypatch.setattr("wetside.journal.readonly.VERSION", VERSION + 1)
    with pytest.raises(JournalUnavailable, match="brings it up to date when it next starts"):
        Reader(path).runs()


def test_each_migration_has_a_name_and_a_sentence() -> None:
    """Migrations are named functions that say what they make."""
    for number, migration in enumerate(migrations.MIGRATIONS, start=1):
        assert (migration.__doc__ or "").startswith(f"Version {number}: ")


def test_every_word_of_the_contracts_has_a_number() -> None:
    """A new place or condition cannot be added without a number in the schema."""
    assert set(Place) == set(schema.PLACE_CODES)
    assert set(Condition) == set(schema.CONDITION_CODES)
    for codes in (schema.PLACE_CODES.values(), schema.CONDITION_CODES.values()):
        assert list(range(len(codes))) == list(codes)


def test_an_outlook_has_the_fields_that_the_table_was_made_for() -> None:
    """A new field of an outlook needs a migration: this test reminds of it."""
    assert ("seconds", "developer", "bath", "ready_in", "leaves_in", "never", "faults") == tuple(
        Outlook.__dataclass_fields__
    )


def test_references_hold(path: Path, at: MakeMoment) -> None:
    """Rows written by the writer point at rows that exist."""
    with Writer(path, "sink-1") as writer:
        writer.append(at(1.0), "tick", {}, run="R1")
    plain = sqlite3.connect(path)
    assert [] == plain.execute("PRAGMA foreign_key_check").fetchall()
    plain.close()
