"""docs/reliability.md and the tests of this folder say the same."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

_HERE = Path(__file__).parent
_PAGE = _HERE.parents[1] / "docs" / "reliability.md"
_ROW = re.compile(r"^\| `([a-z-]+)`( \*)? \| (.+) \| (.+) \|$", re.MULTILINE)
_ROWS = _ROW.findall(_PAGE.read_text(encoding="utf-8"))
_WORDS = re.compile(r"`([^`]+)`")
#: Names of buttons are code too, but are not looked for on the screen.
_BUTTONS = {"now", "wait", "probe"}
#: Tests of this folder that are not of a fault.
_NO_FAULTS = {"test_table.py", "test_long_run.py"}


def _tests() -> dict[str, ast.FunctionDef]:
    found = {}
    for path in sorted(_HERE.glob("test_*.py")):
        if path.name in _NO_FAULTS:
            continue
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                found[node.name] = node
    return found


def _strings(function: ast.FunctionDef) -> str:
    """Every text that a test names, its docstring left out."""
    body = function.body[1:]
    return "\n".join(
        node.value
        for statement in body
        for node in ast.walk(statement)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    )


def test_each_row_is_a_test_and_each_test_a_row() -> None:
    """No fault is claimed without a test, and none is tested without being told."""
    rows = [f"test_{name.replace('-', '_')}" for name, *_ in _ROWS]
    assert 40 < len(rows)
    assert len(rows) == len(set(rows))
    assert set(rows) == set(_tests())


@pytest.mark.parametrize(("name", "mark", "seen", "kept"), _ROWS, ids=[row[0] for row in _ROWS])
def test_the_words_of_a_row_are_looked_for_by_its_test(
    name: str, mark: str, seen: str, kept: str
) -> None:
    """What the table says is on the screen is what the test asserts; * marks real processes."""
    function = _tests()[f"test_{name.replace('-', '_')}"]
    words = set(_WORDS.findall(seen)) - _BUTTONS
    assert [] == [word for word in words if word not in _strings(function)]
    arguments = {argument.arg for argument in function.args.args}
    assert ("roll" in arguments) is (mark == "")
    assert kept
