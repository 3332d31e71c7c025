"""What readers see while the writer lives, after it is gone, and in long lists."""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import textwrap
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from wetside.clock import Moment
from wetside.errors import JournalDamaged, JournalUnavailable
from wetside.journal.query import select_runs
from wetside.journal.reader import Reader
from wetside.journal.rows import RUN, RUN_JOINS
from wetside.journal.schema import RunFilter, RunRow
from wetside.journal.writer import Writer
from wetside.readings import Reading

MakeMoment = Callable[..., Moment]
MakeReading = Callable[..., Reading]


@pytest.fixture(scope="module")
def sixty(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[RunRow]]:
    """A journal of sixty runs, pairs of them at one moment, and how they should be listed."""
    path = tmp_path_factory.mktemp("sixty") / "journal.sqlite"
    rows = []
    with Writer(path, "sink-1") as writer:
        for number in range(60):
            seconds = 100.0 * (number - number % 2)
            began, ended = (Moment(t, 1.79e9 + t, True, "boot-1") for t in (seconds, seconds + 50))
            row = RunRow(
                id=f"R{number:02d}",
                station="sink-1",
                sheet_name="warm-24" if number % 4 else "cool-20",
                sheet_title="A sheet",
                began=began,
                ended=ended,
                state="finished" if number % 3 else "abandoned",
                flags=("late",) if number % 5 == 0 else ("held", "late-fix")[: number % 3],
                window_hit=number % 7 != 0,
            )
            writer.append(ended, "end", {}, row=row)
            rows.append(replace(row, listed_wall_seconds=began.wall_seconds))
    return path, rows[::-1]


@pytest.fixture
def many(path: Path, sixty: tuple[Path, list[RunRow]]) -> list[RunRow]:
    """The sixty runs, in the journal of this test."""
    path.write_bytes(sixty[0].read_bytes())
    return sixty[1]


@pytest.mark.parametrize("limit", [1, 7, 60, 61])
@pytest.mark.parametrize(
    ("which", "keep"),
    [
        (RunFilter(), lambda _: True),
        (RunFilter(state="abandoned"), lambda row: row.state == "abandoned"),
        (RunFilter(sheet_name="cool-20"), lambda row: row.sheet_name == "cool-20"),
        (RunFilter(flag="late"), lambda row: "late" in row.flags),
        (RunFilter(late=True), lambda row: "late-fix" in row.flags),
        (RunFilter(late=True, flag="held"), lambda row: {"held", "late-fix"} <= set(row.flags)),
        (RunFilter(station="sink-1"), lambda _: True),
        (RunFilter(station="sink-2"), lambda _: False),
        (RunFilter(window_hit=False), lambda row: row.window_hit is False),
        (RunFilter(ids=("R07", "R31", "none")), lambda row: row.id in {"R07", "R31"}),
        (
            RunFilter(flag="late", state="finished", sheet_name="warm-24", window_hit=True),
            lambda row: (
                "late" in row.flags
                and row.state == "finished"
                and row.sheet_name == "warm-24"
                and row.window_hit
            ),
        ),
    ],
)
def test_pages_hold_every_matching_run_once_latest_first(
    reader: Reader,
    many: list[RunRow],
    which: RunFilter,
    keep: Callable[[RunRow], bool],
    limit: int,
) -> None:
    """Page after page gives each matching run once, whatever the page's size."""
    found: list[RunRow] = []
    after: str | None = None
    while True:
        page = reader.runs(which, after, limit)
        found += page.rows
        after = page.after
        if after is None:
            break
    expected = [row for row in many if keep(row)]
    assert expected == found


@pytest.mark.parametrize("flag", [None, "late"])
def test_a_day_is_found_by_its_ends(reader: Reader, many: list[RunRow], flag: str | None) -> None:
    """Runs of a day begin at or after its first second and before its end."""
    since, before = many[40].began.wall_seconds, many[20].began.wall_seconds
    found = reader.runs(RunFilter(since=since, before=before, flag=flag), limit=100).rows
    expected = [
        row
        for row in many
        if since <= row.began.wall_seconds < before and (flag is None or flag in row.flags)
    ]
    assert expected == list(found)


