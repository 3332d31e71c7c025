"""What was asked wrongly on the command line is one line, in words that people use."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from wetside.__main__ import app
from wetside.commands.table import COMMANDS

WRONG = {
    "wetside replay: missing argument 'FILE.csv'": ["replay"],
    "wetside replay: missing option '--target'": ["replay", "evening.csv"],
    "wetside replay: invalid value for '--every': must be a valid number": [
        *("replay", "evening.csv", "--target", "20C", "--every", "abc"),
    ],
    "wetside replay: invalid value for '--vessel': 'wood' is not one of": [
        *("replay", "evening.csv", "--target", "20C", "--vessel", "wood"),
    ],
    "wetside replay: got unexpected extra argument": ["replay", "a", "b", "--target", "20C"],
    "wetside bench: invalid value: '0' is not max or a number": ["bench", "--speed", "0"],
    "wetside bench: no such option: --quick": ["bench", "--quick"],
    "wetside screens: invalid value for '--scale'": ["screens", "out", "--scale", "0"],
    "wetside sheet: no such command 'foo'": ["sheet", "foo"],
    "wetside: no such command 'temper'": ["temper"],
}


@pytest.mark.parametrize(("said", "words"), WRONG.items())
def test_what_was_asked_wrongly_is_told_in_one_line(said: str, words: list[str]) -> None:
    """It names the command, what is wrong and where to read more, and the exit code is 2."""
    done = CliRunner().invoke(app, words)
    assert (2, "") == (done.exit_code, done.stdout)
    (line,) = done.stderr.splitlines()
    assert line.startswith(said)
    assert line.endswith("--help")
    assert re.search("Input|Value error|Usage|pydantic", line) is None


@pytest.mark.parametrize("words", [[], ["sheet"]])
def test_who_asks_nothing_gets_the_help(words: list[str]) -> None:
    """A command of commands that is typed alone lists them."""
    done = CliRunner().invoke(app, words)
    assert "Commands:" in done.output


@pytest.mark.parametrize(
    "words",
    [
        ["sheet", "check", "FILE"],
        ["screens", "FILE", "--sheet", "FILE"],
        ["containers", "--settings", "FILE"],
        ["calibrate", "--settings", "FILE"],
        ["backup", "FILE", "--settings", "FILE"],
        ["restore", "FILE", "--settings", "FILE"],
        ["bench", "--bells", "FILE", "--data", "FILE"],
        ["desk", "--settings", "FILE", "--certificate", "FILE", "--key", "FILE"],
    ],
    ids=" ".join,
)
def test_whether_a_file_can_be_read_is_told_by_the_command_itself(
    words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It knows whose file it is and what to type; the check of the library knows neither."""
    file = tmp_path / "file"
    file.write_text("nothing = 1\n", encoding="utf-8")
    monkeypatch.setattr(os, "access", lambda *_, **__: False)
    done = CliRunner().invoke(app, [str(file) if word == "FILE" else word for word in words])
    assert done.exit_code in {1, 2}
    assert "is not readable" not in done.output
    assert str(file) in done.output


NAMES = [[], *([name] for name in COMMANDS), *(["sheet", one] for one in ("check", "list", "show"))]
NAMES += [["containers", one] for one in ("reset", "study")]


@pytest.mark.parametrize("words", NAMES, ids=" ".join)
def test_every_help_has_an_example(words: list[str]) -> None:
    """Whoever reads how a command is used sees it used."""
    said = CliRunner().invoke(app, [*words, "--help"]).stdout
    assert re.search(r"Examples?:", said)
