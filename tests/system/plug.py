"""Pull the plug of the disk under a working station, hundreds of times in minutes.

``python tests/system/plug.py --cuts 200 --control``

The station works at a simulated sink; its data lie on an ext4 of their own, in a file. A cut
copies that file in one indivisible step (a reflink on XFS) at a random moment: the copy holds what
the disk had been given by then, and nothing of what the kernel still held in memory, as after a
pulled plug. Each copy is mounted, which replays the file system's own log, and its journal must be
whole and hold every event that could be read before the cut.

``--control`` does the same to plain SQLite writers with weaker settings, to show that losses are
seen. Needs root, loop devices and xfsprogs. A card that lies about what it has written is not
simulated.
"""

from __future__ import annotations

import argparse
import contextlib
import fcntl
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

GUEST = Path(__file__).with_name("guest")
FICLONE = 0x40049409  # linux/fs.h
SPEED = 8.0
WRITER = """
import sqlite3, sys, time
c = sqlite3.connect(sys.argv[1], isolation_level=None)
c.execute("PRAGMA journal_mode=WAL"); c.execute("PRAGMA synchronous=" + sys.argv[2])
c.execute("CREATE TABLE event(seq INTEGER PRIMARY KEY, detail TEXT)")
while True:
    c.execute("INSERT INTO event(detail) VALUES (?)", ("x" * 200,)); time.sleep(0.05)
"""


def sh(*words: str | Path) -> None:
    """Run a command that must succeed."""
    subprocess.run(list(map(str, words)), check=True, capture_output=True)


@contextlib.contextmanager
def mounted(image: Path, place: Path) -> Iterator[Path]:
    """Mount an image file while the block runs."""
    place.mkdir(exist_ok=True)
    sh("mount", "-o", "loop", image, place)
    try:
        yield place
    finally:
        for attempt in range(20):
            if subprocess.run(["umount", place], check=False, capture_output=True).returncode == 0:
                break
            time.sleep(0.1 * attempt)


@dataclass(slots=True)
class Tally:
    """What all cuts together gave."""

    cuts: int = 0
    in_open_run: int = 0
    damaged: int = 0
    lost_cuts: int = 0
    lost_events: int = 0
    beyond: int = 0
    longest_clone_ms: float = 0.0
    faults: list[str] = field(default_factory=list)


def last_event(connection: sqlite3.Connection) -> int:
    """Give the number of the newest event that can be read."""
    return int(connection.execute("SELECT coalesce(max(seq), 0) FROM event").fetchone()[0])


def clone(source: Path, target: Path) -> float:
    """Copy in one indivisible step; give the milliseconds that it took."""
    begun = time.monotonic()
    with source.open("rb") as one, target.open("wb") as two:
        fcntl.ioctl(two.fileno(), FICLONE, one.fileno())
    return 1000.0 * (time.monotonic() - begun)


def judge(copy: Path, place: Path, promised: int, tally: Tally) -> None:
    """Mount a copy as after a restart, and count what is missing."""
    with mounted(copy, place) as after:
        connection = sqlite3.connect(after / "journal.sqlite", isolation_level=None)
        try:
            found = last_event(connection)
            problems = [
                row[0] for row in connection.execute("PRAGMA integrity_check") if row[0] != "ok"
            ]
            problems += [str(row) for row in connection.execute("PRAGMA foreign_key_check")]
        except sqlite3.OperationalError as error:
            if "no such table" not in str(error):
                raise
            found, problems = 0, []  # whole, but not even the first commit is there
        except sqlite3.DatabaseError as error:
            found, problems = 0, [str(error)]
        finally:
            connection.close()
    if problems:
        tally.damaged += 1
        tally.faults.append(f"cut {tally.cuts}: {problems[0]}")
    if found < promised:
        tally.lost_cuts += 1
        tally.lost_events += promised - found
        tally.faults.append(f"cut {tally.cuts}: {promised} promised, {found} found")
    tally.beyond += max(0, found - promised)


