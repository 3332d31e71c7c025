"""Where a key stands in a TOML text, so that a problem is shown beside it. Pure.

The checker names keys as people do (``step[2].seconds``); its parser keeps no lines. This looks
for table headers and keys line by line, which is enough to point, and never changes anything.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

_HEADER = re.compile(r"^\s*(\[{1,2})\s*([A-Za-z0-9_.\" -]+?)\s*\]{1,2}\s*(?:#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_-]+(?:\s*\.\s*[A-Za-z0-9_-]+)*|\"[^\"]*\")\s*=")
_AT_LINE = re.compile(r"\(at line (\d+), column \d+\)")
_INDEX = re.compile(r"\[\d+\]$")
_FENCES = ('"""', "'''")


@dataclass(frozen=True, slots=True)
class Mark:
    """A problem and its line, counted from 1; ``line`` is None where no line can be told."""

    line: int | None
    place: str
    reason: str


def places(text: str) -> dict[str, int]:
    """Each key and table of a text with the line on which it stands first."""
    found: dict[str, int] = {}
    for name, number, _ in _named(text):
        found.setdefault(name, number)
    return found


def headers(text: str) -> list[tuple[str, int]]:
    """Each table of a text with the line of its header, in the order of the lines."""
    return [(name, number) for name, number, is_table in _named(text) if is_table]


def _named(text: str) -> Iterator[tuple[str, int, bool]]:
    """Each key and table: its name, its line, and whether it is a table."""
    counts: dict[str, int] = {}
    table, fence = "", ""
    for number, line in enumerate(text.splitlines(), start=1):
        if fence:
            fence = "" if fence in line else fence
            continue
        header = _HEADER.match(line)
        if header is not None:
            table = _table(header[2], counts, listed=header[1] == "[[")
            yield table, number, True
            continue
        key = _KEY.match(line)
        if key is not None:
            name = re.sub(r"\s", "", key[1])
            yield (f"{table}.{name}" if table else name), number, False
            fence = next((mark for mark in _FENCES if line.count(mark) == 1), "")


def _table(name: str, counts: dict[str, int], *, listed: bool) -> str:
    parts = [part.strip().strip('"') for part in name.split(".")]
    path = ""
    for depth, part in enumerate(parts):
        path = f"{path}.{part}" if path else part
        if listed and depth == len(parts) - 1:
            counts[path] = counts.get(path, 0) + 1
        if path in counts:
            path = f"{path}[{counts[path]}]"
    return path


def line_of(known: dict[str, int], place: str) -> int | None:
    """Line of a key, or of the nearest table around it; None if neither is there."""
    while place:
        if place in known:
            return known[place]
        shorter = _INDEX.sub("", place)
        place = shorter if shorter != place else place.rpartition(".")[0]
    return None


def marks(text: str, problems: Iterable[tuple[str, str]]) -> tuple[Mark, ...]:
    """Problems with their lines, in the order of the lines; those without a line come first."""
    known = places(text)
    found = []
    for place, reason in problems:
        syntax = _AT_LINE.search(reason)
        line = int(syntax[1]) if syntax is not None else line_of(known, place)
        found.append(Mark(line, place, reason))
    return tuple(sorted(found, key=lambda mark: mark.line or 0))
