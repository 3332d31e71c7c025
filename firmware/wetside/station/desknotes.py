"""Reads the notes that the desk leaves for the display (docs/desk.md).

The desk is another process and may stop at any moment, so nothing in its files is trusted: a
file that is missing, half written, not the desk's, too large or out of date is as if it were
not there. A look costs three calls of ``stat`` in a folder in memory; a file is read only when
it was replaced, and none is looked at while a run is open.
"""

from __future__ import annotations

import json
import os
import stat
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Generic, TypeVar

from wetside.cues.desknotes import Address, Claim, DeskNotes, LabelPage

LOOK_SECONDS = 1.0
FORMAT = 1
#: The largest QR code has 177 rows of 177 modules.
_LARGEST_BYTES = 40_000
#: Rows of the smallest and largest QR code, and the step between versions (ISO/IEC 18004).
_SMALLEST_CODE, _LARGEST_CODE, _VERSION_STEP = 21, 177, 4

T = TypeVar("T")
#: What identifies one content of a file: device, inode, size, time of change.
_Mark = tuple[int, int, int, int]


class NoteReader:
    """The notes in one folder.

    Parameters
    ----------
    folder
        The folder that station and desk share.
    wall
        The clock by which the desk writes when a note ends: the system's, also on a bench
        whose own time runs faster.
    """

    def __init__(self, folder: Path, wall: Callable[[], float] = time.time) -> None:
        self._wall = wall
        self._claim = _File(folder / "claim.json", claim_of)
        self._label = _File(folder / "label.json", label_of)
        self._address = _File(folder / "address.json", address_of)
        self._notes = DeskNotes()
        self._next = float("-inf")

    def look(self, now: float, *, wanted: bool) -> DeskNotes:
        """The notes as they are; none while they are not ``wanted``. Never raises."""
        if not wanted:
            self._next = float("-inf")
            return DeskNotes()
        if now >= self._next:
            self._next = now + LOOK_SECONDS
            label = self._label.look()
            if label is not None and self._wall() >= label[1]:
                label = None
            self._notes = DeskNotes(
                self._claim.look(), None if label is None else label[0], self._address.look()
            )
        return self._notes


class _File(Generic[T]):
    """One note, kept as long as its file is not replaced."""

    def __init__(self, path: Path, parse: Callable[[Mapping[str, object]], T]) -> None:
        self._path = path
        self._parse = parse
        self._mark: _Mark | None = None
        self._content: T | None = None

    def look(self) -> T | None:
        try:
            mark = _mark(self._path.lstat())
            if mark != self._mark:
                self._mark, self._content = None, None
                self._content = self._parse(_object(_text(self._path)))
                self._mark = mark
        except (OSError, ValueError, RecursionError):
            # what is wrong with it may be over a moment later; until then it is not there
            self._mark, self._content = None, None
        return self._content


def _mark(found: os.stat_result) -> _Mark:
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns


def _text(path: Path) -> str:
    """The text of an ordinary file of this user or root.

    A pipe or a device would hold the loop up, a link may lead anywhere: neither is opened for
    reading.
    """
    descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_NOFOLLOW | os.O_CLOEXEC)
    with os.fdopen(descriptor, "rb") as stream:
        found = os.fstat(descriptor)
        if not stat.S_ISREG(found.st_mode) or found.st_uid not in {0, os.geteuid()}:
            raise ValueError("not a file of the desk")
        text = stream.read(_LARGEST_BYTES + 1)
    if len(text) > _LARGEST_BYTES:
        raise ValueError("too large")
    return text.decode("utf-8")


def _object(text: str) -> Mapping[str, object]:
    found = json.loads(text)
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise ValueError("another format")
    return found


def claim_of(note: Mapping[str, object]) -> Claim:
    """The note of the first start.

    Raises
    ------
    ValueError
        Something is missing or not as the contract says.
    """
    return Claim(_word(note, "code", 20), _word(note, "address"), _code(note))


def label_of(note: Mapping[str, object]) -> tuple[LabelPage, float]:
    """The note of a label page, and the Unix time at which it ends.

    Raises
    ------
    ValueError
        Something is missing or not as the contract says.
    """
    expires = note.get("expires")
    if isinstance(expires, bool) or not isinstance(expires, int | float):
        raise ValueError("no end")  # noqa: TRY004  # a file is wrong, no argument
    return LabelPage(_word(note, "run", 40), _word(note, "url"), _code(note)), float(expires)


def address_of(note: Mapping[str, object]) -> Address:
    """The note of the desk's address.

    Raises
    ------
    ValueError
        Something is missing or not as the contract says.
    """
    name = _word(note, "name") if note.get("name") else ""
    fingerprint = _word(note, "fingerprint", 64) if note.get("fingerprint") else ""
    if fingerprint and (len(fingerprint) != 64 or set(fingerprint) - set("0123456789ABCDEF")):
        raise ValueError("no SHA-256")
    return Address(_word(note, "address"), name, fingerprint, _code(note))


def _word(note: Mapping[str, object], name: str, longest: int = 200) -> str:
    text = note.get(name)
    if not isinstance(text, str) or not 0 < len(text) <= longest:
        raise ValueError(name)
    if not (text.isascii() and text.isprintable()):
        raise ValueError(name)
    return text


def _code(note: Mapping[str, object]) -> tuple[str, ...]:
    rows = note.get("qr")
    if not isinstance(rows, list) or not all(isinstance(row, str) for row in rows):
        raise ValueError("qr")
    size = len(rows)
    fits = _SMALLEST_CODE <= size <= _LARGEST_CODE and (size - _SMALLEST_CODE) % _VERSION_STEP == 0
    if not fits or any(len(row) != size or set(row) - {"0", "1"} for row in rows):
        raise ValueError("qr")
    return tuple(rows)
