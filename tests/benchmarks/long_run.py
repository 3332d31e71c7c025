"""Thirty school days in one process, to see whether anything grows that should not.

    python tests/benchmarks/long_run.py --days 30 --rolls 4

A station at a simulated sink on virtual time takes four rolls a day, each at another sink, by
students of five kinds, with a fault in every third roll, and stands idle for ten minutes after
each. Nights are passed over: the process and all of its parts stay. After each day the
kernel's account of the process is read, and the sizes of its files. What the simulation keeps
for whoever watches (edges of pins, deeds of hands) is thrown away after each roll.
"""

from __future__ import annotations

import argparse
import gc
import os
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from wetside.commands.bench.rig import Rig, RigOptions
from wetside.journal.reader import Reader
from wetside.session import sheet as sheets
from wetside.session.run import State
from wetside.session.sheet import Sheet
from wetside.sim import sink as water
from wetside.sim.faults import parse
from wetside.sim.scripts import script
from wetside.sim.situation import Arrangement, Situation, usual
from wetside.sim.student import Student

STUDENTS = ("scripted", "late", "disturbing", "unplugging", "pausing")
FAULTS = (
    "unplug probe 100 40",
    "bus-gone 150 20",
    "display-lost 200 60",
    "bad-crc 0 900 0.1",
    "bounce 0 2000 4",
    "power-on probe 120 8",
)
IDLE_SECONDS = 600.0
_MEBI = 2**20


@dataclass(frozen=True, slots=True)
class Day:
    """What stands at the end of a day; bytes, and counts."""

    number: int
    resident_bytes: int
    objects: int
    files_open: int
    threads: int
    journal_bytes: int
    log_bytes: int
    other_bytes: int
    runs: int
    real_seconds: float


def resident_bytes() -> int:
    """Memory of this process that is in RAM (proc(5), statm)."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")


def slope(values: Sequence[float]) -> float:
    """Least-squares growth of a value from each day to the next."""
    count = len(values)
    middle, mean = (count - 1) / 2, sum(values) / count
    above = sum((day - middle) * (value - mean) for day, value in enumerate(values))
    return above / sum((day - middle) ** 2 for day in range(count))


def _new_sink(rig: Rig, sheet: Sheet, seed: int, situation: Situation | None) -> None:
    """Fresh water, fresh developer, another student: what a class finds."""
    world = rig.world
    situation = situation or usual(sheet.setup(), seed, Arrangement.DEVELOPER)
    world._sink = situation.sink
    world._water = water.start(situation.sink, situation.developer_celsius, situation.bath_celsius)
    world._poured = None
    world._hands = water.Controls()
    kind = STUDENTS[seed % len(STUDENTS)]
    rig.student = Student(world, script(kind, Arrangement.DEVELOPER), sheet.setup(), seed=seed)
    if seed % 3 == 0:
        world.bring(parse(FAULTS[seed // 3 % len(FAULTS)], world.situation.probe_names))


def _account(rig: Rig, number: int, began: float) -> Day:
    rig.journal.settled(60.0)
    gc.collect()
    folder = rig.options.data_folder
    sizes = {path: path.stat().st_size for path in folder.rglob("*") if path.is_file()}
    journal, log = folder / "journal.sqlite", folder / "journal.sqlite-wal"
    with Reader(journal) as reader:
        runs = reader.health().runs
    return Day(
        number,
        resident_bytes(),
        len(gc.get_objects()),
        len(list(Path("/proc/self/fd").iterdir())),
        threading.active_count(),
        sizes.pop(journal),
        sizes.pop(log, 0),
        sum(sizes.values()),
        runs,
        time.monotonic() - began,
    )


def school_days(
    folder: Path,
    sheet: Sheet,
    *,
    days: int,
    rolls: int,
    idle_seconds: float = IDLE_SECONDS,
    situation: Situation | None = None,
    told: Callable[[Day], object] = lambda _: None,
) -> list[Day]:
    """Live through them; the account of each. Every roll has another sink, or ``situation``.

    Raises
    ------
    RuntimeError
        A roll did not end with the film on the line.
    """
    first = usual(sheet.setup(), 1, Arrangement.DEVELOPER)
    options = RigOptions(folder, sheet, first, script("scripted", Arrangement.DEVELOPER))
    rig = Rig(options)
    accounts = []
    try:
        for day in range(1, days + 1):
            began = time.monotonic()
            for roll in range(rolls):
                seed = (day - 1) * rolls + roll + 1
                _new_sink(rig, sheet, seed, situation)
                summary = rig.run_roll()
                if summary is None or summary.state is not State.FINISHED:
                    raise RuntimeError(f"day {day}, roll {roll + 1}: {summary}")
                idle = rig.clock.now() + idle_seconds
                rig.turn_until(lambda end=idle: rig.clock.now() >= end)  # type: ignore[misc]
                rig.world.pins.edges.clear()
                rig.world.actions.clear()
            accounts.append(_account(rig, day, began))
            told(accounts[-1])
    finally:
        rig.close()
    return accounts


def line(day: Day) -> str:
    """A row of the table."""
    return (
        f"| {day.number} | {day.runs} | {day.resident_bytes / _MEBI:.1f} | {day.objects} "
        f"| {day.files_open} | {day.threads} | {day.journal_bytes / 1e6:.2f} "
        f"| {day.log_bytes / 1e6:.2f} | {day.other_bytes / 1e3:.1f} | {day.real_seconds:.0f} |"
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=30)
    parser.add_argument("--rolls", type=int, default=4, help="in a day")
    asked = parser.parse_args()
    sheet = sheets.load(sheets.available([sheets.shipped_folder()])[0])
    print("| day | runs | resident MiB | objects | files | threads | journal MB | log MB "
          "| other kB | took s |")  # fmt: skip
    print("|---|---|---|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        days = school_days(
            Path(folder),
            sheet,
            days=asked.days,
            rolls=asked.rolls,
            told=lambda day: print(line(day), flush=True),
        )
    warm = days[len(days) // 3 :]
    if len(warm) > 2:
        print(f"memory grows by {slope([d.resident_bytes for d in warm]) / 1024:.1f} KiB a day")
        print(f"objects grow by {slope([d.objects for d in warm]):.1f} a day")
        growth = [after.journal_bytes - one.journal_bytes for one, after in zip(warm, warm[1:])]  # noqa: B905, RUF007  # one is shorter on purpose
        print(f"the journal grows by {min(growth) / 1e3:.0f} to {max(growth) / 1e3:.0f} kB a day")


if __name__ == "__main__":
    main()
