"""The table of commands: complete, true, and nothing is imported that was not asked for."""

from __future__ import annotations

import subprocess
import sys

import pytest
from typer.testing import CliRunner

from wetside.__main__ import app
from wetside.commands.table import COMMANDS, command

#: What only some commands need, and what it costs: numpy, pydantic, the simulator, the desk's web.
HEAVY = ("numpy", "pydantic", "rich.table", "wetside.sim", "fastapi", "gpiozero", "PIL")


def imported(*words: str) -> set[str]:
    """Which of the heavy modules a command has imported when it ends."""
    code = (
        "import sys\nfrom wetside.__main__ import main\ntry:\n    main()\n"
        f"finally:\n    print(*(name for name in {HEAVY} if name in sys.modules), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, check=True
    )
    return set(done.stderr.split())


@pytest.mark.parametrize("words", [("--help",), ("--version",)])
def test_the_list_of_commands_imports_none(words: tuple[str, ...]) -> None:
    """What names all commands needs none of them."""
    assert set() == imported(*words)


def test_a_command_imports_no_other() -> None:
    """Replay needs the estimate, and neither the simulated sink nor pictures nor pins."""
    assert {"numpy", "pydantic"} == imported("replay", "--help")


@pytest.mark.parametrize("name", COMMANDS)
def test_the_line_in_the_list_is_the_first_of_the_commands_own_help(name: str) -> None:
    """The table repeats the first sentence, so that it need not be imported."""
    assert COMMANDS[name][1] == command(name).help.split("\n\n")[0].replace("\n", " ")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_says_how_it_is_used_under_its_own_name(name: str) -> None:
    """The help of each is found from the table, and begins with its full name."""
    said = CliRunner().invoke(app, [name, "--help"])
    assert 0 == said.exit_code
    assert said.stdout.startswith(f"Usage: wetside {name} ")


def test_a_name_that_is_nearly_right_is_suggested() -> None:
    """A slip of the pen is answered with the command that was meant."""
    said = CliRunner().invoke(app, ["repaly"])
    assert 2 == said.exit_code
    assert "Did you mean 'replay'?" in said.stderr