def test_runs_that_begin_meanwhile_do_not_disturb_the_next_page(
    path: Path, reader: Reader, many: list[RunRow], row: RunRow, at: MakeMoment
) -> None:
    """A page asked for after new runs began goes on exactly where the page before ended."""
    first = reader.runs(limit=10)
    with Writer(path, "sink-1") as writer:
        writer.append(at(99_000.0), "begin", {}, row=replace(row, id="NEW", began=at(99_000.0)))
    second = reader.runs(after=first.after, limit=10)
    assert many[10:20] == list(second.rows)


@pytest.mark.parametrize("after", ["", "x", "1", "1.2.3", "1.-2", "9" * 30 + ".1"])
def test_a_wrong_place_in_the_list_is_refused(reader: Reader, after: str) -> None:
    """A place that no page gave is named in the message."""
    with pytest.raises(ValueError, match="not a place in the list"):
        reader.runs(after=after)


@pytest.mark.parametrize("limit", [0, -1, 501])
def test_a_page_has_a_sensible_size(reader: Reader, limit: int) -> None:
    """A page of no runs or of far too many is refused."""
    with pytest.raises(ValueError, match="a page has 1 to 500 runs"):
        reader.runs(limit=limit)


@pytest.mark.parametrize(
    ("which", "index"),
    [
        (RunFilter(), "run_by_time"),
        (RunFilter(since=0.0, before=1.0), "run_by_time"),
        (RunFilter(state="finished"), "run_by_state"),
        (RunFilter(sheet_name="warm-24"), "run_by_sheet"),
        (RunFilter(station="sink-1"), "run_by_station"),
        (RunFilter(flag="late"), "run_flag USING PRIMARY KEY"),
    ],
)
@pytest.mark.parametrize("after", [None, "5.5"])
def test_every_list_comes_out_of_an_index_in_its_order(
    path: Path, many: list[RunRow], which: RunFilter, index: str, after: str | None
) -> None:
    """SQLite's plan names the index made for the filter, sorts nothing and scans no table."""
    text, values = select_runs(which, after, RUN_JOINS)
    with sqlite3.connect(path) as plain:
        plan = [row[3] for row in plain.execute(f"EXPLAIN QUERY PLAN {RUN} {text}", values)]
    plain.close()
    assert index in plan[0], plan
    assert not [line for line in plan if "TEMP B-TREE" in line]


def test_values_for_menus(reader: Reader, many: list[RunRow]) -> None:
    """Sheets, states and flags in use are given once each."""
    assert (("cool-20", "warm-24"), ("abandoned", "finished"), ("held", "late", "late-fix")) == (
        reader.sheets(),
        reader.states(),
        reader.flags(),
    )


def test_before_the_first_start_the_message_says_so(reader: Reader) -> None:
    """Without a journal every question says that the station makes it, and later it works."""
    with pytest.raises(JournalUnavailable, match="the station makes it when it first starts"):
        reader.runs()
    Writer(reader._path, "sink-1").close()
    assert () == reader.runs().rows


def test_a_reader_follows_the_file_when_it_is_replaced(
    path: Path, reader: Reader, at: MakeMoment
) -> None:
    """A reader that had the old file open sees the new one, without being told."""
    with Writer(path, "sink-1") as writer:
        writer.append(at(1.0), "old", {})
    assert "old" == reader.latest_events("sink-1")[0].kind
    path.rename(path.with_name("moved.sqlite"))
    with Writer(path, "sink-1") as writer:
        writer.append(at(1.0), "new", {})
    assert "new" == reader.latest_events("sink-1")[0].kind


def test_an_open_run_comes_with_its_events_and_the_last_moment(
    path: Path, reader: Reader, row: RunRow, at: MakeMoment, reading: MakeReading
) -> None:
    """The latest run without an end is given, with what is needed to take it up again."""
    with Writer(path, "sink-1") as writer:
        writer.append(at(100.0), "begin", {}, row=row)
        writer.append(at(101.0), "now", {}, run=row.id)
        writer.sample(at(117.0), [reading(117.0)], run=row.id)
        writer.flush()
    found = reader.open_run("sink-1")
    assert found is not None
    assert (row.id, ["begin", "now"], at(117.0)) == (
        found.row.id,
        [event.kind for event in found.events],
        found.last,
    )
    assert reader.open_run("sink-2") is None
    with Writer(path, "sink-1") as writer:
        writer.append(at(120.0), "end", {}, row=replace(row, ended=at(120.0), state="finished"))
    assert reader.open_run() is None


