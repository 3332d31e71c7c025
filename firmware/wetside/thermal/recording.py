"""Reading a recording: CSV with the header ``seconds,probe,place,celsius``.

One row is one reading. ``place`` is ``developer``, ``bath``, ``air`` or empty; ``celsius`` is
empty when the read failed. A file without the ``place`` column is taken too: every place is then
unknown, except that probes called ``developer``, ``bath``, ``liquid``, ``air`` or ``ambient`` say
by their name what they are in (``ambient`` surrounds the liquid, so it stands for the bath).
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from pathlib import Path

from wetside.errors import RecordingError
from wetside.readings import Condition, Place, Reading

#: Beyond that either way a time is a slip of the pen; Unix time lies within.
_FARTHEST_SECONDS = 1e10
COLUMNS = ("seconds", "probe", "place", "celsius")
_WITHOUT_PLACE = ("seconds", "probe", "celsius")
_PLACE_BY_NAME = {
    "developer": Place.DEVELOPER,
    "liquid": Place.DEVELOPER,
    "bath": Place.BATH,
    "ambient": Place.BATH,
    "air": Place.AIR,
}


def read_recording(file: Path) -> tuple[Reading, ...]:
    """All readings of ``file`` in the order of its rows.

    Raises
    ------
    RecordingError
        The file cannot be opened or a row cannot be used; names file, line and reason.
    """
    try:
        with file.open(encoding="utf-8-sig", newline="") as lines:
            rows = tuple(_rows(file, csv.reader(lines, strict=True)))
    except OSError as problem:
        raise RecordingError(file, [("", problem.strerror or "cannot be read")]) from problem
    except UnicodeDecodeError as problem:
        place = f"byte {problem.start}"
        raise RecordingError(file, [(place, "is not UTF-8 text")]) from problem
    if not rows:
        raise RecordingError(file, [("line 2", "no reading follows the header")])
    return rows


def _rows(file: Path, reader: Iterator[list[str]]) -> Iterator[Reading]:
    line = 1
    try:
        header = tuple(name.strip() for name in next(reader, []))
        if header not in {COLUMNS, _WITHOUT_PLACE}:
            reason = f"the header must be {','.join(COLUMNS)}, not {','.join(header) or 'empty'}"
            raise RecordingError(file, [("line 1", reason)])
        for row in reader:
            line = getattr(reader, "line_num", line + 1)
            if not row:
                continue
            try:
                yield _reading(header, row)
            except ValueError as problem:
                raise RecordingError(file, [(f"line {line}", str(problem))]) from None
    except csv.Error as problem:
        line = getattr(reader, "line_num", line)
        raise RecordingError(file, [(f"line {line}", f"is not CSV: {problem}")]) from problem


def _number(text: str, name: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise ValueError(f"{name} is {text!r}, which is not a number") from None
    if not math.isfinite(value):
        raise ValueError(f"{name} is {text!r}, which is not a finite number")
    return value


def _reading(header: tuple[str, ...], row: list[str]) -> Reading:
    if len(row) != len(header):
        raise ValueError(f"{len(row)} columns instead of {len(header)}")
    cells = dict(zip(header, (cell.strip() for cell in row), strict=True))
    seconds = _number(cells["seconds"], "seconds")
    if abs(seconds) > _FARTHEST_SECONDS:
        raise ValueError(f"seconds is {cells['seconds']!r}, which is no time of a recording")
    if not cells["probe"]:
        raise ValueError("probe is empty; any name will do")
    if "place" in cells:
        try:
            place = Place(cells["place"].lower())
        except ValueError:
            known = "developer, bath, air or empty"
            raise ValueError(f"place is {cells['place']!r}; it must be {known}") from None
    else:
        place = _PLACE_BY_NAME.get(cells["probe"].lower(), Place.UNKNOWN)
    if not cells["celsius"]:
        return Reading(seconds, cells["probe"], None, place, Condition.FAILED)
    return Reading(seconds, cells["probe"], _number(cells["celsius"], "celsius"), place)
