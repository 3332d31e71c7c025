"""The queue in front of the writer: it never waits, and it tells what the disk does."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import ClassVar

import pytest

from wetside.clock import Moment
from wetside.errors import JournalError, JournalUnavailable
from wetside.journal.reader import Reader
from wetside.journal.schema import RunRow
from wetside.journal.thread import BACK, REFUSED, SET_ASIDE, WriterThread
from wetside.journal.waiting import Entry, Waiting
from wetside.journal.writer import Writer
from wetside.outlook import Outlook
from wetside.readings import Reading

MakeMoment = Callable[..., Moment]


class Disk(Writer):
    """A writer on a disk that can be made slow, full or absent."""

    seconds: ClassVar[float] = 0.0
    broken: ClassVar[str | None] = None
    held: ClassVar[threading.Event] = threading.Event()

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        with super()._transaction():
            yield
            time.sleep(Disk.seconds)  # where fsync would be slow
            Disk.held.wait()
            if Disk.broken is not None:
                raise sqlite3.OperationalError(Disk.broken)


@pytest.fixture(autouse=True)
def good_disk() -> Iterator[None]:
    """Each test begins and ends with a disk that is well."""
    Disk.seconds, Disk.broken = 0.0, None
    Disk.held.set()
    yield
    Disk.seconds, Disk.broken = 0.0, None
    Disk.held.set()


@pytest.fixture
def make(path: Path) -> Iterator[Callable[..., WriterThread]]:
    """Make threads on such a disk, closed at the end."""
    made: list[WriterThread] = []

    def start(**options: object) -> WriterThread:
        thread = WriterThread(path, "sink-1", writer=Disk, retry_seconds=0.02, **options)  # type: ignore[arg-type]
        made.append(thread)
        return thread

    yield start
    Disk.broken = None
    Disk.held.set()
    for thread in made:
        thread.close()


def _until(condition: Callable[[], object], seconds: float = 10.0) -> None:
    until = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < until, "did not happen"
        time.sleep(0.005)


def test_everything_arrives_in_order(
    make: Callable[..., WriterThread],
    reader: Reader,
    at: MakeMoment,
    row: RunRow,
    outlook: Callable[[float], Outlook],
) -> None:
    """Events, samples and forecasts go through the queue as if written directly."""
    thread = make()
    thread.append(at(100.0), "begin", {}, row=row)
    for second in range(101, 130):
        thread.sample(at(second), [Reading(second, "a", 20.0)], run=row.id)
        thread.forecast(at(second), outlook(second), run=row.id)
    thread.append(at(130.0), "end", {}, row=replace(row, ended=at(130.0)))
    assert thread.settled(10.0)
    assert ["begin", "end"] == [event.kind for event in reader.events(row.id)]
    assert list(range(101, 130)) == [sample.moment.seconds for sample in reader.samples(row.id)]
    assert 29 == len(list(reader.forecasts(row.id)))
    assert thread.failure is None


def test_a_slow_disk_delays_nobody(make: Callable[..., WriterThread], at: MakeMoment) -> None:
    """With half a second for each commit a call still does not wait for one."""
    thread = make()
    Disk.seconds = 0.5
    longest = 0.0
    for number in range(50):
        begun = time.perf_counter()
        thread.append(at(float(number)), "tick", {})
        longest = max(longest, time.perf_counter() - begun)
        time.sleep(0.005)
    assert longest < 0.25
    assert not thread.settled(0.01)
    Disk.seconds = 0.0


def test_a_disk_that_does_not_answer_is_reported(
    make: Callable[..., WriterThread], at: MakeMoment, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A commit that hangs shows as a failure although nothing has failed yet."""
    monkeypatch.setattr("wetside.journal.thread._STALLED_SECONDS", 0.05)
    thread = make()
    Disk.held.clear()
    thread.append(at(1.0), "tick", {})
    _until(lambda: thread.failure)
    assert "has not answered" in str(thread.failure)
    Disk.held.set()
    assert thread.settled(10.0)
    assert thread.failure is None


