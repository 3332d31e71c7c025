"""Inside the machine under test: read the journal and tell the host through the console.

``check``: is the journal whole, and is everything there that was promised before the plug was
pulled? Printed as one line ``CHECK {...}``. The host gives the promised numbers on the kernel's
command line.
``ack``: print ``ACK {...}`` as soon as an event can be read, which is after it is on the disk.
``wait``: return when a run has ended.

Only what the language brings: it starts the sooner.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import sys
import time
from pathlib import Path

JOURNAL = Path("/var/lib/wetside/journal.sqlite")
LIVE = Path("/run/wetside/live.json")
RUNS = "SELECT count(*), count(ended_ms) FROM run"
EVENTS = "SELECT seq, kind, detail FROM event WHERE seq > ? AND seq <= ? ORDER BY seq"
BATCHES = "SELECT count(*), coalesce(max(seq), 0) FROM batch WHERE seq <= ?"
ALL = 1 << 60


class Kept:
    """How many events there are up to a number, and the digest of all that they say."""

    def __init__(self) -> None:
        self.count = 0
        self.seq = 0
        self.kind = ""
        self._hash = hashlib.sha256()

    def read(self, connection: sqlite3.Connection, up_to: int = ALL) -> bool:
        """Read on; True when there was something new."""
        rows = connection.execute(EVENTS, (self.seq, up_to)).fetchall()
        for row in rows:
            self.count += 1
            self.seq, self.kind = row[0], row[1]
            self._hash.update(repr(row).encode())
        return bool(rows)

    @property
    def digest(self) -> str:
        """The digest up to here."""
        return self._hash.copy().hexdigest()[:16]


def connect() -> sqlite3.Connection:
    """Open the journal for reading; it may not be there yet."""
    while not JOURNAL.exists():
        time.sleep(0.2)
    return sqlite3.connect(
        f"{JOURNAL.as_uri()}?mode=ro", uri=True, isolation_level=None, timeout=10
    )


def say(line: str) -> None:
    """Write a line to the console that the host reads."""
    with Path("/dev/console").open("w", encoding="utf-8") as console:
        console.write(line + "\r\n")


def asked(name: str) -> int:
    """A number from the kernel's command line, 0 where it is not there."""
    for word in Path("/proc/cmdline").read_text(encoding="ascii").split():
        key, _, value = word.partition("=")
        if key == f"wetside.{name}":
            return int(value)
    return 0


def live() -> dict[str, object]:
    """What the station says now; empty when it says nothing."""
    try:
        values: dict[str, object] = json.loads(LIVE.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return values


def uptime() -> float:
    """Seconds of this boot."""
    return time.clock_gettime(time.CLOCK_BOOTTIME)


def check() -> None:
    """Wait for the station, read everything and print what is there."""
    end = uptime() + 300.0  # as long as systemd lets it
    while not live() and uptime() < end:
        time.sleep(0.2)
    if not JOURNAL.exists():
        say("CHECK {}")
        return
    connection = connect()
    one = connection.execute
    promised, all_of_it = Kept(), Kept()
    promised.read(connection, asked("promised"))
    all_of_it.read(connection)
    kinds = dict(one("SELECT kind, count(*) FROM event GROUP BY kind"))
    found: dict[str, object] = {
        "integrity": one("PRAGMA integrity_check").fetchone()[0],
        "foreign": len(one("PRAGMA foreign_key_check").fetchall()),
        "kept": [promised.count, promised.seq, promised.digest],
        "kept_batches": one(BATCHES, (asked("batches"),)).fetchone(),
        "events": all_of_it.count,
        "last": all_of_it.seq,
        "batches": one(BATCHES, (ALL,)).fetchone()[0],
        "runs": one(RUNS).fetchone(),
        "started": kinds.get("station-started", 0),
        "power_lost": kinds.get("power-lost", 0),
        "continued": kinds.get("continue", 0),
        "set_aside": kinds.get("journal-set-aside", 0),
        "state": live().get("state"),
        "files": sorted(path.name for path in JOURNAL.parent.iterdir()),
        "gap": gap(connection),
        "uptime": uptime(),
    }
    connection.close()
    say("CHECK " + json.dumps(found))


def gap(connection: sqlite3.Connection) -> dict[str, object] | None:
    """What this boot says about the time without power, where it took up a run.

    ``last_ms`` is the last moment of the boot before, ``now_ms`` when this boot began to go on,
    each on its own boot's clock.
    """
    one = connection.execute
    boot = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    row = one(
        "SELECT detail, ms, seq, run FROM event JOIN boot ON boot.number = event.boot "
        "WHERE kind = 'power-lost' AND boot.id = ? ORDER BY seq LIMIT 1", (boot,)
    ).fetchone()  # fmt: skip
    if row is None:
        return None
    detail = json.loads(row[0])
    number, last_boot = one(
        "SELECT boot.number, boot.id FROM event JOIN boot ON boot.number = event.boot "
        "WHERE run = ? AND seq < ? ORDER BY seq DESC LIMIT 1", (row[3], row[2])
    ).fetchone()  # fmt: skip
    last_ms = one(
        "SELECT max(ms) FROM (SELECT ms FROM event WHERE boot = ?1 UNION ALL "
        "SELECT ms FROM batch WHERE boot = ?1)", (number,)
    ).fetchone()[0]  # fmt: skip
    return {
        "text": detail["gap_text"],
        "seconds": detail["gap_seconds"],
        "at_least": detail["at_least_seconds"],
        "at_most": detail["at_most_seconds"],
        "now_ms": row[1],
        "boot": boot,
        "last_ms": last_ms,
        "last_boot": last_boot,
    }


def acknowledge() -> None:
    """Follow the journal for ever."""
    connection = connect()
    kept, told = Kept(), ""
    boot = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    while True:
        now = live()
        step = now.get("step")
        state = f"{now.get('state')} {step['kind'] if isinstance(step, dict) else ''}".strip()
        try:
            new = kept.read(connection)
            if new or state != told:
                told = state
                line = {
                    "kept": [kept.count, kept.seq, kept.digest],
                    "batches": connection.execute(BATCHES, (ALL,)).fetchone(),
                    "runs": connection.execute(RUNS).fetchone(),
                    "kind": kept.kind,
                    "state": state,
                    "boot": boot,
                    "uptime": uptime(),
                }
                say("ACK " + json.dumps(line))
        except sqlite3.Error:
            pass
        time.sleep(0.1)


def wait_for_run() -> None:
    """Return when one more run has ended than at the start."""
    connection = connect()
    count = "SELECT count(*) FROM run WHERE ended_ms IS NOT NULL"
    before = None
    while True:
        try:
            now = connection.execute(count).fetchone()[0]
        except sqlite3.Error:
            now = None
        if before is None:
            before = now
        elif now is not None and now > before:
            return
        time.sleep(0.5)


if __name__ == "__main__":
    {"check": check, "ack": acknowledge, "wait": wait_for_run}[sys.argv[1]]()
