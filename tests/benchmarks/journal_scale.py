"""How fast a very large journal answers, beside the bare SQLite queries for the same rows.

    python tests/benchmarks/journal_scale.py [--runs 100000] [--samples 1000] [--folder FOLDER]

An invented journal is made with SQL, as many runs as asked for with ``--samples`` samples and
forty events each; then every question of the reader is asked many times with changing
arguments. The bare query is the same SQL through one plain connection, its rows fetched and
thrown away. ``--keep FILE`` uses FILE, and makes it first where it does not exist.
"""

from __future__ import annotations

import argparse
import random
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from wetside.journal.query import select_runs
from wetside.journal.reader import Reader
from wetside.journal.rows import EVENT, RUN, RUN_JOINS
from wetside.journal.schema import RunFilter
from wetside.journal.writer import CHECK_SECONDS, Writer

EVENTS = 40
PER_BATCH = 20
RUN_SECONDS = 1800
START_MS = 1_600_000_000_000
CHUNK = 1000
STATES = ("finished", "finished", "finished", "abandoned")


def run_id(number: int) -> str:
    """An invented run id that sorts by time."""
    return f"01J{number:023d}"


def build(path: Path, runs: int, samples: int) -> None:
    """Make the journal."""
    Writer(path, "sink-1").close()
    batches = samples // PER_BATCH
    width = EVENTS + batches
    connection = sqlite3.connect(path, isolation_level=None)
    for pragma in ("synchronous=OFF", "cache_size=-200000", "locking_mode=EXCLUSIVE"):
        connection.execute(f"PRAGMA {pragma}").fetchall()
    connection.execute("INSERT INTO station VALUES (1, 'sink-1', 1)")
    connection.execute("INSERT INTO boot VALUES (1, 1, 'boot-1', 1, 0)")
    connection.executemany("INSERT INTO probe VALUES (?, ?)", [(1, "bath"), (2, "developer")])
    counter = "WITH RECURSIVE {0}(i) AS (SELECT {1} UNION ALL SELECT i + 1 FROM {0} WHERE i < {2})"
    for low in range(0, runs, CHUNK):
        high = min(runs, low + CHUNK) - 1
        r = counter.format("r", low, high)
        k = f", k(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM k WHERE i < {batches - 1})"
        n = f", n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < {PER_BATCH - 1})"
        e = f", e(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM e WHERE i < {EVENTS - 1})"
        began = f"({START_MS} + r.i * {RUN_SECONDS}000)"
        seq = f"1 + r.i * {width}"
        connection.execute("BEGIN")
        connection.executemany(
            "INSERT INTO run VALUES (?1, ?2, 1, ?3, ?4, ?5, 'A sheet', 1, ?6, ?6, 1, 1, "
            "?6 + 1700000, ?6 + 1700000, 1, ?6, ?7, ?8, ?9, 24000, 300, 23900, 390000, 391000)",
            [
                (
                    i + 1,
                    run_id(i),
                    1 + i * width,
                    (i + 1) * width,
                    ("warm-24", "cool-20", "two-reels")[i % 3],
                    START_MS + i * RUN_SECONDS * 1000,
                    STATES[i % 4],
                    int(i % 7 != 0),
                    '["late"]' if i % 50 == 0 else "[]",
                )
                for i in range(low, high + 1)
            ],
        )
        connection.execute(
            "INSERT INTO run_flag SELECT 'late', listed_ms, number FROM run "
            "WHERE number BETWEEN ? AND ? AND flags <> '[]'",
            (low + 1, high + 1),
        )
        connection.execute(
            f"{r}{e} INSERT INTO event SELECT 1, {seq} + e.i, r.i + 1, 1, "
            f"{began} + e.i * 40000, {began} + e.i * 40000, 1, 'agitate', "
            '\'{"step":"develop","number":\' || e.i || \'}\' FROM r CROSS JOIN e'
        )
        connection.execute(
            f"{r}{k} INSERT INTO batch SELECT 1, {seq} + {EVENTS} + k.i, r.i + 1, 1, "
            f"{began} + k.i * 10000, {began} + k.i * 10000, 1, "
            f"r.i * {samples} + (k.i + 1) * {PER_BATCH} FROM r CROSS JOIN k"
        )
        connection.execute(
            f"{r}{k}{n} INSERT INTO sample SELECT 1, {seq} + {EVENTS} + k.i, n.i, "
            "(n.i / 2) * 1000 - 9250, 1 + n.i % 2, 2 - n.i % 2, 0, 20000 + (k.i * 37 + n.i) % 4000 "
            "FROM r CROSS JOIN k CROSS JOIN n"
        )
        connection.execute("COMMIT")
    connection.close()


