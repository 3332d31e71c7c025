"""Checks over several keys of a table, told at the key they are about.

A model's own check can only say that the whole table is wrong. It writes one line for each
problem, ``key: reason``, and these are taken apart again here, so that people read
``bottle[2].bath: ...``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel

from wetside import tomlfile
from wetside.errors import FileProblem

_Model = TypeVar("_Model", bound=BaseModel)

_KEYED = re.compile(r"^([a-z_]+(?:\[\d+\])?(?:\.[a-z_]+(?:\[\d+\])?)*): (.+)$")


def raise_together(wrong: Iterable[str]) -> None:
    """Raise one ``ValueError`` for all lines, if there are any."""
    lines = list(wrong)
    if lines:
        raise ValueError("\n".join(lines))


def _apart(place: str, reason: str) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for line in reason.split("\n"):
        keyed = _KEYED.match(line)
        if keyed is None:
            found.append((place, line))
        else:
            found.append((f"{place}.{keyed[1]}" if place else keyed[1], keyed[2]))
    return found


def parse(text: str, model: type[_Model], name: str, problem: type[FileProblem]) -> _Model:
    """As ``wetside.tomlfile.parse``, with every problem at its own key."""
    try:
        return tomlfile.parse(text, model, name, problem)
    except FileProblem as error:
        apart = [pair for place, reason in error.problems for pair in _apart(place, reason)]
        raise problem(name, apart) from None


def load(path: Path, model: type[_Model], problem: type[FileProblem]) -> _Model:
    """As ``wetside.tomlfile.load``, with every problem at its own key."""
    return parse(tomlfile.read_text(path, problem), model, str(path), problem)
