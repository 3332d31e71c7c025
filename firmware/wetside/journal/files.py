"""What the journal does with files: one writer at a time, setting aside."""

from __future__ import annotations

import fcntl
import os
import re
from pathlib import Path

from wetside.errors import JournalError
from wetside.journal.closing import Closing
from wetside.wholefile import hand_over, sync

#: Files that SQLite keeps beside a journal in WAL mode.
COMPANIONS = ("-wal", "-shm")

#: The writer gives its group the right to write, whatever the umask: a reader of another
#: service must be able to take SQLite's shared-memory lock, and SQLite gives -wal and -shm the
#: mode of the database.
MODE = 0o660


def create(path: Path) -> bool:
    """Make an empty journal file with `MODE` where there is none; whether it was made."""
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, MODE)
    except FileExistsError:
        return False
    os.fchmod(handle, MODE)  # the umask had its say in open()
    os.close(handle)
    hand_over(path)
    sync(path.parent)
    return True


class WriterLock(Closing):
    """Held by the one process that writes a journal; falls with the process, however it dies.

    Raises
    ------
    JournalError
        Another process holds it.
    """

    def __init__(self, path: Path) -> None:
        lock = path.with_name(path.name + ".lock")
        self._handle: int | None = os.open(lock, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, MODE)
        hand_over(lock)
        try:
            fcntl.flock(self._handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            self.close()
            raise JournalError(
                f"another process writes to {path}. Only one station can use it: stop the "
                f"other one, or name another data folder."
            ) from None

    def close(self) -> None:
        """Let another process write."""
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None


def aside_names(path: Path) -> dict[int, Path]:
    """Journals that were renamed beside ``path``, by their number."""
    pattern = re.compile(
        rf"^{re.escape(path.stem)}\.(?:damaged|replaced)-(\d+){re.escape(path.suffix)}(?:-wal)?$"
    )
    found: dict[int, Path] = {}
    for name in path.parent.iterdir():
        match = pattern.match(name.name)
        if match is not None:
            found[int(match[1])] = name
    return found


def set_aside(path: Path, why: str = "damaged") -> Path:
    """Rename a journal and its companions to ``NAME.WHY-N.SUFFIX``; delete nothing.

    N is one more than any N in use, not a date: the wall clock may be wrong when this happens.
    The write-ahead log goes first, because a log left beside a fresh journal could be played
    into it.
    """
    number = max(aside_names(path), default=0) + 1
    aside = path.with_name(f"{path.stem}.{why}-{number}{path.suffix}")
    for ending in (*COMPANIONS, ""):
        old = path.with_name(path.name + ending)
        if old.exists():
            old.rename(aside.with_name(aside.name + ending))
    sync(path.parent)
    return aside
