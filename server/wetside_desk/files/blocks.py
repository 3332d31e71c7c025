"""The tables of a TOML text as blocks of lines, so that comments stay with what they are about.

A comment belongs to the table that it stands right above or right under. One with empty lines on
both sides belongs to nobody and stays where it is. Pure; whether a changed text still says what
it should is for the caller to look at, as a line may also stand inside a text of several lines.
"""

from __future__ import annotations

from dataclasses import dataclass

from wetside_desk.files import lines


@dataclass(frozen=True, slots=True)
class Block:
    """One table without the tables in it: lines ``first`` to before ``last``, counted from 0.

    ``path`` is empty for what stands above all tables.
    """

    path: str
    first: int
    last: int


def _is_comment(row: str) -> bool:
    return row.lstrip().startswith("#")


def _end(rows: list[str], first: int, limit: int) -> int:
    """The line after the last key before ``limit`` and the comments right under it."""
    last = first
    for number in range(first, limit):
        if rows[number].strip() and not _is_comment(rows[number]):
            last = number + 1
    while last < limit and _is_comment(rows[last]):
        last += 1
    return last


def of(text: str) -> list[Block]:
    """Every table of a text in the order of its lines, first what stands above all of them."""
    rows = text.splitlines()
    heads = [("", 0, 0)]
    for path, line in lines.headers(text):
        first = line - 1
        while first > heads[-1][2] and _is_comment(rows[first - 1]):
            first -= 1
        heads.append((path, first, line))
    limits = [first for _, first, _ in heads[1:]] + [len(rows)]
    return [
        Block(path, first, _end(rows, begin, limit))
        for (path, first, begin), limit in zip(heads, limits, strict=True)
    ]


def within(block: Block, path: str) -> bool:
    """Whether a block is the table, one of the tables of that name, or in one of them."""
    return block.path == path or block.path.startswith((f"{path}.", f"{path}["))


def put(text: str, line: int, fresh: str, *, apart: bool) -> str:
    """Lines put in before ``line``, with an empty line on both sides where they stand apart."""
    rows = text.splitlines(keepends=True)
    if rows and not rows[-1].endswith("\n"):
        rows[-1] += "\n"
    above = "\n" if apart and line > 0 and rows[line - 1].strip() else ""
    below = "\n" if apart and line < len(rows) and rows[line].strip() else ""
    return "".join([*rows[:line], above, fresh, below, *rows[line:]])


def without(text: str, path: str) -> str:
    """A text without a table, or all tables of a name, the tables in them and their comments."""
    found = [block for block in of(text) if within(block, path)]
    if not found:
        return text
    rows = text.splitlines(keepends=True)
    above, below = rows[: found[0].first], rows[found[-1].last :]
    while below and not below[0].strip() and not (above and above[-1].strip()):
        del below[0]
    return "".join(above + below)
