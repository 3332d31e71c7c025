"""A disk that is full, read-only or gone: said so, nothing acknowledged lost, taken up again."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
import textwrap
from collections.abc import Callable
from pathlib import Path

import pytest

from wetside.clock import Moment
from wetside.errors import JournalUnavailable
from wetside.journal.reader import Reader
from wetside.journal.writer import Writer
from wetside.readings import Reading

MakeMoment = Callable[..., Moment]


def _limit_pages(writer: Writer, pages: int) -> None:
    writer._connection.execute(f"PRAGMA max_page_count = {pages}").fetchone()


def _append_for_ever(writer: Writer, at: MakeMoment, numbers: list[int]) -> None:
    for number in itertools.count():
        numbers += [writer.append(at(float(number)), "tick", {"pad": "x" * 2000})]


def _fill(path: Path) -> None:
    with path.open("wb", buffering=0) as file:
        while True:
            file.write(b"0" * 4096)


def test_a_full_database_refuses_the_event_and_keeps_what_it_has(
    path: Path, writer: Writer, reader: Reader, at: MakeMoment
) -> None:
    """When there is no room the call raises, and all that was acknowledged is there."""
    _limit_pages(writer, 160)
    numbers: list[int] = []
    with pytest.raises(JournalUnavailable, match="full"):
        _append_for_ever(writer, at, numbers)
    found = reader.latest_events("sink-1", limit=2000)
    assert numbers[::-1] == [event.seq for event in found]
    _limit_pages(writer, 1_000_000)
    assert numbers[-1] + 1 == writer.append(at(2000.0), "tick", {})


def test_samples_wait_while_the_disk_is_full(
    writer: Writer, reader: Reader, at: MakeMoment
) -> None:
    """A commit of samples that fails keeps them all, each once, for the next one."""
    writer.append(at(0.0), "tick", {})
    page_count = writer._connection.execute("PRAGMA page_count").fetchone()[0]
    _limit_pages(writer, page_count)
    failures = 0
    taken = 0
    for second in range(400):
        for probe in range(8):
            moment = at(second + probe / 10)
            taken += 1
            try:
                writer.sample(moment, [Reading(moment.seconds, f"p{probe}", 20.0)], run="R1")
            except JournalUnavailable:
                failures += 1
    assert failures > 0
    _limit_pages(writer, 1_000_000)
    writer.flush()
    found = [(sample.moment.seconds, sample.probe) for sample in reader.samples("R1")]
    assert taken == len(found)
    assert [(second + p / 10, f"p{p}") for second in range(400) for p in range(8)] == found


_FILE_LIMIT = """
    import resource, signal, sys
    from pathlib import Path
    from wetside.clock import Moment
    from wetside.errors import JournalUnavailable
    from wetside.journal.writer import Writer
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    writer = Writer(Path(sys.argv[1]), "sink-1")
    writer.append(Moment(0.0, 0.0, False, "b"), "tick", {})
    limit = 300_000
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
    last = 0
    try:
        for number in range(1, 10_000):
            last = writer.append(Moment(number, 0.0, False, "b"), "tick", {"pad": "x" * 3000})
    except JournalUnavailable as error:
        print(last, "refused")
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    print(writer.append(Moment(20_000, 0.0, False, "b"), "tick", {}))
    writer.close()
"""


def test_a_write_that_the_kernel_refuses_is_like_a_full_disk(path: Path) -> None:
    """A real failing write (the kernel's limit on file size) loses nothing acknowledged."""
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(_FILE_LIMIT), str(path)],
        capture_output=True,
        text=True,
        check=True,
    )
    last, refused, after = done.stdout.split()
    assert ("refused", int(last) + 1) == (refused, int(after))
    with Reader(path) as reader:
        events = reader.latest_events("sink-1", limit=10_000)
        assert list(range(int(after), 0, -1)) == [event.seq for event in events]
        assert () == reader.health(check=True).problems


@pytest.mark.skipif(os.getuid() != 0, reason="only root can mount a small disk")
def test_a_full_disk_and_a_read_only_one(tmp_path: Path, at: MakeMoment) -> None:
    """On a real file system of one megabyte: full, then read-only, then well again."""
    mounted = tmp_path / "card"
    mounted.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=1m,mode=755", "tmpfs", str(mounted)]
    if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        pytest.skip("mounting is not allowed here")
    try:
        path = mounted / "journal.sqlite"
        writer = Writer(path, "sink-1")
        numbers = [writer.append(at(0.0), "tick", {})]
        ballast = mounted / "ballast"
        with pytest.raises(OSError, match="No space"):
            _fill(ballast)
        with pytest.raises(JournalUnavailable, match="cannot be written"):
            _append_for_ever(writer, at, numbers)
        ballast.unlink()
        numbers.append(writer.append(at(2000.0), "tick", {}))
        writer.close()

        def remount(mode: str) -> None:
            subprocess.run(["mount", "-o", f"remount,{mode}", str(mounted)], check=True)

        remount("ro")
        with Reader(path) as reader:
            found = [event.seq for event in reader.latest_events("sink-1", limit=2000)]
            assert numbers[::-1] == found
            with pytest.raises(JournalUnavailable, match="Read-only file system"):
                Writer(path, "sink-1")
            remount("rw")
            with Writer(path, "sink-1") as again:
                assert numbers[-1] + 1 == again.append(at(3000.0), "tick", {})
            assert () == reader.health(check=True).problems
    finally:
        subprocess.run(["umount", "-l", str(mounted)], check=True)


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    """The message names the file and says what is wrong."""
    with pytest.raises(JournalUnavailable, match=r"gone/journal.sqlite .* No such file"):
        Writer(tmp_path / "gone" / "journal.sqlite", "sink-1")


@pytest.mark.skipif(os.getuid() != 0, reason="only root can become somebody else")
def test_a_folder_that_may_not_be_written_is_named() -> None:
    """A service user without the right to write is told so, and leaves nothing behind."""
    code = """
        import os, sys, tempfile
        from pathlib import Path
        from wetside.errors import JournalUnavailable
        from wetside.journal.writer import Writer
        folder = Path(tempfile.mkdtemp())
        folder.chmod(0o755)
        os.setuid(65534)
        try:
            Writer(folder / "journal.sqlite", "sink-1")
        except JournalUnavailable as error:
            print(error)
        print(list(folder.iterdir()))
        os._exit(0)
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code)], capture_output=True, text=True, check=True
    )
    first, second = done.stdout.splitlines()
    assert first.endswith("journal.sqlite cannot be written: Permission denied")
    assert "[]" == second
