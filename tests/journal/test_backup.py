"""Copies made while the journal is written, checked, and put back."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from wetside.clock import Moment
from wetside.errors import JournalDamaged, JournalError, JournalUnavailable
from wetside.journal import backup, files
from wetside.journal.reader import Reader
from wetside.journal.schema import RunRow
from wetside.journal.writer import Writer
from wetside.readings import Reading

MakeMoment = Callable[..., Moment]


def test_a_copy_made_while_writing_is_whole(
    path: Path, tmp_path: Path, row: RunRow, at: MakeMoment
) -> None:
    """Copies taken during writing pass the full check and end at one moment of the journal."""
    stop = threading.Event()
    with Writer(path, "sink-1") as writer:
        writer.append(at(0.0), "begin", {"n": 0}, row=row)

        def copies() -> None:
            made.extend(backup.copy(path, tmp_path / f"copy-{n}.sqlite") for n in range(5))
            stop.set()

        made: list[backup.Copy] = []
        thread = threading.Thread(target=copies)
        thread.start()
        number = 0
        while not stop.is_set():
            number += 1
            writer.sample(at(float(number)), [Reading(number, "a", 20.0)], run=row.id)
            writer.append(at(float(number)), "n", {"n": number}, run=row.id)
        thread.join()
    assert 5 == len(made)
    for one in made:
        with Reader(one.path) as reader:
            events = [event.detail["n"] for event in reader.events(row.id)]
            samples = [sample.moment.seconds for sample in reader.samples(row.id)]
        assert list(range(one.events)) == events
        assert list(range(1, one.events)) == samples
        assert 1 == one.runs
    assert [one.events for one in made] == sorted(one.events for one in made)
    assert [] == list(tmp_path.glob("*.part"))


def test_a_copy_never_writes_over_another(path: Path, writer: Writer) -> None:
    """An existing copy is left as it is."""
    target = path.with_name("copy.sqlite")
    target.write_text("precious")
    with pytest.raises(JournalError, match="never writes over"):
        backup.copy(path, target)
    assert "precious" == target.read_text()


def test_without_room_no_half_copy_stays(path: Path, writer: Writer, tmp_path: Path) -> None:
    """A copy that fails leaves nothing behind and says why."""
    with pytest.raises(JournalUnavailable, match="cannot be copied"):
        backup.copy(path, tmp_path / "missing" / "copy.sqlite")
    with pytest.raises(JournalUnavailable, match="cannot be copied"):
        backup.copy(tmp_path / "nothing.sqlite", tmp_path / "copy.sqlite")
    assert [] == list(tmp_path.glob("*.part"))


def test_what_a_power_cut_left_of_a_copy_does_not_stop_the_next(
    path: Path, writer: Writer, tmp_path: Path, at: MakeMoment
) -> None:
    """Half a copy of that name is cleared away, and the copy is made."""
    writer.append(at(1.0), "tick", {})
    (tmp_path / "copy.sqlite.part").write_bytes(b"half a copy")
    assert 1 == backup.copy(path, tmp_path / "copy.sqlite").events
    assert [] == list(tmp_path.glob("*.part"))


def test_a_copy_tells_the_highest_number_in_it(
    path: Path, writer: Writer, tmp_path: Path, at: MakeMoment, reading: Callable[..., Reading]
) -> None:
    """Whether an event or readings came last."""
    writer.append(at(1.0), "tick", {})
    assert 1 == backup.copy(path, tmp_path / "event.sqlite").last_seq
    writer.sample(at(2.0), [reading(2.0)])
    writer.flush()
    assert 2 == backup.copy(path, tmp_path / "readings.sqlite").last_seq
    writer.append(at(3.0), "tick", {})
    assert 3 == backup.copy(path, tmp_path / "both.sqlite").last_seq


def test_a_copy_is_on_the_disk_before_it_has_its_name(
    path: Path, writer: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A power cut right after the renaming finds no empty file of that name, here or restored."""
    synced: list[tuple[str, bool]] = []
    target, restored = tmp_path / "copy.sqlite", tmp_path / "restored.sqlite"

    def note(what: Path) -> None:
        synced.append((what.name, (restored if target.exists() else target).exists()))

    monkeypatch.setattr(backup, "sync", note)
    backup.copy(path, target)
    assert ("copy.sqlite.part", False) == synced[0]
    synced.clear()
    backup.restore(target, restored)
    assert ("restored.sqlite.part", False) == synced[0]


