"""A writer that dies at any moment loses nothing that it had acknowledged."""

from __future__ import annotations

import json
import os
import random
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

from wetside.journal.reader import Reader
from wetside.journal.writer import Writer

KILLS = 24

_CHILD = """
import sys
from pathlib import Path
from wetside.clock import Moment
from wetside.journal.schema import RunRow
from wetside.journal.writer import Writer
from wetside.readings import Reading

boot = sys.argv[2]
writer = Writer(Path(sys.argv[1]), "sink-1")
writer._connection.execute("PRAGMA wal_autocheckpoint=25").fetchone()  # die in checkpoints too
for number in range(100_000):
    moment = Moment(number / 10, 1e9, False, boot)
    writer.sample(moment, [Reading(moment.seconds, "a", 20.0)], run=boot)
    row = RunRow(boot, "sink-1", "s", "S", moment, str(number)) if number % 5 == 0 else None
    seq = writer.append(moment, "tick", {"number": number, "pad": "x" * (number * 37 % 900)},
                        run=boot, row=row)
    print(f'{{"seq": {seq}, "number": {number}}}', flush=True)
"""


def _acknowledged(child: subprocess.Popen[bytes], seconds: float) -> list[dict[str, int]]:
    """Kill a child that many seconds after its start; what it acknowledged until then."""
    assert child.stdout is not None
    os.set_blocking(child.stdout.fileno(), False)
    text, until = b"", time.monotonic() + seconds
    while (left := until - time.monotonic()) > 0:
        if select.select([child.stdout], [], [], left)[0]:
            text += child.stdout.read() or b""
    child.send_signal(signal.SIGKILL)
    assert -signal.SIGKILL == child.wait()
    text += child.stdout.read() or b""
    child.stdout.close()
    return [json.loads(line) for line in text.split(b"\n")[:-1]]


def test_nothing_acknowledged_is_lost_when_the_process_is_killed(path: Path) -> None:
    """After each of 24 kills at random moments every acknowledged event is there, whole."""
    chance = random.Random(20261102)
    alive = 0
    for kill in range(KILLS):
        boot = f"boot-{kill}"
        child = subprocess.Popen(
            [sys.executable, "-c", _CHILD, str(path), boot], stdout=subprocess.PIPE
        )
        acknowledged = _acknowledged(child, chance.uniform(0.1, 0.5))
        alive += bool(acknowledged)
        if not path.exists():
            continue
        Writer(path, "sink-1").close()  # what the next start does
        with Reader(path) as reader:
            found = {event.seq: int(str(event.detail["number"])) for event in reader.events(boot)}
            samples = [sample.moment.seconds for sample in reader.samples(boot)]
            row = reader.run(boot)
            assert () == reader.health(check=True).problems
        for line in acknowledged:
            assert line["number"] == found[line["seq"]]
        assert list(range(len(found))) == sorted(found.values())
        # samples and the run's row were committed with the events, so they agree with them
        assert [number / 10 for number in range(len(found))] == samples
        if found:
            assert row is not None
            assert str((len(found) - 1) // 5 * 5) == row.state
    assert not list(path.parent.glob("*damaged*"))
    assert alive >= KILLS // 2, "too many were killed before they wrote anything: test nothing"