def timed(ask: Callable[[int], object], times: int) -> tuple[float, float]:
    """Median and 95 % quantile in milliseconds of asking with changing numbers."""
    ask(0)
    took = []
    for number in range(times):
        begun = time.perf_counter()
        ask(number)
        took.append((time.perf_counter() - begun) * 1e3)
    return statistics.median(took), statistics.quantiles(took, n=20)[18]


def main() -> int:
    """Build, ask, print a table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    parser.add_argument("--runs", type=int, default=100_000)
    parser.add_argument("--samples", type=int, default=1000, help="of each run")
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--folder", type=Path, default=None)
    parser.add_argument("--keep", type=Path, default=None)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=given.folder) as folder:
        path = given.keep or Path(folder) / "journal.sqlite"
        begun = time.monotonic()
        if not path.exists():
            build(path, given.runs, given.samples)
        print(
            f"{given.runs:,} runs, {given.runs * given.samples:,} samples, "
            f"{path.stat().st_size / 1e9:.2f} GB, made in {time.monotonic() - begun:.0f} s\n"
        )
        ask_all(path, given.runs, given.times)
    return 0


def ask_all(path: Path, runs: int, times: int) -> None:
    """Time every question."""
    reader = Reader(path)
    plain = sqlite3.connect(f"file:{path}?mode=ro", uri=True, isolation_level=None)
    chance = random.Random(1)
    picks = [chance.randrange(runs) for _ in range(times)]

    def place(pick: int) -> str:
        return f"{START_MS + pick * RUN_SECONDS * 1000}.{pick + 1}"

    def listed(which: RunFilter, name: str, *, deep: bool = False) -> None:
        def ours(number: int) -> object:
            return reader.runs(which, place(picks[number]) if deep else None, 50)

        def bare(number: int) -> object:
            text, values = select_runs(which, place(picks[number]) if deep else None, RUN_JOINS)
            return plain.execute(f"{RUN} {text} LIMIT 51", values).fetchall()

        report(name, ours, bare)

    def report(
        name: str, ours: Callable[[int], object], bare: Callable[[int], object] | None
    ) -> None:
        p50, p95 = timed(ours, times)
        against = "-" if bare is None else f"{p50 / timed(bare, times)[0]:.2f}"
        print(f"| {name} | {p50:.2f} | {p95:.2f} | {against} |")

    day = (START_MS + runs // 2 * RUN_SECONDS * 1000) / 1000
    print("| question | p50 ms | p95 ms | against bare SQLite |\n|---|---|---|---|")
    listed(RunFilter(), "first page of 50 runs")
    listed(RunFilter(), "a page anywhere in the list", deep=True)
    listed(RunFilter(state="abandoned"), "by state", deep=True)
    listed(RunFilter(sheet_name="two-reels"), "by sheet", deep=True)
    listed(RunFilter(flag="late"), "by a flag of one run in fifty", deep=True)
    listed(RunFilter(station="sink-1"), "by station", deep=True)
    listed(RunFilter(since=day, before=day + 86400), "one day")
    listed(
        RunFilter(state="abandoned", sheet_name="two-reels", window_hit=False),
        "state, sheet and missed window",
        deep=True,
    )
    report("one run", lambda n: reader.run(run_id(picks[n])), None)
    report(
        "the 40 events of a run",
        lambda n: reader.events(run_id(picks[n])),
        lambda n: plain.execute(
            f"{EVENT} WHERE event.station = 1 AND event.seq BETWEEN (SELECT first_seq FROM run "
            "WHERE number = ?1) AND (SELECT last_seq FROM run WHERE number = ?1) "
            "AND event.run = ?1",
            (picks[n] + 1,),
        ).fetchall(),
    )
    report(
        "all samples of a run",
        lambda n: list(reader.samples(run_id(picks[n]))),
        lambda n: plain.execute(
            "SELECT b.ms + s.offset_ms, s.probe, s.place, s.condition, s.millicelsius "
            "FROM run CROSS JOIN batch b ON b.station = 1 "
            "AND b.seq BETWEEN run.first_seq AND run.last_seq CROSS JOIN sample s "
            "ON s.station = 1 AND s.seq = b.seq WHERE run.number = ?1 AND b.run = ?1",
            (picks[n] + 1,),
        ).fetchall(),
    )
    report("the open run, for the resume", lambda _: reader.open_run(), None)
    report("health without the check", lambda _: reader.health(), None)
    begun = time.monotonic()
    with Writer(path, "sink-1") as writer:
        took = time.monotonic() - begun
        print(
            f"\nThe station's start took {took:.1f} s of its {CHECK_SECONDS:g} s for the check, "
            f"{'all' if writer.opening.check_complete else 'not all'} of it checked."
        )
    plain.close()


if __name__ == "__main__":
    sys.exit(main())
