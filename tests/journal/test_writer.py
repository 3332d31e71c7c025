"""What the writer puts on the disk, and when."""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from wetside.clock import Moment
from wetside.errors import JournalError
from wetside.journal.reader import Reader
from wetside.journal.schema import Json, RunRow
from wetside.journal.writer import Writer
from wetside.outlook import Outlook, Quantiles
from wetside.readings import Condition, Place, Reading

MakeMoment = Callable[..., Moment]
MakeReading = Callable[..., Reading]


def count(path: Path, table: str) -> int:
    """Rows that another process would see now."""
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as other:
        found = other.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
    other.close()
    return int(found)


def test_an_event_can_be_read_by_others_when_append_returns(
    path: Path, writer: Writer, reader: Reader, at: MakeMoment, row: RunRow
) -> None:
    """An event and the new state of its run are there together as soon as append returns."""
    seq = writer.append(at(100.0), "begin", {"by": "button"}, row=row)
    (event,) = reader.events(row.id)
    assert (seq, at(100.0), row.id, "begin", {"by": "button"}) == (
        event.seq,
        event.moment,
        event.run,
        event.kind,
        event.detail,
    )
    found = reader.run(row.id)
    assert found is not None
    assert row == replace(found, listed_wall_seconds=None)


def test_sequence_numbers_go_on_after_a_restart(path: Path, at: MakeMoment) -> None:
    """A writer opened again counts on from the last number of its station."""
    with Writer(path, "sink-1") as first:
        numbers = [first.append(at(t), "tick", {}) for t in (1.0, 2.0)]
    with Writer(path, "sink-1") as second:
        numbers.append(second.append(at(3.0), "tick", {}))
    with Writer(path, "sink-2") as other:
        numbers.append(other.append(at(4.0), "tick", {}))
    assert [1, 2, 3, 1] == numbers


def test_ten_seconds_of_samples_share_a_commit(
    path: Path, writer: Writer, at: MakeMoment, reading: MakeReading
) -> None:
    """Samples are committed together once the oldest of them is ten seconds old."""
    seen = []
    for second in range(22):
        writer.sample(at(second), [reading(second), reading(second, probe="b")])
        seen.append(count(path, "sample"))
    assert [0] * 10 + [22] * 11 + [44] == seen


def test_an_event_takes_the_waiting_samples_with_it(
    path: Path, writer: Writer, at: MakeMoment, reading: MakeReading
) -> None:
    """Samples that wait are written before the event, so order by number is order in time."""
    writer.sample(at(1.0), [reading(1.0)])
    assert 2 == writer.append(at(2.0), "now", {})
    assert 1 == count(path, "sample")


def test_many_samples_at_once_do_not_wait(
    path: Path, writer: Writer, at: MakeMoment, reading: MakeReading
) -> None:
    """A batch has a largest size, whatever its age."""
    for number in range(64):
        writer.sample(at(1.0 + number / 1000), [reading(1.0, probe=str(number))])
    assert 64 == count(path, "sample")


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"boot": "boot-2"}, "another boot"),
        ({"trusted": False}, "a clock no longer trusted"),
        ({"wall": 3600.0}, "a jump of the wall clock"),
        ({"run": "R2"}, "another run"),
    ],
)
def test_a_batch_has_one_run_one_boot_and_one_clock(
    path: Path,
    writer: Writer,
    at: MakeMoment,
    reading: MakeReading,
    change: Mapping[str, object],
    what: str,
) -> None:
    """Whatever would make a batch's one moment untrue begins a new batch."""
    writer.sample(at(1.0), [reading(1.0)], run="R1")
    second = at(2.0)
    if "boot" in change:
        second = replace(second, boot="boot-2")
    if "trusted" in change:
        second = replace(second, trusted=False)
    if "wall" in change:
        second = replace(second, wall_seconds=second.wall_seconds + 3600.0)
    writer.sample(second, [reading(2.0)], run=str(change.get("run", "R1")))
    writer.flush()
    assert 2 == count(path, "batch"), what


def test_a_batch_that_nothing_can_be_added_to_is_committed_at_once(
    path: Path, writer: Writer, at: MakeMoment, reading: MakeReading
) -> None:
    """It grows no older, so it would wait for an event that may never come."""
    writer.sample(at(1.0), [reading(1.0)], run="R1")
    assert 0 == count(path, "sample")
    writer.sample(at(2.0), [reading(2.0)], run="R2")
    assert 2 == count(path, "sample")


def test_an_event_that_cannot_be_written_leaves_nothing_behind(
    path: Path, writer: Writer, at: MakeMoment, reading: MakeReading
) -> None:
    """A run whose id is no text is refused; the next event is written as if it had not been."""
    writer.sample(at(1.0), [reading(1.0)])
    with pytest.raises(UnicodeEncodeError):
        writer.append(at(2.0), "now", {}, run="\ud800")
    assert 0 == count(path, "sample")
    assert 2 == writer.append(at(3.0), "now", {})
    assert (1, 1) == (count(path, "sample"), count(path, "event"))


