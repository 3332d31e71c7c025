"""A run's trace as CSV: standard form, the replay contract's columns, times that only grow."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.clock import Moment
from wetside.journal.reader import Reader
from wetside.journal.schema import RunRow, Sample
from wetside.journal.trace import csv_lines
from wetside.journal.writer import Writer
from wetside.readings import Condition, Place, Reading
from wetside.thermal.recording import read_recording

MakeMoment = Callable[..., Moment]

BEGAN = Moment(100.0, 1e9, True, "one")


def _sample(seconds: float, *, boot: str = "one", probe: str = "a", wall: float = 0.0) -> Sample:
    moment = Moment(seconds, 1e9 - 100 + seconds + wall, True, boot)
    return Sample(moment, probe, Place.BATH, 20.0625, Condition.FINE)


def test_a_trace_has_the_replay_columns_and_crlf(
    path: Path, writer: Writer, reader: Reader, row: RunRow, at: MakeMoment
) -> None:
    """Header and rows are those of the replay contract; a failed read is an empty cell."""
    writer.append(at(100.0), "begin", {}, row=row)
    writer.sample(
        at(101.5),
        [
            Reading(101.25, "bath", 18.9375, Place.BATH),
            Reading(101.5, "dev", None, Place.DEVELOPER, Condition.FAILED),
            Reading(101.5, 'a "b", c', 21.0, Place.UNKNOWN),
        ],
        run=row.id,
    )
    writer.flush()
    text = "".join(csv_lines(row.began, reader.samples(row.id)))
    assert (
        "seconds,probe,place,celsius\r\n"
        "1.25,bath,bath,18.938\r\n"
        "1.5,dev,developer,\r\n"
        '1.5,"a ""b"", c",,21\r\n'
    ) == text


def test_a_trace_can_be_replayed(
    path: Path, tmp_path: Path, writer: Writer, reader: Reader, row: RunRow, at: MakeMoment
) -> None:
    """What replay reads from a run's trace are the run's readings, counted from its begin."""
    given = [
        Reading(101.0 + step / 2, ("a", "b")[step % 2], 20.0 + step / 16, Place.BATH)
        for step in range(20)
    ]
    writer.append(at(100.0), "begin", {}, row=row)
    for reading in given:
        writer.sample(at(reading.seconds), [reading], run=row.id)
    writer.flush()
    file = tmp_path / "trace.csv"
    file.write_text("".join(csv_lines(row.began, reader.samples(row.id))), newline="")
    found = read_recording(file)
    assert [(r.seconds - 100.0, r.probe, r.place) for r in given] == [
        (r.seconds, r.probe, r.place) for r in found
    ]
    assert [r.celsius for r in found] == pytest.approx([r.celsius for r in given], abs=0.0006)


def test_the_readings_before_the_begin_have_times_below_zero() -> None:
    """A reading taken just before the run began keeps its place in time."""
    lines = list(csv_lines(BEGAN, [_sample(99.5), _sample(100.0), _sample(101.0)]))
    assert ["-0.5", "0", "1"] == [line.split(",")[0] for line in lines[1:]]


def test_time_goes_on_across_a_power_cut() -> None:
    """After a cut the wall clock tells how much later the trace goes on."""
    before, after = _sample(160.0), _sample(12.0, boot="two", wall=1000.0)
    lines = list(csv_lines(BEGAN, [before, after, _sample(13.0, boot="two", wall=1000.0)]))
    assert ["60", "912", "913"] == [line.split(",")[0] for line in lines[1:]]


def test_time_goes_on_by_the_lower_bound_where_nobody_knows() -> None:
    """Without a right clock the trace goes on by what has certainly passed."""
    unset = Moment(12.0, 5.0, False, "two")
    after = Sample(unset, "a", Place.BATH, 20.0, Condition.FINE)
    lines = list(csv_lines(BEGAN, [_sample(160.0), after]))
    assert ["60", "72"] == [line.split(",")[0] for line in lines[1:]]


@given(
    st.lists(
        st.tuples(st.text(st.characters(exclude_categories=["Cs"]), max_size=12), st.floats(0, 9)),
        max_size=20,
    )
)
def test_any_probe_name_survives_a_csv_reader(rows: list[tuple[str, float]]) -> None:
    """What is written by RFC 4180 is read back by the standard library, whatever the names."""
    samples = [_sample(100.0 + round(after, 3), probe=name) for name, after in rows]
    text = "".join(csv_lines(BEGAN, samples))
    read = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [name for name, _ in rows] == [line["probe"] for line in read]
    assert [round(after, 3) for _, after in rows] == [float(line["seconds"]) for line in read]
