"""Changes of single keys in a TOML text that leave comments and layout as they are. Pure.

Everything else about a text is the teacher's own hand; tomlkit keeps it where a key is set or
taken away, `blocks` finds the line where something new belongs. Whether the result
is a good shelf, bell table or sheet is checked afterwards, as for a text written by hand.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from datetime import date, time
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Table
from tomlkit.toml_document import TOMLDocument

from wetside_desk.files import blocks

#: What a key can be set to; None takes the key away.
Value = str | int | float | bool | date | time | list[str] | list[date] | list[list[str]] | None

#: One part of a path such as ``bottle[2]``.
_PART = re.compile(r"([A-Za-z0-9_-]+)(?:\[(\d+)\])?")

#: What a new shelf or bell table begins with.
EMPTY = "format = 1\n"


class CannotEdit(ValueError):
    """The text is not one in which single keys can be changed."""


def _read(text: str) -> TOMLDocument:
    try:
        return tomlkit.parse(text or EMPTY)
    except TOMLKitError as error:
        raise CannotEdit(f"the file is not valid TOML, edit it as text: {error}") from None


def _list(document: TOMLDocument, key: str) -> AoT:
    found = document.get(key, tomlkit.aot())
    if not isinstance(found, AoT):
        raise CannotEdit(f"{key} is not written as [[{key}]] tables, edit it as text")
    return found


def _at(document: TOMLDocument, key: str, place: int) -> Table:
    tables = _list(document, key)
    if not 1 <= place <= len(tables):
        raise CannotEdit(f"there is no {key}[{place}]")
    return tables[place - 1]


def _sure(text: str, wanted: Mapping[str, Any]) -> str:
    """A text that says what it should.

    Raises
    ------
    CannotEdit
        It does not: lines were taken for what they are not.
    """
    try:
        right = tomllib.loads(text) == wanted
    except tomllib.TOMLDecodeError:
        right = False
    if not right:
        raise CannotEdit("the file is laid out in an unusual way, edit it as text")
    return text


def _lines_of(values: Mapping[str, Value]) -> str:
    return tomlkit.dumps({key: value for key, value in values.items() if value is not None})


def _set(document: TOMLDocument, path: str, values: Mapping[str, Value]) -> str:
    """Set keys of a table, or at the head of a text where ``path`` is empty."""
    before = tomlkit.dumps(document)
    table, plain = _found(document, path), tomllib.loads(before)
    wanted = _found(plain, path)
    fresh: dict[str, Value] = {}
    tables: list[str] = []
    for key, value in values.items():
        if value is None:
            wanted.pop(key, None)
            if isinstance(table.get(key), AoT | Table):
                tables.append(f"{path}.{key}")
            else:
                table.pop(key, None)
            continue
        if key not in table:
            fresh[key] = value
        elif table[key] != value:  # else its way of writing stays
            table[key] = value
        wanted[key] = value
    text = tomlkit.dumps(document)
    for one in tables:
        text = blocks.without(text, one)
    if fresh:
        block = next((one for one in blocks.of(text) if one.path == path), None)
        if block is None:
            raise CannotEdit(f"{path} is not written as a table, edit it as text")
        text = blocks.put(text, block.last, _lines_of(fresh), apart=False)
    return _sure(text, plain)


def _found(tables: Any, path: str) -> Any:  # noqa: ANN401  # a document or what tomllib gives
    """The table that a path such as ``bottle[2]`` leads to."""
    for name, place in _PART.findall(path):
        tables = tables[name][int(place) - 1] if place else tables[name]
    return tables


def set_keys(text: str, values: Mapping[str, Value]) -> str:
    """Set keys at the head of a text.

    Raises
    ------
    CannotEdit
        By every function here: the text cannot be changed key by key.
    """
    return _set(_read(text), "", values)


def set_table(text: str, key: str, values: Mapping[str, Value] | None) -> str:
    """Set the keys of a table such as ``[weeks]``; None takes the table away."""
    document = _read(text)
    if key in document:
        if not isinstance(document[key], Table):
            raise CannotEdit(f"{key} is not written as a [{key}] table, edit it as text")
        if values is not None:
            return _set(document, key, values)
        wanted = tomllib.loads(text)
        del wanted[key]
        return _sure(blocks.without(text, key), wanted)
    text = tomlkit.dumps(document)
    if values is None:
        return text
    lists = [block for block in blocks.of(text) if block.path.endswith("]")]
    # a table written after [[period]] would still be right, but people look for it above
    line = lists[0].first if lists else len(text.splitlines())
    fresh = f"[{key}]\n{_lines_of(values)}"
    return _sure(
        blocks.put(text, line, fresh, apart=True),
        {**tomllib.loads(text), key: tomllib.loads(_lines_of(values))},
    )


def add(text: str, key: str, values: Mapping[str, Value]) -> str:
    """Put one more ``[[key]]`` table after those that are there, or at the end."""
    document = _read(text)
    _list(document, key)
    return _add(tomlkit.dumps(document), "", key, values)


def _add(text: str, path: str, key: str, values: Mapping[str, Value]) -> str:
    """One more ``[[path.key]]`` after the last of them, else after the table that they are in."""
    name = f"{path}.{key}" if path else key
    there = [block for block in blocks.of(text) if blocks.within(block, name)]
    if not there and path:
        there = [block for block in blocks.of(text) if blocks.within(block, path)]
    line = there[-1].last if there else len(text.splitlines())
    header = re.sub(r"\[\d+\]", "", name)
    wanted = tomllib.loads(text)
    _found(wanted, path).setdefault(key, []).append(tomllib.loads(_lines_of(values)))
    return _sure(blocks.put(text, line, f"[[{header}]]\n{_lines_of(values)}", apart=True), wanted)


def change(text: str, key: str, place: int, values: Mapping[str, Value]) -> str:
    """Set keys of ``key[place]``, counted from one."""
    document = _read(text)
    _at(document, key, place)
    return _set(document, f"{key}[{place}]", values)


def change_at(text: str, path: str, values: Mapping[str, Value]) -> str:
    """Set keys of the table at a path such as ``step[2].development``, which is there."""
    return _set(_read(text), path, values)


def take(text: str, key: str, place: int) -> str:
    """Take ``key[place]`` away, and the comments right above and under it with it."""
    _at(_read(text), key, place)
    wanted = tomllib.loads(text)
    del wanted[key][place - 1]
    if not wanted[key]:
        del wanted[key]
    return _sure(blocks.without(text, f"{key}[{place}]"), wanted)


def add_under(text: str, key: str, place: int, under: str, values: Mapping[str, Value]) -> str:
    """Put one more ``[[key.under]]`` table at the end of ``key[place]``."""
    table = _at(_read(text), key, place)
    if not isinstance(table.get(under, tomlkit.aot()), AoT):
        raise CannotEdit(f"{key}[{place}].{under} is not written as tables, edit it as text")
    return _add(text, f"{key}[{place}]", under, values)
