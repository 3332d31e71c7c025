"""Files that are replaced whole: readers, and a power cut, find the old content or the new one."""

from __future__ import annotations

import os
import secrets
import stat
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path


def sync(path: Path) -> None:
    """Force a file, or the entries of a folder, to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def hand_over(path: Path) -> None:
    """Give what root has made to the owner of its folder, whose programs go on with it."""
    if os.geteuid() == 0:
        folder = path.parent.stat()
        os.chown(path, folder.st_uid, folder.st_gid, follow_symlinks=False)


def make_folder(path: Path, mode: int = 0o777) -> None:
    """Make a folder, and those above it, where there are none; what root makes is handed over.

    Raises
    ------
    OSError
        It cannot be made.
    """
    if not path.is_dir():
        make_folder(path.parent)
        path.mkdir(mode, exist_ok=True)
        hand_over(path)


def replace(
    path: Path,
    content: str | bytes,
    mode: int | None = None,
    *,
    durable: bool = True,
    when_written: Callable[[], object] | None = None,
) -> None:
    """Give a file, new or not, this content.

    Parameters
    ----------
    mode
        Its rights. None leaves a file its rights and its owner, and makes a new one as usual.
        Otherwise what root makes is handed over.
    durable
        Whether it is on the disk, with its name, when this returns.
    when_written
        Called once the content is written and before it gets its name. What it raises passes on,
        and what was there is there still.

    Raises
    ------
    OSError
        The folder is full, or cannot be written. What was there is there still.
    """
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666 if mode is None else mode)
    try:
        with os.fdopen(handle, "wb") as out:
            if mode is None:
                _make_alike(handle, path)
            else:
                os.fchmod(handle, mode)  # the umask had its say in open()
            if mode is not None or not path.exists():
                hand_over(part)
            out.write(content.encode() if isinstance(content, str) else content)
            if durable:
                out.flush()
                os.fsync(handle)
        if when_written is not None:
            when_written()
        os.replace(part, path)  # noqa: PTH105  # half the cost of the Path method, done often
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    if durable:
        sync(path.parent)


def _make_alike(handle: int, path: Path) -> None:
    """Give an open file the rights and the owner of the one that is there."""
    with suppress(FileNotFoundError):
        there = path.stat()
        with suppress(PermissionError):  # only root can give a file away
            os.fchown(handle, there.st_uid, there.st_gid)
        os.fchmod(handle, stat.S_IMODE(there.st_mode))