def test_a_full_disk_is_told_waited_for_and_journaled(
    make: Callable[..., WriterThread], reader: Reader, at: MakeMoment, row: RunRow
) -> None:
    """While the disk is full everything waits in memory; afterwards all of it is there."""
    thread: WriterThread = make()
    thread.append(at(0.0), "begin", {}, row=row)
    assert thread.settled(10.0)
    Disk.broken = "database or disk is full"
    for second in range(1, 61):
        thread.sample(at(second), [Reading(second, "a", 20.0)], run=row.id)
        if second % 20 == 0:
            thread.append(at(second), "now", {"second": second}, run=row.id)
    _until(lambda: thread.failure)
    assert "disk is full" in str(thread.failure)
    assert "wait in memory" in str(thread.failure)
    assert 1 == len(reader.events(row.id))
    Disk.broken = None
    thread.flush()
    assert thread.settled(10.0)
    assert thread.failure is None
    assert [20, 40, 60] == [e.detail["second"] for e in reader.events(row.id) if e.kind == "now"]
    assert list(range(1, 61)) == [sample.moment.seconds for sample in reader.samples(row.id)]
    backs = [event for event in reader.latest_events("sink-1") if event.kind == BACK]
    assert 1 == len(backs)
    assert (0, 0, at(60)) == (
        backs[0].detail["samples_let_go"],
        backs[0].detail["events_let_go"],
        backs[0].moment,
    )
    assert "disk is full" in str(backs[0].detail["reason"])


def test_memory_is_bounded_and_samples_go_first(
    make: Callable[..., WriterThread], reader: Reader, at: MakeMoment
) -> None:
    """Beyond the bound the oldest samples are let go and counted; no event is."""
    thread = make(bound=50)
    Disk.broken = "disk I/O error"
    for second in range(500):
        thread.sample(at(second), [Reading(second, "a", 20.0)], run="R1")
        if second % 10 == 0:
            thread.append(at(second), "now", {}, run="R1")
    assert len(thread._waiting.entries) <= 52
    assert "let go" in str(thread.failure)
    Disk.broken = None
    assert thread.settled(10.0)
    thread.flush()
    assert thread.settled(10.0)
    events = [event for event in reader.events("R1") if event.kind == "now"]
    samples = list(reader.samples("R1"))
    assert 50 == len(events)
    (back,) = (event for event in reader.latest_events("sink-1") if event.kind == BACK)
    assert 500 == len(samples) + int(str(back.detail["samples_let_go"]))


def _entry(name: str, *, event: bool = False) -> Entry:
    return Entry(name, None, lambda _: None, event=event)


def test_events_are_let_go_last_and_oldest_first() -> None:
    """Where only events wait, four times the bound are kept, and those let go are counted."""
    waiting = Waiting(2)
    for number in range(10):
        waiting.put(_entry(f"event {number}", event=True))
    assert [f"event {number}" for number in range(2, 10)] == [one.name for one in waiting.entries]
    assert waiting.trouble is not None
    assert (0, 2) == (waiting.trouble.samples_let_go, waiting.trouble.events_let_go)
    waiting.entries.appendleft(_entry("sample"))
    waiting.put(_entry("event 10", event=True))
    assert (1, 2) == (waiting.trouble.samples_let_go, waiting.trouble.events_let_go)


def test_what_is_let_go_does_not_change_what_the_trouble_is() -> None:
    """A full disk stays a full disk while samples are let go; else the disk is too slow."""
    for reason in ("disk full", None):
        waiting = Waiting(1)
        if reason is not None:
            waiting.note(reason)
        for _ in range(3):
            waiting.put(_entry("sample"))
        assert waiting.trouble is not None
        assert (reason or "the disk is too slow", 2) == (
            waiting.trouble.reason,
            waiting.trouble.samples_let_go,
        )


def test_trouble_is_over_once_half_of_the_room_is_free() -> None:
    """A disk that took one entry of many is not mended yet."""
    waiting = Waiting(4)
    waiting.note("disk full")
    for _ in range(3):
        waiting.put(_entry("sample"))
    assert waiting.relieved() is None
    waiting.entries.popleft()
    trouble = waiting.relieved()
    assert trouble is not None
    assert ("disk full", None) == (trouble.reason, waiting.trouble)


def test_a_journal_that_cannot_be_opened_at_the_start_is_opened_later(
    tmp_path: Path, at: MakeMoment
) -> None:
    """The station starts without its disk, and the journal begins when the disk is there."""
    path = tmp_path / "later" / "journal.sqlite"
    thread = WriterThread(path, "sink-1", retry_seconds=0.02)
    thread.append(at(1.0), "tick", {})
    assert "No such file" in str(thread.failure)
    assert (None,) == (thread.opening,)
    path.parent.mkdir()
    assert thread.settled(10.0)
    assert thread.opening is not None
    thread.close()
    with Reader(path) as reader:
        assert [BACK, "tick"] == [event.kind for event in reader.latest_events("sink-1")]


def test_a_refused_journal_is_refused_at_once(path: Path) -> None:
    """What waiting cannot mend is raised where the thread is made."""
    with Writer(path, "sink-1"), pytest.raises(JournalError, match="another process writes"):
        WriterThread(path, "sink-1")