def pull(disk: Path, data: Path, cuts: int, seed: int, open_runs: str | None) -> Tally:
    """Cut so many times at random moments while something writes to ``data``."""
    rng, tally, journal = random.Random(seed), Tally(), data / "journal.sqlite"
    while not journal.exists():
        time.sleep(0.1)
    time.sleep(1.0)
    reader = sqlite3.connect(f"{journal.as_uri()}?mode=ro", uri=True, isolation_level=None)
    for _ in range(cuts):
        time.sleep(rng.uniform(0.05, 1.2))
        tally.cuts += 1
        is_open = reader.execute(open_runs).fetchone()[0] if open_runs else 0
        promised = last_event(reader)
        copy = disk.with_name("cut.img")
        tally.longest_clone_ms = max(tally.longest_clone_ms, clone(disk, copy))
        tally.in_open_run += bool(is_open)
        judge(copy, disk.parent / "after", promised, tally)
        copy.unlink()
    reader.close()
    return tally


def make_disk(store: Path) -> Path:
    """Make an empty ext4 in a file."""
    disk = store / "disk.img"
    disk.unlink(missing_ok=True)
    sh("truncate", "-s", "64M", disk)
    sh("mke2fs", "-q", "-t", "ext4", disk)
    return disk


def station(store: Path, work: Path, cuts: int, seed: int) -> Tally:
    """Cut under the real station with a student at a simulated sink."""
    disk = make_disk(store)
    (work / "sheets").mkdir(exist_ok=True)
    shutil.copy(GUEST / "brief.toml", work / "sheets" / "0-brief.toml")
    with mounted(disk, work / "data") as data:
        text = (GUEST / "station.toml").read_text(encoding="utf-8")
        for old, new in (
            ("/var/lib/wetside", data), ("/run/wetside", work / "live"),
            ("/etc/wetside/sheets", work / "sheets"), ("/run/proof", work / "proof"),
        ):  # fmt: skip
            text = text.replace(old, str(new))
        (work / "station.toml").write_text(text, encoding="utf-8")
        (work / "proof" / "w1").mkdir(parents=True, exist_ok=True)
        environment = {
            **os.environ,
            "WETSIDE_SPEED": str(SPEED),
            "WETSIDE_PROOF": str(work / "proof"),
            "WETSIDE_SETTINGS": str(work / "station.toml"),
        }
        commands = [
            [sys.executable, str(GUEST / "sink.py")],
            [sys.executable, "-m", "wetside", "station", "--settings", str(work / "station.toml"),
             "--parts-from", str(work / "proof" / "pins"), "--speed", str(SPEED)],
        ]  # fmt: skip
        running = [subprocess.Popen(command, env=environment) for command in commands]
        try:
            return pull(disk, data, cuts, seed, "SELECT count(*) FROM run WHERE ended_ms IS NULL")
        finally:
            for process in running:
                process.kill()
                process.wait()


def control(store: Path, work: Path, cuts: int, seed: int, synchronous: str) -> Tally:
    """Cut under a plain SQLite writer with a given setting of ``synchronous``."""
    disk = make_disk(store)
    with mounted(disk, work / "data") as data:
        command = [sys.executable, "-c", WRITER, str(data / "journal.sqlite"), synchronous]
        writer = subprocess.Popen(command)
        try:
            return pull(disk, data, cuts, seed, None)
        finally:
            writer.kill()
            writer.wait()


def tell(name: str, tally: Tally) -> None:
    """Print one line of results."""
    print(
        f"{name}: {tally.cuts} cuts ({tally.in_open_run} in an open run), damaged {tally.damaged}, "
        f"cuts with a loss {tally.lost_cuts}, events lost {tally.lost_events}, "
        f"events beyond the promised {tally.beyond}, longest copy {tally.longest_clone_ms:.0f} ms",
        flush=True,
    )
    for fault in tally.faults[:3]:
        print(f"    {fault}")


def main() -> int:
    """Pull, count, print; exit 1 where the station lost anything."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--cuts", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--control", action="store_true", help="also the weaker settings")
    chosen = parser.parse_args()
    if os.geteuid() != 0 or shutil.which("mkfs.xfs") is None:
        parser.error("needs root and xfsprogs")
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        image = work / "store.img"
        sh("truncate", "-s", "600M", image)
        sh("mkfs.xfs", "-q", "-m", "reflink=1", image)
        with mounted(image, work / "store") as store:
            found = station(store, work, chosen.cuts, chosen.seed)
            tell("station", found)
            if chosen.control:
                for setting in ("FULL", "NORMAL", "OFF"):
                    plain = control(store, work, chosen.cuts // 4, chosen.seed, setting)
                    tell(f"control, synchronous={setting}", plain)
    return 1 if found.damaged or found.lost_events else 0


if __name__ == "__main__":
    sys.exit(main())
