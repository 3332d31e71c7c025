"""What goes wrong with the disk, the journal's file and the files that people write."""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sinks.apart import SHEET, Apart
from sinks.rolls import Make, conditions, late_seconds

from wetside.journal.reader import Reader
from wetside.session import schedule
from wetside.session import sheet as sheets
from wetside.session.events import Kind
from wetside.session.run import State
from wetside.sim.situation import Situation
from wetside.station.speech import MISSED_AFTER_SECONDS

QUICK = Situation(developer_celsius=20.5, bath_celsius=18.0)

#: Each call of the journal takes this long in the slow-disk test, in real seconds.
SLOW_SECONDS = 0.3

_SLOW = f"""
import time
from wetside.journal.writer import Writer
def slow(method):
    def call(*words, **named):
        time.sleep({SLOW_SECONDS})
        return method(*words, **named)
    return call
for name in ("append", "flush"):
    setattr(Writer, name, slow(getattr(Writer, name)))
"""

_HANGING = """
import pathlib, time
from wetside.journal.writer import Writer
real = Writer.append
def hang(*words, **named):
    while pathlib.Path({flag!r}).exists():
        time.sleep(0.1)
    return real(*words, **named)
Writer.append = hang
"""


def _none_missed(sink: Apart) -> None:
    """No cue came later in real time than what would not be sounded at a sink."""
    late = sink.real_late_seconds()
    assert 10 < len(late)
    assert late[-1] < MISSED_AFTER_SECONDS


def _kept_whole(sink: Apart) -> None:
    """The run is in the journal from its begin to its end, every agitation once."""
    kinds = [event.kind for event in sink.events()]
    assert (1, 3) == (kinds.count("begin"), kinds.count("now"))
    steps = sheets.parse(SHEET, "brief").step[1:3]
    planned = [entry.kind for step in steps for entry in schedule.of_step(step)]
    for kind in (Kind.AGITATE, Kind.REST, Kind.DRAIN_DUE, Kind.END_DUE):
        assert planned.count(kind) == kinds.count(kind)
    assert () == sink.problems()
    with Reader(sink.journal) as reader:
        assert "finished" == reader.runs().rows[0].state


@pytest.mark.slow
def test_disk_full(apart: Apart) -> None:
    """Writes that the kernel refuses in the developer are told, kept in memory, written later."""
    apart.start()
    apart.pour()
    assert apart.process is not None
    soft, hard = resource.prlimit(apart.process.pid, resource.RLIMIT_FSIZE)
    # no file may grow beyond what the live file needs: to the journal the disk is full
    resource.prlimit(apart.process.pid, resource.RLIMIT_FSIZE, (16384, hard))
    apart.turn_until(lambda: bool(apart.live().get("warnings")), 200)
    (warning,) = apart.live()["warnings"]
    assert "entries wait in memory" in warning
    apart.until("draining", 300)
    assert any("this run is not kept" in words for words in apart.words)
    assert any("tell the teacher" in words for words in apart.words)
    assert not any("journal.sqlite" in words for words in apart.words)
    resource.prlimit(apart.process.pid, resource.RLIMIT_FSIZE, (soft, hard))
    apart.turn_until(lambda: not apart.live().get("warnings"), 200)
    apart.until("finished", 300)
    assert 0 == apart.stop()
    _kept_whole(apart)
    _none_missed(apart)
    with Reader(apart.journal) as reader:
        kinds = [event.kind for event in reader.latest_events("sink-1", limit=200)]
    assert "journal-back" in kinds


@contextmanager
def _read_only(folder: Path) -> Iterator[None]:
    """A folder that cannot be written: a mount for root, its rights for everybody else."""
    if os.getuid() != 0:
        folder.chmod(0o555)
        yield
        folder.chmod(0o755)
        return
    mount = ["mount", "-t", "tmpfs", "-o", "ro", "tmpfs", str(folder)]
    if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        if os.environ.get("WETSIDE_CI"):
            pytest.fail("a file system cannot be mounted here")
        pytest.skip("root may not mount here")
    yield
    subprocess.run(["umount", "-l", str(folder)], check=True)


