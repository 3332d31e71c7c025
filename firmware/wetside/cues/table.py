"""The catalogue as tables for docs/cues.md, so that page and program cannot drift apart.

``python -m wetside.cues.table docs/cues.md`` writes them anew between the page's marks.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

from wetside.cues import catalogue
from wetside.cues.catalogue import Row
from wetside.cues.rhythm import signs_of

_MARKED = re.compile(r"(<!-- table of cues -->\n).*?(<!-- end of table -->)", re.DOTALL)


def table() -> str:
    """A Markdown table with one row for each cue, in the catalogue's order."""
    lines = [
        "| cue | tone | pitch in Hz | seconds | urgency | again after | on the screen |",
        "|---|---|---|---|---|---|---|",
    ]
    lines += [_line(row) for row in catalogue.CATALOGUE.values()]
    return "\n".join(lines) + "\n"


def _line(row: Row) -> str:
    pitches = sorted({note.hertz for note in row.tone.notes if note.hertz is not None})
    again = "" if row.repeat_seconds is None else f"{row.repeat_seconds:g} s"
    shown = " / ".join((row.words.head, row.words.big, *row.words.lines))
    stays = f"{shown}, for {row.show_seconds:g} s" if row.show_seconds else "its state's screen"
    return (
        f"| {row.name} | `{signs_of(row.tone)}` | {', '.join(f'{hertz:g}' for hertz in pitches)} "
        f"| {row.tone.seconds:.1f} | {row.urgency.name.lower()} | {again} | {stays} |"
    )


def renewed(page: str) -> str:
    """The page with its table written anew.

    Raises
    ------
    ValueError
        The page has no marks for the table.
    """
    if not _MARKED.search(page):
        raise ValueError("the page has no <!-- table of cues --> ... <!-- end of table -->")
    return _MARKED.sub(lambda match: match[1] + table() + match[2], page)


if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.write_text(renewed(target.read_text(encoding="utf-8")), encoding="utf-8")
