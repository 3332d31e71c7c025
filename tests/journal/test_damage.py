"""A damaged journal is noticed, renamed and replaced; nothing is deleted."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from wetside.clock import Moment
from wetside.journal import opening
from wetside.journal.opening import GENERATION
from wetside.journal.reader import Reader
from wetside.journal.schema import RunRow
from wetside.journal.writer import Writer
from wetside.readings import Reading

MakeMoment = Callable[..., Moment]
PAGE = 1024


@pytest.fixture
def filled(path: Path, row: RunRow, at: MakeMoment) -> Path:
    """A journal of some hundred pages."""
    with Writer(path, "sink-1") as writer:
        for number in range(200):
            moment = at(100.0 + number)
            made = replace(row, id=f"R{number:03d}", began=moment)
            writer.sample(moment, [Reading(moment.seconds, "a", 20.0)] * 60, run=made.id)
            writer.append(moment, "begin", {"text": "y" * 500}, row=made)
    return path


def _spoil(path: Path, page: int, text: bytes = b"\xa5" * PAGE) -> None:
    with path.open("r+b") as file:
        file.seek(page * PAGE)
        file.write(text)


def _page_of(path: Path, table: str) -> int:
    """The root page of a table, counted from zero."""
    with sqlite3.connect(path) as plain:
        found = plain.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)
        ).fetchone()
    plain.close()
    return int(found[0]) - 1


@pytest.mark.parametrize("table", ["run", "event", "batch", "sample", "boot", "header"])
def test_a_damaged_file_is_set_aside_and_a_new_one_begun(
    filled: Path, at: MakeMoment, table: str
) -> None:
    """Whatever table is hit, the old bytes are kept under a clear name and writing goes on."""
    _spoil(filled, 0 if table == "header" else _page_of(filled, table))
    before = filled.read_bytes()
    with Writer(filled, "sink-1") as writer:
        found = writer.opening
        seq = writer.append(at(900.0), "journal-set-aside", found.detail())
    aside = filled.with_name("journal.damaged-1.sqlite")
    assert (aside, True) == (found.set_aside, found.check_complete)
    assert found.problem
    assert before == aside.read_bytes()
    assert seq > GENERATION
    with Reader(filled) as reader:
        (event,) = reader.latest_events("sink-1")
        assert "journal.damaged-1.sqlite" == event.detail["set_aside"]
        assert () == reader.health(check=True).problems


def test_bytes_flipped_anywhere_never_stop_the_station(filled: Path, at: MakeMoment) -> None:
    """With a random page spoilt the writer opens and writes, and says if it set it aside."""
    chance = random.Random(5)
    whole = filled.read_bytes()
    noticed = 0
    for _ in range(25):
        page = chance.randrange(len(whole) // PAGE)
        filled.write_bytes(whole)
        _spoil(filled, page, chance.randbytes(PAGE))
        with Writer(filled, "sink-1") as writer:
            writer.append(at(1.0), "tick", {})
            noticed += writer.opening.set_aside is not None
        filled.unlink()
    assert 25 == noticed


def test_numbers_are_never_used_twice(filled: Path, at: MakeMoment) -> None:
    """Each new file after damage counts from a place that no earlier file can have reached."""
    firsts = []
    for number in range(3):
        _spoil(filled, 0)
        with Writer(filled, "sink-1") as writer:
            firsts.append(writer.append(at(float(number)), "tick", {}))
    assert [GENERATION + 1, 2 * GENERATION + 1, 3 * GENERATION + 1] == firsts
    names = sorted(name.name for name in filled.parent.glob("*.damaged-*"))
    assert [f"journal.damaged-{number}.sqlite" for number in (1, 2, 3)] == names


def test_a_damaged_file_takes_its_log_along(filled: Path, at: MakeMoment) -> None:
    """The write-ahead log of a damaged journal is renamed with it, never played into the new."""
    writer = Writer(filled, "sink-1")
    writer.append(at(1.0), "tick", {})
    log = filled.with_name("journal.sqlite-wal").read_bytes()
    files = {name: name.read_bytes() for name in filled.parent.iterdir()}
    writer.close()
    for name, content in files.items():
        name.write_bytes(content)
    _spoil(filled, _page_of(filled, "sample"))
    for name, content in files.items():
        if name != filled:
            name.write_bytes(content)  # looking for the page had folded the log in
    with Writer(filled, "sink-1") as again, Reader(filled) as reader:
        assert again.opening.set_aside is not None
        assert () == reader.latest_events("sink-1")
    assert log == filled.with_name("journal.damaged-1.sqlite-wal").read_bytes()


def test_a_whole_file_is_left_alone(filled: Path) -> None:
    """A sound journal is checked to its end and stays where it is."""
    with Writer(filled, "sink-1") as writer:
        assert (None, None, True) == (
            writer.opening.set_aside,
            writer.opening.problem,
            writer.opening.check_complete,
        )


def test_the_check_does_not_keep_the_sink_waiting(filled: Path) -> None:
    """Where the time for the check is over the station starts, and says what was not checked."""
    with Writer(filled, "sink-1", check_seconds=0.0) as writer:
        assert (False, None) == (writer.opening.check_complete, writer.opening.set_aside)


def test_a_long_check_of_one_table_is_interrupted(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The time ends also in the middle of a large table, without a false alarm."""
    plain = sqlite3.connect(path, isolation_level=None)
    plain.execute("CREATE TABLE event (a, b)")
    plain.execute(
        "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 200000) "
        "INSERT INTO event SELECT i, hex(randomblob(100)) FROM n"
    )
    assert ([], True) == opening.check(plain, None)
    assert ([], False) == opening.check(plain, 0.002)
    plain.close()