@pytest.mark.slow
def test_disk_read_only(apart: Apart) -> None:
    """A station on a read-only disk works, says that nothing is kept, and keeps all once it can."""
    with _read_only(apart.folder / "data"):
        apart.start()
        apart.pour()
        (warning,) = apart.live()["warnings"]
        assert "cannot be written" in warning
        assert any("this run is not kept" in words for words in apart.words)
    assert any("tell the teacher" in words for words in apart.words)
    assert not any("journal.sqlite" in words for words in apart.words)
    apart.turn_until(lambda: not apart.live().get("warnings"), 200)
    apart.until("finished", 400)
    assert 0 == apart.stop()
    _kept_whole(apart)
    _none_missed(apart)


@pytest.mark.slow
def test_disk_slow(apart: Apart) -> None:
    """A card that takes a third of a second for each commit delays no cue and loses nothing."""
    apart.start(before=_SLOW)
    apart.pour()
    apart.until("finished", 1500)
    assert not any("not kept" in words for words in apart.words)
    assert 0 == apart.stop()
    _kept_whole(apart)
    _none_missed(apart)
    late = apart.real_late_seconds()
    assert late[len(late) // 2] < SLOW_SECONDS / 3


@pytest.mark.slow
def test_disk_stops_answering(unhurried: Apart) -> None:
    """A commit that hangs for longer than ten seconds is told; the roll goes on meanwhile."""
    flag = unhurried.folder / "hang"
    unhurried.start(before=_HANGING.format(flag=str(flag)))
    unhurried.pour()
    flag.touch()
    unhurried.turn_until(lambda: bool(unhurried.live().get("warnings")), 200)
    assert "the disk has not answered for" in unhurried.live()["warnings"][0]
    assert unhurried.live()["state"] in {"running", "draining"}
    flag.unlink()
    unhurried.turn_until(lambda: not unhurried.live().get("warnings"), 200)
    unhurried.until("finished", 400)
    assert 0 == unhurried.stop()
    _kept_whole(unhurried)
    _none_missed(unhurried)


@pytest.mark.slow
def test_journal_damaged(apart: Apart) -> None:
    """A journal of which half is garbage is set aside, not deleted; a new one takes the roll."""
    apart.start()
    assert 0 == apart.stop()
    damaged = apart.journal.read_bytes()
    apart.journal.write_bytes(damaged[: len(damaged) // 2] + b"\xa5" * (len(damaged) // 2))
    for name in ("journal.sqlite-wal", "journal.sqlite-shm"):
        (apart.folder / "data" / name).unlink(missing_ok=True)
    apart.start()
    apart.pour()
    apart.until("finished", 1500)
    assert 0 == apart.stop()
    _kept_whole(apart)
    assert [path.name for path in (apart.folder / "data").glob("journal.damaged-*.sqlite")]
    with Reader(apart.journal) as reader:
        kinds = [event.kind for event in reader.latest_events("sink-1", limit=200)]
    assert "journal-set-aside" in kinds


def test_live_folder_lost(roll: Make) -> None:
    """When the live file cannot be written the desk is blind, and the sink goes on."""
    one = roll(situation=QUICK)
    one.turn_until(State.RUNNING)
    folder = one.rig.settings.live_folder
    shutil.rmtree(folder)
    folder.write_text("in the way", encoding="utf-8")
    begun = one.at
    one.turn_to(begun + 60.0)
    folder.unlink()
    one.to_the_end()
    one.close()
    faults = [event.detail["fault"] for event in one.events() if event.kind == "live-fault"]
    assert ["the desk is not told: File exists", None] == faults
    assert "finished" == one.row().state
    assert {0.0} == set(late_seconds(one.events()))
    assert [] == conditions(one.events())


@pytest.mark.slow
def test_sheet_broken(apart: Apart) -> None:
    """A sheet with mistakes is left out with its file, key and reason; the others are offered."""
    broken = SHEET.replace("seconds = 150", "seconds = -5").replace('"Brief"', '"Broken"')
    (apart.folder / "sheets" / "00-broken.toml").write_text(broken, encoding="utf-8")
    apart.start()
    apart.pour()
    assert "left out: " in apart.log
    assert "00-broken.toml: step[2].seconds: must be" in apart.log
    assert "Brief" == apart.live()["sheet"]["name"]
    assert 0 == apart.stop()


def test_settings_broken(apart: Apart) -> None:
    """Settings with a mistake stop the start with the file, the key and the reason."""
    text = apart.settings.read_text(encoding="utf-8")
    apart.settings.write_text(text + "offset_celsius = 99\n", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "wetside", "station", "--settings", str(apart.settings)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert 2 == done.returncode
    assert "probe[1].offset_celsius" in done.stderr
    assert "Traceback" not in done.stderr
    assert not apart.journal.exists()
