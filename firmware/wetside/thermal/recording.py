"""Reading a recording: CSV with the header ``seconds,probe,place,celsius``.

One row is one reading. ``place`` is ``developer``, ``bath``, ``air`` or empty; ``celsius`` is
empty when the read failed. A file without the ``place`` column is taken too: every place is then
unknown, except that probes called ``developer``, ``bath``, ``liquid``, ``air`` or ``ambient`` say
by their name what they are in (``ambient`` surrounds the liquid, so it stands for the bath).
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator
from pathlib import Path

from wetside.errors import RecordingError
from wetside.readings import Condition, Place, Reading

#: Beyond that either way a time is a slip of the pen; Unix time lies within.
_FARTHEST_SECONDS = 1e10
#: Rows further apart were written on both sides of a clock that was set, not of one evening.
_LONGEST_GAP_SECONDS = 86400.0
#: No temperature, whatever a sensor says in error, lies outside.
_COLDEST_CELSIUS, _HOTTEST_CELSIUS = -273.15, 1000.0
COLUMNS = ("seconds", "probe", "place", "celsius")
_LINE_ENDS = re.compile(rb"\r\n|\r|\n")
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
        text = file.read_bytes()
    except OSError as problem:
        raise RecordingError(file, [("", problem.strerror or "cannot be read")]) from problem
    try:
        lines = io.StringIO(text.decode("utf-8-sig"), newline="")
    except UnicodeDecodeError as problem:
        line = len(_LINE_ENDS.findall(problem.object[: problem.start])) + 1
        raise RecordingError(file, [(f"line {line}", "is not UTF-8 text")]) from problem
    rows = tuple(_rows(file, csv.reader(lines, strict=True)))
    if not rows:
        raise RecordingError(file, [("line 2", "no reading follows the header")])
    return rows


def _rows(file: Path, reader: Iterator[list[str]]) -> Iterator[Reading]:
    line = 1
    latest: float | None = None
    try:
        header = tuple(name.strip() for name in next(reader, []))
        if header not in {COLUMNS, _WITHOUT_PLACE}:
            reason = f"the header must be {','.join(COLUMNS)}, not {','.join(header) or 'empty'}"
            raise RecordingError(file, [("line 1", reason)])
        for row in reader:
            line = getattr(reader, "line_num", line + 1)
            if not "".join(row).strip():
                continue
            try:
                reading = _reading(header, row)
                latest = _not_a_day_on(reading.seconds, latest)
            except ValueError as problem:
                raise RecordingError(file, [(f"line {line}", str(problem))]) from None
            yield reading
    except csv.Error as problem:
        line = getattr(reader, "line_num", line)
        raise RecordingError(file, [(f"line {line}", f"is not CSV: {problem}")]) from problem


def _not_a_day_on(seconds: float, latest: float | None) -> float:
    """The latest time of all rows so far; a row may be late, and none a day ahead."""
    if latest is None:
        return seconds
    if seconds - latest > _LONGEST_GAP_SECONDS:
        raise ValueError(
            f"seconds is {seconds:.10g}, more than a day after the rows before; was the clock set?"
        )
    return max(seconds, latest)


def _number(text: str, name: str) -> float:
    try:
        value = float(text.replace("_", "?"))  # Python's own 1_000 is no way to write a reading
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
    if not cells["probe"].isprintable():
        raise ValueError(f"probe is {cells['probe']!r}, which cannot be printed")
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
    celsius = _number(cells["celsius"], "celsius")
    if not _COLDEST_CELSIUS <= celsius <= _HOTTEST_CELSIUS:
        raise ValueError(f"celsius is {cells['celsius']!r}, which is no temperature")
    return Reading(seconds, cells["probe"], celsius, place)