def test_damage_met_while_writing_is_set_aside(
    make: Callable[..., WriterThread],
    path: Path,
    reader: Reader,
    at: MakeMoment,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A file that turns out damaged in the middle of a run is replaced, and the run goes on."""
    thread = make()
    thread.append(at(1.0), "before", {}, run="R1")
    assert thread.settled(10.0)
    real = Writer.append
    hits = iter([True])

    def damaged(writer: Writer, *given: object, **named: object) -> int:
        if next(hits, False):
            with writer._transaction():
                error = sqlite3.DatabaseError("database disk image is malformed")
                error.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
                raise error
        return real(writer, *given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(Writer, "append", damaged)
    thread.append(at(2.0), "after", {}, run="R1")
    assert thread.settled(10.0)
    kinds = [event.kind for event in reader.latest_events("sink-1")]
    assert "after" == kinds[-1]
    assert {SET_ASIDE, BACK} == set(kinds[:-1])
    with Reader(path.with_name("journal.damaged-1.sqlite")) as old:
        assert ["before"] == [event.kind for event in old.events("R1")]


def test_one_entry_that_cannot_be_kept_does_not_hold_up_the_rest(
    make: Callable[..., WriterThread],
    reader: Reader,
    at: MakeMoment,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """An entry that fails for a reason of its own is named in the journal and passed over."""
    real = Writer.append

    def fussy(writer: Writer, moment: Moment, kind: str, *rest: object) -> int:
        if kind == "bad":
            raise RuntimeError("no")
        return real(writer, moment, kind, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(Writer, "append", fussy)
    thread = make()
    for kind in ("first", "bad", "last"):
        thread.append(at(1.0), kind, {})
    _until(lambda: REFUSED in [event.kind for event in reader.latest_events("sink-1")])
    assert thread.settled(10.0)
    events = reader.latest_events("sink-1")
    assert ["first", "last"] == [e.kind for e in events[::-1] if e.kind in {"first", "last"}]
    (refused,) = (event for event in events if event.kind == REFUSED)
    assert {"entry": "bad", "reason": "RuntimeError('no')"} == refused.detail


def test_wrong_events_are_refused_where_they_are_made(
    make: Callable[..., WriterThread], at: MakeMoment, row: RunRow
) -> None:
    """The caller, not the thread, hears of an event that cannot be kept."""
    thread = make()
    with pytest.raises(ValueError, match="not JSON"):
        thread.append(at(1.0), "tick", {"x": float("nan")})
    with pytest.raises(ValueError, match="is of station sink-2"):
        thread.append(at(1.0), "tick", {}, row=replace(row, station="sink-2"))


def test_a_detail_changed_after_the_call_is_kept_as_it_was(
    make: Callable[..., WriterThread], reader: Reader, at: MakeMoment
) -> None:
    """What is queued is a copy."""
    thread = make()
    Disk.held.clear()
    detail: dict[str, object] = {"list": [1]}
    thread.append(at(1.0), "tick", {})
    thread.append(at(2.0), "tick", detail)  # type: ignore[arg-type]
    detail["list"] = "changed"
    Disk.held.set()
    assert thread.settled(10.0)
    assert {"list": [1]} == reader.latest_events("sink-1")[0].detail


def test_close_says_when_the_disk_did_not_take_everything(path: Path, at: MakeMoment) -> None:
    """Closing with a disk that fails does not hang and does not pretend."""
    thread = WriterThread(path, "sink-1", writer=Disk, retry_seconds=0.02)
    Disk.broken = "disk I/O error"
    thread.append(at(1.0), "tick", {})
    with pytest.raises(JournalUnavailable, match=r"not everything was journaled: .*I/O error"):
        thread.close(5.0)
    with pytest.raises(ValueError, match="closed"):
        thread.append(at(2.0), "tick", {})
    Writer(path, "sink-1").close()  # the lock was let go


def test_what_a_reader_met_is_set_aside_and_a_new_file_begun(
    tmp_path: Path, at: MakeMoment
) -> None:
    """Damage that the check at the start did not reach: the old file stays, by another name."""
    path = tmp_path / "journal.sqlite"
    thread = WriterThread(path, "sink-1", check_seconds=0.0)
    thread.append(at(0.0), "before", {})
    thread.set_aside("a leaf of the table of events is broken")
    thread.append(at(1.0), "after", {})
    assert thread.settled(10.0)
    thread.close()
    with Reader(path) as reader:
        told = {event.kind for event in reader.latest_events("sink-1")}
    assert {SET_ASIDE, "after"} == told
    assert [path.with_name("journal.damaged-1.sqlite")] == list(tmp_path.glob("*damaged*.sqlite"))