@pytest.mark.parametrize("condition", list(Condition))
@pytest.mark.parametrize("place", list(Place))
def test_every_condition_and_place_comes_back(
    writer: Writer, reader: Reader, at: MakeMoment, condition: Condition, place: Place
) -> None:
    """A sample keeps its condition and place; a temperature to a thousandth of a degree."""
    celsius = 20.0625 if condition is Condition.FINE else None
    writer.sample(at(5.0), [Reading(4.25, "0316a2795e4b", celsius, place, condition)], run="R1")
    writer.flush()
    (sample,) = reader.samples("R1")
    expected = 20.062 if condition is Condition.FINE else None
    assert (4.25, "0316a2795e4b", place, expected, condition) == (
        sample.moment.seconds,
        sample.probe,
        sample.place,
        sample.celsius,
        sample.condition,
    )


def test_a_forecast_comes_back_with_its_unknowns(
    writer: Writer, reader: Reader, at: MakeMoment, outlook: Callable[[float], Outlook]
) -> None:
    """Every number of an outlook is kept, and None stays None."""
    writer.forecast(at(7.0), outlook(6.5), run="R1")
    writer.flush()
    (forecast,) = reader.forecasts("R1")
    assert outlook(6.5) == forecast.outlook
    assert 6.5 == forecast.moment.seconds


def test_a_number_that_is_none_is_kept_as_such(
    writer: Writer, reader: Reader, at: MakeMoment
) -> None:
    """NaN from the forecast or a probe neither raises nor passes for a value."""
    nan, nothing = float("nan"), Quantiles(None, None, None)
    writer.sample(at(1.0), [Reading(1.0, "a", nan)], run="R1")
    writer.forecast(at(1.0), Outlook(1.0, None, None, Quantiles(nan, 1.0, 2.0), nothing, 0.0), "R1")
    writer.flush()
    (sample,) = reader.samples("R1")
    (forecast,) = reader.forecasts("R1")
    assert (None, Condition.IMPLAUSIBLE) == (sample.celsius, sample.condition)
    assert Quantiles(None, 1.0, 2.0) == forecast.outlook.ready_in
    assert ("not a number",) == forecast.outlook.faults


_FINITE = st.floats(allow_nan=False, allow_infinity=False)
_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | _FINITE | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=8,
)


