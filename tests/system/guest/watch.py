"""Inside the machine under test: read the journal and tell the host through the console.

``check``: is the journal whole, and which events does it hold? Printed as one line ``CHECK {...}``.
``ack``: print ``ACK n`` as soon as event n can be read, which is after it is on the disk.
``wait``: return when a run has ended.
"""

from __future__ import annotations

import json
import sqlite3
import sys
import time
from pathlib import Path

JOURNAL = Path("/var/lib/wetside/journal.sqlite")
OPEN_RUNS = "SELECT count(*) FROM run WHERE ended_ms IS NULL"


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


def check() -> None:
    """Read everything and print what is there."""
    if not JOURNAL.exists():
        say("CHECK {}")
        return
    connection = connect()
    one = connection.execute
    integrity = one("PRAGMA integrity_check").fetchone()[0]
    foreign = one("PRAGMA foreign_key_check").fetchall()
    events = [row[0] for row in one("SELECT seq FROM event ORDER BY seq")]
    kinds = dict(one("SELECT kind, count(*) FROM event GROUP BY kind"))
    found = {
        "integrity": integrity,
        "foreign": len(foreign),
        "events": [len(events), events[-1] if events else 0],
        "batches": one("SELECT count(*) FROM batch").fetchone()[0],
        "runs": one("SELECT count(*), count(ended_ms) FROM run").fetchone(),
        "started": kinds.get("station-started", 0),
        "power_lost": kinds.get("power-lost", 0),
        "set_aside": kinds.get("journal-set-aside", 0),
        "files": sorted(path.name for path in JOURNAL.parent.iterdir()),
    }
    row = one(
        "SELECT detail FROM event WHERE kind = 'power-lost' ORDER BY seq DESC LIMIT 1"
    ).fetchone()
    if row:
        found["gap"] = json.loads(row[0]).get("gap_text")
    connection.close()
    say("CHECK " + json.dumps(found))


def acknowledge() -> None:
    """Follow the journal for ever."""
    connection = connect()
    last = -1
    while True:
        try:
            (now,) = connection.execute("SELECT max(seq) FROM event").fetchone()
            state = connection.execute(
                "SELECT count(*) FROM run WHERE ended_ms IS NULL"
            ).fetchone()[0]
        except sqlite3.Error:
            now, state = None, 0
        if now is not None and now != last:
            last = now
            say(f"ACK {now} {state}")
        time.sleep(0.05)


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