def test_a_damaged_copy_is_recognised(path: Path, tmp_path: Path, at: MakeMoment) -> None:
    """One page spoilt in a copy is found by inspecting it."""
    with Writer(path, "sink-1") as writer:
        for number in range(300):
            writer.append(at(float(number)), "tick", {"pad": "x" * 300})
        copy = backup.copy(path, tmp_path / "copy.sqlite").path
    assert 300 == backup.inspect(copy).events
    with copy.open("r+b") as file:
        file.seek(copy.stat().st_size // 2 // 4096 * 4096)
        file.write(b"\xa5" * 4096)
    with pytest.raises(JournalDamaged, match="damaged"):
        backup.inspect(copy)
    copy.write_text("not a database at all, but a shopping list\n" * 100)
    with pytest.raises(JournalDamaged, match="not a database"):
        backup.inspect(copy)
    copy.write_bytes(b"")
    with pytest.raises(JournalError, match="is empty"):
        backup.inspect(copy)
    with pytest.raises(JournalUnavailable, match="there is no file"):
        backup.inspect(tmp_path / "none.sqlite")


def test_a_copy_can_be_put_back(path: Path, tmp_path: Path, at: MakeMoment) -> None:
    """After restore the old rows are there, the replaced file too, and numbers go on above it."""
    with Writer(path, "sink-1") as writer:
        writer.append(at(1.0), "in the copy", {})
        copy = backup.copy(path, tmp_path / "copy.sqlite").path
        later = writer.append(at(2.0), "after the copy", {})
        with pytest.raises(JournalError, match="another process writes"):
            backup.restore(copy, path)
    before = path.read_bytes()
    aside = backup.restore(copy, path)
    assert path.with_name("journal.replaced-1.sqlite") == aside
    assert aside is not None
    assert before == aside.read_bytes()
    with Writer(path, "sink-1") as writer, Reader(path) as reader:
        seq = writer.append(at(3.0), "after the restore", {})
        kinds = [event.kind for event in reader.latest_events("sink-1")]
    assert ["after the restore", "in the copy"] == kinds
    assert seq > later
    copied = backup.inspect(copy)
    assert 1 == copied.events


@pytest.mark.parametrize("problem", [OSError(28, "No space left on device"), KeyboardInterrupt()])
@pytest.mark.parametrize("step", ["_count_on", "sync"])
def test_a_restore_that_is_stopped_leaves_the_journal_in_its_place(
    path: Path,
    tmp_path: Path,
    at: MakeMoment,
    monkeypatch: pytest.MonkeyPatch,
    step: str,
    problem: BaseException,
) -> None:
    """A full disk or Ctrl-C before the copy is whole: nothing is renamed, nothing half stays."""
    with Writer(path, "sink-1") as writer:
        writer.append(at(1.0), "tick", {})
        copy = backup.copy(path, tmp_path / "copy.sqlite").path
    before = path.read_bytes()

    def stopped(*_: object) -> None:
        raise problem

    monkeypatch.setattr(backup, step, stopped)
    with pytest.raises(type(problem)):
        backup.restore(copy, path)
    assert before == path.read_bytes()
    assert [] == [*tmp_path.glob("*.part"), *path.parent.glob("*replaced*")]


def test_what_is_put_back_can_be_read_and_written_by_owner_and_group(
    path: Path, writer: Writer, tmp_path: Path
) -> None:
    """However the copy was kept: the desk has to read it, the station to write it."""
    copy = backup.copy(path, tmp_path / "copy.sqlite").path
    copy.chmod(0o400)
    backup.restore(copy, tmp_path / "restored.sqlite")
    assert files.MODE == (tmp_path / "restored.sqlite").stat().st_mode & 0o777


def test_a_copy_can_be_put_where_nothing_is(path: Path, tmp_path: Path, at: MakeMoment) -> None:
    """A new card: the copy becomes the journal."""
    with Writer(path, "sink-1") as writer:
        writer.append(at(1.0), "tick", {})
        copy = backup.copy(path, tmp_path / "copy.sqlite").path
    other = tmp_path / "new" / "journal.sqlite"
    other.parent.mkdir()
    assert backup.restore(copy, other) is None
    with Reader(other) as reader:
        assert 1 == len(reader.latest_events("sink-1"))
