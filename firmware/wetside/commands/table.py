"""All commands: what each is called, where it is, and its line in the help.

A command is imported when it is asked for: on a small Pi each has seconds of imports, and none
needs another's.
"""

from __future__ import annotations

import pkgutil
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup

from wetside import __version__
from wetside.commands.endings import one_line_endings
from wetside.commands.refusals import one_line_refusals

#: Where each is below this package, and the first line of its own help.
COMMANDS = {
    "bench": (
        "bench.command:bench",
        "Take a roll through at a simulated sink: no hardware, no chemistry.",
    ),
    "station": (
        "station:station",
        "Run the station: read the probes, temper, call the steps, keep the journal.",
    ),
    "desk": ("desk:desk", "Serve the pages and the API over the station's journal."),
    "replay": (
        "replay:replay",
        "Play a recording of probe readings and say at every moment what was known by then.",
    ),
    "backup": (
        "backup:backup",
        "Write everything of this station into one file; nothing has to be stopped.",
    ),
    "restore": (
        "backup:restore",
        "Put a backup back: journal, desk, containers, the teacher's files, the settings.",
    ),
    "screens": (
        "screens:screens",
        "Write every screen as PNG, with one sheet of contacts and a page to look at.",
    ),
    "doctor": (
        "doctor.command:doctor",
        "Look at everything the station needs: what is there, what is missing, how to mend it.",
    ),
    "calibrate": (
        "calibrate.command:calibrate",
        "Correct a probe by melting ice and one reference thermometer.",
    ),
    "sheet": (
        "sheet:app",
        "Check process sheets, list them, show what they will say and when.",
    ),
    "containers": (
        "containers:app",
        "What finished runs have taught about each container; forget it again.",
    ),
}


def command(name: str) -> Any:  # noqa: ANN401  # typer's copy of click has no public names
    """The whole command, imported now: what typer makes of its function or of its own commands."""
    part = pkgutil.resolve_name(f"wetside.commands.{COMMANDS[name][0]}")
    holder = typer.Typer(rich_markup_mode=None)
    if isinstance(part, typer.Typer):
        holder.add_typer(part, name=name)
    else:
        holder.command(name)(part)
    return typer.main.get_group(holder).commands[name]


class _Later(TyperCommand):
    """Stands for a command in the list of all, and is it once it is asked for."""

    def make_context(self, *words: Any, **named: Any) -> Any:  # noqa: ANN401  # the same
        return command(str(self.name)).make_context(*words, **named)


class _All(TyperGroup):
    """The commands, each of which ends as people expect whatever becomes of its output."""

    def make_context(self, *words: Any, **named: Any) -> Any:  # noqa: ANN401  # the same
        with one_line_endings(), one_line_refusals():
            return super().make_context(*words, **named)

    def invoke(self, ctx: Any) -> Any:  # noqa: ANN401  # the same
        with one_line_endings(), one_line_refusals():
            return super().invoke(ctx)


app = typer.Typer(
    name="wetside",
    cls=_All,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="Tempering, timing and logging at the sink of a teaching darkroom.",
    epilog="""\b
Examples:
  wetside bench                  a roll without hardware
  sudo -u wetside wetside doctor what the device has and lacks
  wetside replay --help          more of one command
""",
)


def _not_yet() -> None:
    """Never called: `_Later` puts the command itself in this one's place."""


for _name, (_where, _line) in COMMANDS.items():
    app.command(_name, cls=_Later, help=_line)(_not_yet)


def _version(value: bool) -> None:
    if value:
        typer.echo(f"wetside {__version__}")
        raise typer.Exit


@app.callback()
def root(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Show the version."
    ),
) -> None:
    """Tempering, timing and logging at the sink of a teaching darkroom."""