def test_an_open_run_ends_with_the_boot_it_was_seen_in(
    path: Path, reader: Reader, row: RunRow, at: MakeMoment, reading: MakeReading
) -> None:
    """Samples are signs of life as events are; later boots without the run and others are not."""
    with Writer(path, "sink-1") as writer:
        writer.append(at(9.0, boot="zero"), "tick", {})
        writer.append(at(10.0, boot="one"), "begin", {}, row=row)
        writer.sample(at(25.0, boot="one"), [reading(25.0)])
        writer.append(at(3.0, boot="two", trusted=False), "tick", {})
        writer.append(at(4.0, boot="three"), "tick", {})
    found = reader.open_run("sink-1")
    assert found is not None
    assert at(25.0, boot="one") == found.last
    with Writer(path, "sink-1") as writer:
        writer.append(at(5.0, boot="three"), "run-taken-up", {}, run=row.id)
        writer.append(at(6.0, boot="three"), "tick", {})
    again = reader.open_run("sink-1")
    assert again is not None
    assert at(6.0, boot="three") == again.last


def test_wall_times_are_mended_once_the_clock_is_trusted(
    path: Path, reader: Reader, row: RunRow, at: MakeMoment
) -> None:
    """A run that began before the network set the clock gets its true time, and its flag too."""
    early = Moment(100.0, 1000.0, False, "boot-1")
    late = replace(row, began=early, flags=("late",))
    with Writer(path, "sink-1") as writer:
        writer.append(early, "begin", {}, row=late)
        before = reader.run(row.id)
        writer.append(at(160.0), "tick", {})
        after = reader.run(row.id)
        writer.append(at(170.0), "now", {}, row=late)  # the station still has the old moment
        again = reader.run(row.id)
    assert before is not None
    assert after is not None
    assert (early, at(100.0)) == (before.began, after.began)
    assert after == again
    day = RunFilter(since=at(99.0).wall_seconds, before=at(101.0).wall_seconds, flag="late")
    assert [after] == list(reader.runs(day).rows)
    assert early == reader.events(row.id)[0].moment


def test_a_run_of_an_unset_clock_is_listed_after_what_is_known_to_be_earlier(
    path: Path, reader: Reader, row: RunRow, at: MakeMoment
) -> None:
    """A wrong date does not send today's run to the end of the list."""
    wrong = Moment(5.0, 1000.0, False, "boot-2")
    with Writer(path, "sink-1") as writer:
        writer.append(at(100.0), "begin", {}, row=row)
        writer.append(wrong, "begin", {}, row=replace(row, id="SECOND", began=wrong))
    assert ["SECOND", row.id] == [found.id for found in reader.runs().rows]
    second = reader.run("SECOND")
    assert second is not None
    assert (wrong, at(100.0).wall_seconds) == (second.began, second.listed_wall_seconds)


def test_reading_goes_on_during_writing(
    path: Path, reader: Reader, row: RunRow, at: MakeMoment, reading: MakeReading
) -> None:
    """Several readers at once see whole transactions only, growing, and hinder nobody."""
    stop = threading.Event()
    problems: list[str] = []

    def look() -> None:
        seen = 0
        while not stop.is_set():
            events = reader.events(row.id)
            numbers = [event.detail["n"] for event in events]
            found = reader.run(row.id)
            if numbers != list(range(len(numbers))) or len(numbers) < seen:
                problems.append(f"{seen} then {numbers}")
            if found is not None and len(reader.events(row.id)) < int(found.state):
                problems.append("the run is ahead of its events")
            seen = len(numbers)
            for _ in reader.samples(row.id):
                pass

    threads = [threading.Thread(target=look) for _ in range(3)]
    with Writer(path, "sink-1") as writer:
        for thread in threads:
            thread.start()
        for number in range(300):
            moment = at(100.0 + number)
            writer.sample(moment, [reading(moment.seconds)], run=row.id)
            writer.append(moment, "n", {"n": number}, row=replace(row, state=str(number + 1)))
        stop.set()
        for thread in threads:
            thread.join()
    assert [] == problems
    assert 300 == len(list(reader.samples(row.id)))