@settings(
    max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@example(detail={"half of a pair \ud83d": "\x00\u2028", "": 2**80}, ms=0, wall_ms=0, trusted=True)
@given(
    detail=st.dictionaries(st.text(), _JSON, max_size=5),
    ms=st.integers(0, 10**10),
    wall_ms=st.integers(-(10**12), 10**13),
    trusted=st.booleans(),
)
def test_any_json_comes_back_as_it_was(
    writer: Writer,
    reader: Reader,
    detail: dict[str, Json],
    ms: int,
    wall_ms: int,
    trusted: bool,
) -> None:
    """Any JSON object, half surrogates and huge numbers included, survives the journal."""
    moment = Moment(ms / 1000, wall_ms / 1000, trusted, "boot")
    seq = writer.append(moment, "anything", detail)
    (event,) = reader.latest_events("sink-1", limit=1)
    assert (seq, moment, detail) == (event.seq, event.moment, event.detail)


@pytest.mark.parametrize(
    ("kind", "detail"),
    [
        ("", {}),
        ("x" * 65, {}),
        ("two\nlines", {}),
        ("ok", {"a": float("nan")}),
        ("ok", {"a": {1, 2}}),
        ("ok", {"a": object()}),
    ],
)
def test_what_cannot_be_kept_is_refused(
    writer: Writer, reader: Reader, at: MakeMoment, kind: str, detail: dict[str, Json]
) -> None:
    """An event that would not come back as it was is refused and leaves no trace."""
    with pytest.raises(ValueError, match="event"):
        writer.append(at(1.0), kind, detail)
    assert () == reader.latest_events("sink-1")
    assert 1 == writer.append(at(2.0), "fine", {})


def test_a_row_of_another_station_or_run_is_refused(
    writer: Writer, at: MakeMoment, row: RunRow
) -> None:
    """A run's row must be of the writer's station and of the event's run."""
    with pytest.raises(ValueError, match="is of station sink-2, not sink-1"):
        writer.append(at(1.0), "begin", {}, row=replace(row, station="sink-2"))
    with pytest.raises(ValueError, match="the event is of run R2"):
        writer.append(at(1.0), "begin", {}, run="R2", row=row)


def test_a_second_writer_is_refused_until_the_first_is_gone(path: Path) -> None:
    """Two stations cannot write one journal, and the message says what to do."""
    with (
        Writer(path, "sink-1"),
        pytest.raises(JournalError, match=r"another process writes .* stop the"),
    ):
        Writer(path, "sink-2")
    Writer(path, "sink-2").close()


def test_owner_and_group_may_write_whatever_the_umask(path: Path) -> None:
    """All files of the journal are 0660, else a reader of the same group breaks the writer."""
    before = os.umask(0o077)
    try:
        with Writer(path, "sink-1") as writer:
            writer.append(Moment(1.0, 1.0, False, "b"), "tick", {})
            modes = {
                name.name: stat.S_IMODE(name.stat().st_mode)
                for name in path.parent.iterdir()
                if not name.name.endswith(".lock")
            }
    finally:
        os.umask(before)
    names = ("journal.sqlite", "journal.sqlite-wal", "journal.sqlite-shm")
    assert dict.fromkeys(names, 0o660) == modes


def test_every_commit_is_forced_to_the_disk(writer: Writer) -> None:
    """The settings that a plug-pull depends on are in force: write-ahead log, sync in full."""
    modes = [
        writer._connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous", "page_size")
    ]
    assert ["wal", 2, 1024] == modes


def test_close_leaves_one_file_that_holds_everything(
    path: Path, at: MakeMoment, reading: MakeReading
) -> None:
    """After close the journal is whole without its write-ahead log."""
    with Writer(path, "sink-1") as writer:
        writer.append(at(1.0), "tick", {})
        writer.sample(at(2.0), [reading(2.0)])
    assert not path.with_name("journal.sqlite-wal").exists()
    copied = path.with_name("copied.sqlite")
    copied.write_bytes(path.read_bytes())
    assert (1, 1) == (count(copied, "event"), count(copied, "sample"))


def test_the_same_calls_make_the_same_rows(
    tmp_path: Path,
    at: MakeMoment,
    reading: MakeReading,
    outlook: Callable[[float], Outlook],
    row: RunRow,
) -> None:
    """Two journals of the same calls are identical, row by row."""
    dumps = []
    for name in ("one.sqlite", "two.sqlite"):
        with Writer(tmp_path / name, "sink-1") as writer:
            writer.append(at(100.0), "begin", {"b": 1, "a": 2}, row=row)
            for second in range(101, 160):
                writer.sample(at(second), [reading(second)], run=row.id)
                if second % 5 == 0:
                    writer.forecast(at(second), outlook(second), run=row.id)
            writer.append(at(160.0), "end", {}, row=replace(row, ended=at(160.0), state="done"))
        with sqlite3.connect(tmp_path / name) as plain:
            dumps.append(list(plain.iterdump()))
        plain.close()
    assert dumps[0] == dumps[1]


def test_a_run_that_nobody_described_is_still_found(
    writer: Writer, reader: Reader, at: MakeMoment
) -> None:
    """An event of an unknown run is kept, under a row that says what is not known."""
    writer.append(at(9.0), "now", {}, run="R9")
    found = reader.run("R9")
    assert found is not None
    assert ("unknown", at(9.0), 1) == (found.state, found.began, len(reader.events("R9")))


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["event", "sample", "row", "end", "reopen"]),
            st.sampled_from(["R1", "R2", "R3", None]),
        ),
        max_size=30,
    )
)
def test_runs_in_any_order_lose_nothing(
    tmp_path_factory: pytest.TempPathFactory, calls: list[tuple[str, str | None]]
) -> None:
    """However runs overlap, end early or go on after their end, all their rows are found."""
    path = tmp_path_factory.mktemp("order") / "journal.sqlite"
    writer = Writer(path, "sink-1")
    events: dict[str, list[float]] = {}
    samples: dict[str, list[float]] = {}
    for number, (what, run) in enumerate(calls):
        moment = Moment(float(number), 1e9 + number, False, "b")
        if what == "reopen":
            writer.close()
            writer = Writer(path, "sink-1")
        elif what == "sample":
            writer.sample(moment, [Reading(moment.seconds, "a", 20.0)], run=run)
            samples.setdefault(run or "", []).append(moment.seconds)
        elif what == "event" or run is None:
            writer.append(moment, "now", {}, run=run)
            events.setdefault(run or "", []).append(moment.seconds)
        else:
            ended = moment if what == "end" else None
            writer.append(
                moment, what, {}, row=RunRow(run, "sink-1", "s", "S", moment, what, ended)
            )
            events.setdefault(run, []).append(moment.seconds)
    writer.close()
    with Reader(path) as reader:
        for run in ("R1", "R2", "R3"):
            assert events.get(run, []) == [event.moment.seconds for event in reader.events(run)]
            assert samples.get(run, []) == [s.moment.seconds for s in reader.samples(run)]
