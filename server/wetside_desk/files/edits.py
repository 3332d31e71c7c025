"""Changes of single keys in a TOML text that leave comments and layout as they are. Pure.

Everything else about a text is the teacher's own hand; tomlkit keeps it. Whether the result
is a good shelf, bell table or sheet is checked afterwards, as for a text written by hand.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from datetime import date, time

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Table
from tomlkit.toml_document import TOMLDocument

#: What a key can be set to; None takes the key away.
Value = str | int | float | bool | date | time | list[str] | list[date] | None

#: A ``[[table]]`` right under the line of another key.
_TIGHT = re.compile(r"^([^#\n][^\n]*\n)(\[\[)", re.MULTILINE)

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
    found = document.get(key)
    if found is None:
        found = tomlkit.aot()
        document.append(key, found)
    if not isinstance(found, AoT):
        raise CannotEdit(f"{key} is not written as [[{key}]] tables, edit it as text")
    return found


def _at(document: TOMLDocument, key: str, place: int) -> Table:
    tables = _list(document, key)
    if not 1 <= place <= len(tables):
        raise CannotEdit(f"there is no {key}[{place}]")
    return tables[place - 1]


def _set(table: Table | TOMLDocument, values: Mapping[str, Value]) -> None:
    for key, value in values.items():
        if value is None:
            table.pop(key, None)
        elif key in table and table[key] == value:
            continue  # its comment and its way of writing stay
        else:
            table[key] = value


def _written(document: TOMLDocument) -> str:
    text = tomlkit.dumps(document)
    airy = _TIGHT.sub(r"\1\n\2", text)
    # inside a text of several lines a bracket is no table
    return airy if tomllib.loads(airy) == tomllib.loads(text) else text


def set_keys(text: str, values: Mapping[str, Value]) -> str:
    """Set keys at the head of a text.

    Raises
    ------
    CannotEdit
        By every function here: the text cannot be changed key by key.
    """
    document = _read(text)
    _set(document, values)
    return _written(document)


def set_table(text: str, key: str, values: Mapping[str, Value] | None) -> str:
    """Set the keys of a table such as ``[weeks]``; None takes the table away."""
    document = _read(text)
    if values is None:
        document.pop(key, None)
        return _written(document)
    if key not in document:
        fresh = tomlkit.table()
        lists = [name for name in document if isinstance(document[name], AoT)]
        _set(fresh, values)
        if not lists:
            document.append(key, fresh)
            return _written(document)
        # a table written after [[period]] would still be right, but people look for it above
        rebuilt = tomlkit.document()
        for name in document:
            if name == lists[0]:
                rebuilt.append(key, fresh)
            rebuilt.append(name, document[name])
        return _written(rebuilt)
    table = document[key]
    if not isinstance(table, Table):
        raise CannotEdit(f"{key} is not written as a [{key}] table, edit it as text")
    _set(table, values)
    return _written(document)


def add(text: str, key: str, values: Mapping[str, Value]) -> str:
    """Put one more ``[[key]]`` table at the end."""
    document = _read(text)
    table = tomlkit.table()
    _set(table, values)
    _list(document, key).append(table)
    return _written(document)


def change(text: str, key: str, place: int, values: Mapping[str, Value]) -> str:
    """Set keys of ``key[place]``, counted from one."""
    document = _read(text)
    _set(_at(document, key, place), values)
    return _written(document)


def take(text: str, key: str, place: int) -> str:
    """Take ``key[place]`` away."""
    document = _read(text)
    _at(document, key, place)
    tables = _list(document, key)
    del tables[place - 1]
    if not len(tables):
        document.pop(key)
    return _written(document)


def add_under(text: str, key: str, place: int, under: str, values: Mapping[str, Value]) -> str:
    """Put one more ``[[key.under]]`` table at the end of ``key[place]``."""
    document = _read(text)
    table = _at(document, key, place)
    inner = table.get(under)
    if inner is None:
        inner = tomlkit.aot()
        table.append(under, inner)
    if not isinstance(inner, AoT):
        raise CannotEdit(f"{key}[{place}].{under} is not written as tables, edit it as text")
    fresh = tomlkit.table()
    _set(fresh, values)
    inner.append(fresh)
    return _written(document)
