"""Numbers, times and tables as text: CSV that a spreadsheet cannot be tricked with."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta

#: Characters with which a spreadsheet starts a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")

#: The mark by which some spreadsheets recognise UTF-8.
BYTE_ORDER_MARK = "\ufeff"


def iso_utc(wall_seconds: float) -> str:
    """Unix time as ISO 8601 in UTC, to the second.

    Examples
    --------
    >>> iso_utc(1764000000.4)
    '2025-11-24T16:00:00Z'
    """
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=round(wall_seconds))
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def local(wall_seconds: float) -> datetime:
    """Unix time in the device's time zone."""
    return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=wall_seconds)).astimezone()


def iso_local(wall_seconds: float) -> str:
    """Unix time on the school's clock, to the second, as spreadsheets read it."""
    return f"{local(round(wall_seconds)):%Y-%m-%d %H:%M:%S}"


def day_bounds(day: date) -> tuple[float, float]:
    """Unix seconds at which a local day begins and at which the next one begins.

    Raises
    ------
    ValueError
        The day lies outside 1970 to 2200.
    """
    if not 1970 <= day.year <= 2200:
        raise ValueError(f"{day} is outside 1970 to 2200")

    def midnight(of: date) -> float:
        return datetime.combine(of, time.min).timestamp()

    return midnight(day), midnight(day + timedelta(days=1))


def guarded(value: object) -> object:
    """Text that a spreadsheet would run as a formula gets an apostrophe before it.

    Numbers stay numbers, also below zero.
    """
    if isinstance(value, str) and value.startswith(_FORMULA):
        return "'" + value
    return value


def csv_lines(
    header: Sequence[str],
    rows: Iterable[Sequence[object]],
    *,
    semicolon: bool = False,
    mark: bool = False,
) -> Iterator[str]:
    """A table as RFC 4180 text, in pieces of about 200 rows.

    ``semicolon`` separates by semicolons and writes numbers with a decimal comma, ``mark`` puts
    the byte order mark in front, as spreadsheets of some countries want it.
    """

    def cell_of(value: object) -> object:
        if value is None:
            return ""
        if semicolon and isinstance(value, float):
            return str(value).replace(".", ",")
        return guarded(value)

    buffer = io.StringIO()
    if mark:
        buffer.write(BYTE_ORDER_MARK)
    writer = csv.writer(buffer, delimiter=";" if semicolon else ",", lineterminator="\r\n")
    writer.writerow(header)
    for number, row in enumerate(rows, 1):
        writer.writerow([cell_of(cell) for cell in row])
        if number % 200 == 0:
            yield buffer.getvalue()
            buffer.seek(0)
            buffer.truncate()
    yield buffer.getvalue()


def json_line(values: Mapping[str, object]) -> str:
    """One object on one line, with its line end."""
    return json.dumps(values, ensure_ascii=False, separators=(",", ":")) + "\n"


def degrees(difference_celsius: float, unit: str = "C", sign: str = "") -> str:
    """A difference of temperatures to a tenth in the wanted unit; ``sign`` "+" writes it always."""
    return f"{difference_celsius * (1.8 if unit == 'F' else 1.0):{sign}.1f} °{unit}"
