"""Every command that the documentation names can be typed as it stands."""

from __future__ import annotations

import importlib.util
import re
import shlex
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from wetside.__main__ import app
from wetside.commands import table

ROOT = Path(__file__).parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])

_FENCED = re.compile(r"^ *```(\w*)\n(.*?)^ *```$", re.MULTILINE | re.DOTALL)
_INLINE = re.compile(r"`([^`\n]+)`")
#: What may stand before a command: a prompt, another user, the folder of a venv, a loop.
_BEFORE = re.compile(r"(?:^|&& |\| |\$ |\.venv/bin/|sudo -u wetside )(wetside .*)$")
_SCRIPT = re.compile(r"python3? ((?:tests|docs|hardware|systemd)/\S+\.py)(.*)$")
_MODULE = re.compile(r"python3? -m ([\w.]+)")

#: Commands of blocks marked sh that end by themselves within seconds and change nothing.
_QUICK = ("sheet show", "sheet check firmware", "screens ")


def _lines(page: Path) -> list[str]:
    """Lines of code blocks and inline code; comments and blocks marked text are left out."""
    text = page.read_text(encoding="utf-8")
    blocks = [
        line
        for language, block in _FENCED.findall(text)
        if language != "text"
        for line in block.splitlines()
    ]
    inline = _INLINE.findall(_FENCED.sub("", text))
    return [line.split("  #")[0].split(" # ")[0].strip() for line in (*blocks, *inline)]


def _commands() -> list[tuple[str, str]]:
    found = []
    for page in PAGES:
        for line in _lines(page):
            if match := _BEFORE.search(line):
                words = re.split(r" {3,}| && | \| ", match[1])[0]
                found.append((str(page.relative_to(ROOT)), words.strip()))
    return sorted(set(found))


COMMANDS = _commands()
#: What typer raises for a wrong word; its copy of click is not public.
_ERRORS = tuple(
    one for one in typer.BadParameter.__mro__ if one.__name__ in {"UsageError", "ClickException"}
)


def _placeholder(words: str) -> bool:
    return any(sign in words for sign in ("[", "…", "...")) or words == "wetside "


def test_commands_are_found() -> None:
    """The search itself works: the README's first command is among them."""
    assert ("README.md", "wetside bench") in COMMANDS
    assert 15 < len(COMMANDS)


@pytest.mark.parametrize(("page", "words"), COMMANDS, ids=[f"{p}: {w}" for p, w in COMMANDS])
def test_a_wetside_command_has_only_options_that_exist(page: str, words: str) -> None:
    """Each is parsed by the program itself, up to the point where it would begin to work."""
    if _placeholder(words):
        words = re.split(r"\[|…|\.\.\.", words)[0].strip()
    names = shlex.split(words)[1:]
    if not names or names[0].startswith("-"):
        return  # the program itself
    assert names[0] in table.COMMANDS, f"{page}: {words}: there is no command {names[0]}"
    # typer brings a copy of click, so the classes of click itself are not asked for
    found, names = table.command(names[0]), names[1:]
    while names and not names[0].startswith("-") and (there := getattr(found, "commands", {})):
        assert names[0] in there, f"{page}: {words}: there is no command {names[0]}"
        found, names = there[names[0]], names[1:]
    if hasattr(found, "commands") or not names:
        return  # a command named without its arguments
    found.make_context("wetside", names)


def test_a_wrong_command_would_be_found() -> None:
    """The check itself can fail: on a command, an option and a value that do not exist."""
    for words in ("wetside temper", "wetside bench --quick", "wetside bench --probes three"):
        with pytest.raises((AssertionError, *_ERRORS)):
            test_a_wetside_command_has_only_options_that_exist("", words)


@cache
def _help_of(script: str) -> str:
    done = subprocess.run(
        [sys.executable, script, "--help"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return done.stdout


def _scripts() -> list[tuple[str, str, str]]:
    found = {
        (str(page.relative_to(ROOT)), match[1], match[2])
        for page in PAGES
        for line in _lines(page)
        if (match := _SCRIPT.search(line))
    }
    return sorted(found)


@pytest.mark.slow
@pytest.mark.parametrize(("page", "script", "words"), _scripts())
def test_a_script_is_there_and_knows_its_options(page: str, script: str, words: str) -> None:
    """Each script that a page names exists; each option of it is in its help."""
    assert (ROOT / script).is_file(), page
    for option in re.findall(r"--[a-z-]+", words):
        assert option in _help_of(script)


def test_modules_that_are_named_are_there() -> None:
    """What stands after python -m can be imported."""
    names = {name for page in PAGES for line in _lines(page) for name in _MODULE.findall(line)}
    assert {"wetside_desk", "hardware.build"} <= names
    assert [] == [name for name in sorted(names) if not _is_there(name)]


def _is_there(module: str) -> bool:
    """Whether a module is a file of the repository, or can be imported."""
    if (ROOT / (module.replace(".", "/") + ".py")).is_file():
        return True
    return importlib.util.find_spec(module) is not None


def test_quick_commands_of_blocks_for_the_shell_run() -> None:
    """What a reader would paste, and what ends by itself, ends well."""
    ran = []
    for page in PAGES:
        for language, block in _FENCED.findall(page.read_text(encoding="utf-8")):
            if language != "sh":
                continue
            for line in block.splitlines():
                words = line.strip().removeprefix("wetside ")
                if line.strip().startswith("wetside ") and words.startswith(_QUICK):
                    done = CliRunner().invoke(app, shlex.split(words))
                    assert 0 == done.exit_code, f"{page}: {line}: {done.output}"
                    ran.append(words)
    assert ran
