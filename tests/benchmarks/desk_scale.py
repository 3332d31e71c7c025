"""How fast the desk answers over a very large journal, and what two hundred viewers cost.

    python tests/benchmarks/desk_scale.py pages [--runs 100000] [--samples 100] [--keep FILE]
    python tests/benchmarks/desk_scale.py viewers [--viewers 200] [--seconds 20]

``pages`` asks a served desk over one connection and, in turn, plain SQLite for the same rows;
the journal comes from tests/benchmarks/journal_scale.py. ``viewers`` opens that many streams
while the live file is replaced twice a second. How late cues are meanwhile is measured with real
stations by tests/benchmarks/cue_jitter.py.
"""

from __future__ import annotations

import argparse
import asyncio
import importlib.util
import os
import random
import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import httpx2

from wetside.journal.query import select_runs
from wetside.journal.rows import EVENT, RUN, RUN_JOINS
from wetside.journal.schema import RunFilter

if TYPE_CHECKING:
    from types import ModuleType

HERE = Path(__file__)


def beside(path: Path) -> ModuleType:
    """A script of this project as a module."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    return module


@contextmanager
def desk(journal: Path, folder: Path) -> Iterator[tuple[str, int]]:
    """A desk in a process of its own: its address and process id."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    process = subprocess.Popen(
        [
            sys.executable, "-m", "wetside_desk", "--journal", str(journal),
            "--live", str(folder), "--data", str(folder / "desk"), "--port", str(port),
        ]
    )  # fmt: skip
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(600):
            try:
                httpx2.get(f"{address}/v1/station", timeout=5)
                break
            except httpx2.TransportError:
                time.sleep(0.1)
        yield address, process.pid
    finally:
        process.terminate()
        process.wait()


def pages(runs: int, samples: int, keep: Path | None, times: int) -> None:
    """Print the table of the pages."""
    built = beside(HERE.with_name("journal_scale.py"))
    with tempfile.TemporaryDirectory() as text:
        folder = Path(text)
        path = keep or folder / "journal.sqlite3"
        if not path.exists():
            built.build(path, runs, samples)
        size = path.stat().st_size / 1e9
        print(f"{runs:,} runs, {runs * samples:,} samples, {size:.2f} GB\n")
        plain = sqlite3.connect(f"file:{path}?mode=ro", uri=True, isolation_level=None)
        chance = random.Random(1)
        picks = [chance.randrange(runs) for _ in range(times)]

        def bare_list(which: RunFilter, limit: int) -> Callable[[int], object]:
            query, values = select_runs(which, None, RUN_JOINS)
            return lambda _: plain.execute(f"{RUN} {query} LIMIT {limit}", values).fetchall()

        def bare_run(pick: int) -> object:
            return plain.execute(
                f"{EVENT} WHERE event.station = 1 AND event.seq BETWEEN (SELECT first_seq FROM "
                "run WHERE number = ?1) AND (SELECT last_seq FROM run WHERE number = ?1) "
                "AND event.run = ?1",
                (pick + 1,),
            ).fetchall()

        print("| question | p50 ms | p95 ms | bare SQLite p50 ms | ratio |")
        print("|---|---|---|---|---|")
        with desk(path, folder) as (address, _), httpx2.Client(timeout=120) as client:
            for name, link, bare in (
                ("list, first page, API", "/v1/runs?limit=50", bare_list(RunFilter(), 51)),
                ("list, page for people", "/", bare_list(RunFilter(), 41)),
                (
                    "filter by flag",
                    "/v1/runs?flag=late&limit=50",
                    bare_list(RunFilter(flag="late"), 51),
                ),
                (
                    "filter by sheet and state",
                    "/v1/runs?sheet=two-reels&state=abandoned&limit=50",
                    bare_list(RunFilter(sheet_name="two-reels", state="abandoned"), 51),
                ),
                ("one run, API", "/v1/runs/{run}", bare_run),
                ("one run, page with two charts", "/runs/{run}", bare_run),
            ):
                ours: list[float] = []
                theirs: list[float] = []
                for pick in picks:
                    asked = f"{address}{link.format(run=built.run_id(pick))}"
                    begun = time.perf_counter()
                    answer = client.get(asked)
                    ours.append((time.perf_counter() - begun) * 1e3)
                    assert 200 == answer.status_code, answer.text
                    begun = time.perf_counter()
                    bare(pick)
                    theirs.append((time.perf_counter() - begun) * 1e3)
                middle, bottom = statistics.median(ours), statistics.median(theirs)
                late = statistics.quantiles(ours, n=20)[18]
                print(
                    f"| {name} | {middle:.1f} | {late:.1f} | {bottom:.2f} | {middle / bottom:.0f} |"
                )


def speaking(folder: Path, seconds: float) -> None:
    """Replace the live file twice a second, as the station does."""
    school = beside(HERE.parents[1] / "desk" / "invented.py")
    ends = time.monotonic() + seconds
    while time.monotonic() < ends:
        school.write_live(folder / "live.json", at=time.monotonic())
        time.sleep(0.5)


async def watching(address: str, viewers: int, stop: threading.Event, got: list[int]) -> None:
    """Open the streams and count what comes until told to stop."""
    port = int(address.rsplit(":", 1)[1])

    async def one(number: int) -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(b"GET /live/words HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        while not stop.is_set():
            try:
                line = await asyncio.wait_for(reader.readline(), 1.0)
            except TimeoutError:
                continue
            if line.startswith(b"data:"):
                got[number] += 1
        writer.close()

    await asyncio.gather(*(one(number) for number in range(viewers)))


def cpu_seconds(pid: int) -> float:
    """Processor time that a process has used."""
    cells = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(cells[11]) + int(cells[12])) / os.sysconf("SC_CLK_TCK")


def viewers(number: int, seconds: float) -> None:
    """Print what the viewers cost."""
    print("| viewers | desk's share of a core | changes |")
    print("|---|---|---|")
    with tempfile.TemporaryDirectory() as text:
        folder = Path(text)
        for count in (0, number):
            with desk(folder / "none.sqlite3", folder) as (address, pid):
                stop, got = threading.Event(), [0] * count
                thread = threading.Thread(
                    target=lambda a=address, c=count, s=stop, g=got: asyncio.run(
                        watching(a, c, s, g)
                    )
                )
                thread.start()
                before = cpu_seconds(pid)
                speaking(folder, seconds)
                share = (cpu_seconds(pid) - before) / seconds
                stop.set()
                thread.join()
                events = f"{min(got)} to {max(got)} each" if got else "-"
                print(f"| {count} | {100 * share:.1f} % | {events} |")


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description="How fast the desk is.")
    parser.add_argument("what", choices=["pages", "viewers"])
    parser.add_argument("--runs", type=int, default=100_000)
    parser.add_argument("--samples", type=int, default=100)
    parser.add_argument("--keep", type=Path, default=None)
    parser.add_argument("--times", type=int, default=60)
    parser.add_argument("--viewers", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=20.0)
    given = parser.parse_args()
    if given.what == "pages":
        pages(given.runs, given.samples, given.keep, given.times)
    else:
        viewers(given.viewers, given.seconds)


if __name__ == "__main__":
    main()