def test_a_slow_reader_of_samples_holds_nothing(
    path: Path, writer: Writer, reader: Reader, at: MakeMoment, reading: MakeReading
) -> None:
    """While somebody reads a run slowly the write-ahead log can still be folded in."""
    for second in range(0, 5000, 10):
        writer.sample(at(second), [reading(second)], run="R1")
        writer.flush()
    samples = reader.samples("R1")
    next(samples)
    other = sqlite3.connect(path)
    busy = other.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
    other.close()
    assert 0 == busy
    assert 499 == len(list(samples))


def test_health_counts_and_checks(
    path: Path, writer: Writer, reader: Reader, row: RunRow, at: MakeMoment, reading: MakeReading
) -> None:
    """Health tells sizes, counts, and problems only when asked to look."""
    writer.append(at(1.0), "begin", {}, row=row)
    writer.sample(at(2.0), [reading(2.0), reading(2.0, probe="b")])
    writer.flush()
    health = reader.health()
    assert (("sink-1",), 1, 2, None) == (
        health.stations,
        health.runs,
        health.samples,
        health.problems,
    )
    assert path.stat().st_size == health.size_bytes
    assert health.free_bytes > 0
    assert () == reader.health(check=True).problems
    assert ("a", "b") == reader.probes()


def test_a_damaged_journal_is_named_as_such(path: Path, reader: Reader) -> None:
    """A reader of a file that is not a database says so and what will happen."""
    path.write_bytes(b"coffee" * 1000)
    with pytest.raises(JournalDamaged, match="sets it aside"):
        reader.runs()


def test_a_disk_that_takes_nothing_is_read_with_the_log_on_it(
    path: Path, writer: Writer, tmp_path: Path, row: RunRow, at: MakeMoment
) -> None:
    """The open run is found where files open for writing and each write fails, as on damage."""
    writer.append(at(1.0), "begin", {}, row=row)
    left = tmp_path / "left" / path.name  # as a killed writer leaves it
    left.parent.mkdir()
    for name in (path.name, f"{path.name}-wal"):
        shutil.copyfile(path.with_name(name), left.with_name(name))
    left.with_name(f"{path.name}-shm").touch()
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1, before[1]))
    try:
        with Reader(left) as reader:
            found = reader.open_run("sink-1")
            again = reader.latest_events("sink-1")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert found is not None
    assert row.id == found.row.id
    assert ["begin"] == [event.kind for event in again]


@pytest.fixture
def shared() -> Iterator[Path]:
    """A folder that other users can reach, unlike pytest's own."""
    folder = Path(tempfile.mkdtemp(prefix="wetside-"))
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


@pytest.mark.skipif(os.getuid() != 0, reason="only root can become somebody else")
@pytest.mark.parametrize("alive", [True, False])
def test_somebody_who_may_not_write_can_read(shared: Path, at: MakeMoment, alive: bool) -> None:
    """Another user, to whom the file is readable and the folder is not writable, can read."""
    path = shared / "journal.sqlite"
    writer = Writer(path, "sink-1")
    writer.append(at(1.0), "tick", {"n": 1})
    if not alive:
        writer.close()
    for file in shared.iterdir():
        file.chmod(0o664)
    code = """
        import os, sys
        from pathlib import Path
        from wetside.journal.reader import Reader
        os.setuid(65534)
        reader = Reader(Path(sys.argv[1]))
        print([event.kind for event in reader.latest_events("sink-1")])
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code), str(path)],
        capture_output=True,
        text=True,
        check=False,
    )
    if alive:
        writer.append(at(2.0), "tick", {"n": 2})
        writer.close()
    assert ("['tick']\n", "") == (done.stdout, done.stderr)
    assert all(file.stat().st_uid == 0 for file in shared.iterdir())
