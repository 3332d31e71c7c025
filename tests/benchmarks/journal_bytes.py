"""What the journal costs a card: bytes written per hour, growth, and how long a call takes.

    python tests/benchmarks/journal_bytes.py [--hours 1] [--folder FOLDER]

The same hour of a busy sink (two probes at 1 Hz, a forecast every 5 s, an event every 15 s)
is written in one process by this project's writer, by the same tables with a commit after each
call, and in the way one would first think of: a plain table for each, the library's default
rollback journal, one commit for each row. Bytes are the kernel's count of what this process
caused to be sent to the disk (``write_bytes`` of /proc/self/io), so the folder must be on a
disk: on tmpfs the count is zero and the script says so.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from wetside.clock import Moment
from wetside.journal.schema import RunRow
from wetside.journal.thread import WriterThread
from wetside.journal.writer import Writer
from wetside.outlook import Outlook, Quantiles, Temperature
from wetside.readings import Place, Reading

RUN = "01JBN8D0000000000000000001"


@dataclass
class Cost:
    """What one way of writing cost."""

    name: str
    written_bytes: int = 0
    file_bytes: int = 0
    event_seconds: list[float] = field(default_factory=list)


def written() -> int:
    """Bytes that this process has caused to be sent to the disk so far."""
    lines = Path("/proc/self/io").read_text(encoding="ascii").splitlines()
    count = dict(line.split(": ") for line in lines)
    return int(count["write_bytes"])


def hour_of_work(hours: float) -> Iterator[tuple[str, Moment, object]]:
    """Samples, forecasts and events of a busy sink, second by second."""
    for second in range(round(3600 * hours)):
        moment = Moment(float(second), 1.79e9 + second, True, "boot")
        bath = 18.5 + (second % 700) / 400
        yield (
            "sample",
            moment,
            [
                Reading(second - 0.25, "bath", round(bath * 16) / 16, Place.BATH),
                Reading(second - 0.10, "developer", round((bath + 2) * 16) / 16, Place.DEVELOPER),
            ],
        )
        if second % 5 == 0:
            ready = Quantiles(90.0 + second % 60, 120.5 + second % 60, 160.0)
            yield (
                "forecast",
                moment,
                Outlook(
                    moment.seconds,
                    Temperature(bath + 2, 0.07),
                    Temperature(bath, 0.04),
                    ready,
                    Quantiles(None, None, None),
                    0.03,
                ),
            )
        if second % 15 == 7:
            yield "event", moment, {"step": "develop", "number": second // 15, "cue": "agitate"}


def row_at(moment: Moment, number: int) -> RunRow:
    """The run's row, which changes with some events only."""
    return RunRow(
        RUN, "sink-1", "warm-24", "Warm room", Moment(0.0, 1.79e9, True, "boot"), f"step {number}"
    )


def with_writer(path: Path, hours: float, name: str, *, each: bool) -> Cost:
    """The journal's writer; ``each`` commits after each call."""
    cost = Cost(name)
    before = written()
    with Writer(path, "sink-1") as writer:
        for what, moment, value in hour_of_work(hours):
            if isinstance(value, list):
                writer.sample(moment, value, RUN)
            elif isinstance(value, Outlook):
                writer.forecast(moment, value, RUN)
            elif isinstance(value, dict):
                number = int(value["number"])
                row = row_at(moment, number) if number % 10 == 0 else None
                begun = time.perf_counter()
                writer.append(moment, what, value, RUN, row)
                cost.event_seconds.append(time.perf_counter() - begun)
            if each:
                writer.flush()
    cost.written_bytes = written() - before
    cost.file_bytes = path.stat().st_size
    return cost


def naively(path: Path, hours: float, name: str) -> Cost:
    """Plain tables, default journal, one commit for each row."""
    cost = Cost(name)
    before = written()
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE reading (run, seconds, wall, probe, place, celsius)")
    connection.execute("CREATE TABLE forecast (run, seconds, wall, outlook)")
    connection.execute("CREATE TABLE event (run, seconds, wall, kind, detail)")
    connection.execute("CREATE TABLE run (id PRIMARY KEY, state)")

    def put(table: str, *cells: object) -> None:
        marks = ", ".join("?" * len(cells))
        connection.execute(f"INSERT OR REPLACE INTO {table} VALUES ({marks})", cells)
        connection.commit()

    for what, moment, value in hour_of_work(hours):
        key = (RUN, moment.seconds, moment.wall_seconds)
        if isinstance(value, list):
            for reading in value:
                put("reading", *key, reading.probe, str(reading.place), reading.celsius)
        elif isinstance(value, Outlook):
            put("forecast", *key, json.dumps([value.ready_in.p50, value.never]))
        elif isinstance(value, dict):
            begun = time.perf_counter()
            put("event", *key, what, json.dumps(value))
            if int(value["number"]) % 10 == 0:
                put("run", RUN, str(value["number"]))
            cost.event_seconds.append(time.perf_counter() - begun)
    connection.close()
    cost.written_bytes = written() - before
    cost.file_bytes = path.stat().st_size
    return cost


def queued(path: Path, hours: float, name: str) -> Cost:
    """The queue in front of the writer: how long its caller waits."""
    cost = Cost(name)
    before = written()
    with WriterThread(path, "sink-1") as thread:
        for what, moment, value in hour_of_work(hours):
            if isinstance(value, list):
                thread.sample(moment, value, RUN)
            elif isinstance(value, Outlook):
                thread.forecast(moment, value, RUN)
            elif isinstance(value, dict):
                begun = time.perf_counter()
                thread.append(moment, what, value, RUN)
                cost.event_seconds.append(time.perf_counter() - begun)
                thread.settled(10.0)
    cost.written_bytes = written() - before
    cost.file_bytes = path.stat().st_size
    return cost


def main() -> int:
    """Measure and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    parser.add_argument("--hours", type=float, default=1.0)
    parser.add_argument("--folder", type=Path, default=None, help="on the disk to be measured")
    given = parser.parse_args()
    ways: list[tuple[str, Callable[[Path, float, str], Cost]]] = [
        ("this journal", lambda p, h, n: with_writer(p, h, n, each=False)),
        ("this journal, behind its queue", queued),
        ("same tables, a commit for each call", lambda p, h, n: with_writer(p, h, n, each=True)),
        ("plain tables, default journal, a commit for each row", naively),
    ]
    with tempfile.TemporaryDirectory(dir=given.folder) as folder:
        costs = [
            way(Path(folder) / f"{number}.sqlite", given.hours, name)
            for number, (name, way) in enumerate(ways)
        ]
    if costs[0].written_bytes == 0:
        sys.stderr.write("the kernel counted no bytes: name a --folder that is on a disk\n")
        return 1
    print(
        f"{given.hours:g} h, SQLite {sqlite3.sqlite_version}, Python {platform.python_version()}, "
        f"{platform.machine()}, {os.cpu_count()} processors\n"
    )
    print("| way | written/h MB | against this | file grows/h KB | event p50 ms | p99 ms |")
    print("|---|---|---|---|---|---|")
    for cost in costs:
        times = statistics.quantiles(cost.event_seconds, n=100)
        print(
            f"| {cost.name} | {cost.written_bytes / given.hours / 1e6:.1f} "
            f"| {cost.written_bytes / costs[0].written_bytes:.1f} "
            f"| {cost.file_bytes / given.hours / 1e3:.0f} "
            f"| {times[49] * 1e3:.3f} | {times[98] * 1e3:.3f} |"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
