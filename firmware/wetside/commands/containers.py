"""``wetside containers``: what finished runs have taught about each container."""

import json
import os
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer
from rich import box
from rich.table import Table

from wetside.commands.console import Console
from wetside.commands.options import USUAL_SETTINGS, SettingsFile, settings_of
from wetside.errors import JournalError
from wetside.settings import StationSettings
from wetside.station import containers
from wetside.station.containers import ContainerRow
from wetside.station.files import journal_path
from wetside.station.study import study as study_journal

app = typer.Typer(
    invoke_without_command=True,
    help="""What finished runs have taught about each container; forget it again.

The coupling k says how fast the developer nears the bath at 3 C between them: 0.10/min is
a tenth of the way in a minute. Two runs in three lie within k times or over the factor.
Only runs in which a probe was in the bath teach: "2 of 5" runs means two of five.
""",
    epilog="""\b
Examples:
  sudo -u wetside wetside containers
  sudo -u wetside wetside containers --json
  sudo -u wetside wetside containers reset 'plastic 300 mL'
""",
)

#: The option of a subcommand; left out, what was named before it holds.
OwnSettingsFile = Annotated[
    Path | None,
    typer.Option("--settings", readable=False, help="The station's settings file.", metavar="FILE"),
]


@app.callback()
def show(
    context: typer.Context,
    settings_file: SettingsFile = USUAL_SETTINGS,
    as_json: Annotated[bool, typer.Option("--json", help="For programs: a JSON list.")] = False,
) -> None:
    """Show it.

    Exit codes: 0 shown, 1 the file cannot be used, 2 the settings are wrong.
    """
    context.obj = settings_file  # what reset and study take where they are told nothing else
    if context.invoked_subcommand is not None:
        return
    file = containers.path_of(settings_of(settings_file))
    if containers.is_broken(file):
        typer.echo(f"{file} cannot be used; the study after the next run begins anew", err=True)
        raise typer.Exit(1)
    found = containers.learnt(containers.read(file))
    if as_json:
        print(json.dumps([_object(one) for one in found]))
    elif not found:
        print("Nothing is learnt yet: no finished run of this station was studied.")
    else:
        Console().print(_table(found))


@app.command()
def reset(
    context: typer.Context,
    name: Annotated[
        str | None, typer.Argument(help="As the table names it, for example 'plastic 300 mL'.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Every container.")] = False,
    settings_file: OwnSettingsFile = None,
) -> None:
    """Forget what runs so far have taught about one container, or about all of them.

    The runs stay in the journal. The next run begins with what physics says of the wall and
    the volume, and teaches anew.

    \b
    Examples:
      sudo -u wetside wetside containers reset 'plastic 300 mL'
      sudo -u wetside wetside containers reset --all

    Exit codes: 0 forgotten, 1 the journal or the file cannot be used, 2 no such container, or the
    settings are wrong.
    """  # noqa: D301  # \b keeps the lines of the help as they are
    if everything == (name is not None):
        typer.echo("name one container, or give --all", err=True)
        raise typer.Exit(2)
    loaded = settings_of(settings_file or context.obj)
    file = containers.path_of(loaded)
    _study(loaded)  # a run not studied yet would come back later
    try:
        with containers.held(file):
            ledger = containers.read(file)
            known = {one.container.name: one.container for one in ledger}
            if name is not None and name not in known:
                there = ", ".join(sorted(known)) or "none yet"
                typer.echo(f"no container {name!r} was met; there are: {there}", err=True)
                raise typer.Exit(2)
            containers.write(file, containers.forgotten(ledger, known[name] if name else None))
    except OSError as problem:
        typer.echo(f"{file}: {problem.strerror}", err=True)
        raise typer.Exit(1) from None
    print(f"forgotten: {name or 'all containers'}")


@app.command()
def study(context: typer.Context, settings_file: OwnSettingsFile = None) -> None:
    """Study the finished runs that were not studied yet; the station starts this by itself.

    Exit codes: 0 done, 1 the journal or the file cannot be used, 2 the settings are wrong.

    Example: sudo -u wetside wetside containers study
    """
    with suppress(OSError):  # systemd's filter may forbid it
        os.nice(19)
    count = _study(settings_of(settings_file or context.obj))
    print(f"{count} run{'' if count == 1 else 's'} studied")


def _study(loaded: StationSettings) -> int:
    try:
        return study_journal(journal_path(loaded), containers.path_of(loaded), loaded.station)
    except (JournalError, OSError) as problem:
        typer.echo(f"nothing can be studied: {problem}", err=True)
        raise typer.Exit(1) from None


def _object(one: ContainerRow) -> dict[str, object]:
    return {**asdict(one), "container": one.container.name}


def _table(found: tuple[ContainerRow, ...]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for head in ("container", "runs", "last", "k 1/min", "times or over", "without runs"):
        table.add_column(head, justify="left" if head in {"container", "last"} else "right")
    for one in found:
        table.add_row(
            one.container.name,
            f"{one.runs} of {one.looked_at}",
            one.last or "-",
            f"{one.per_minute:.3f}",
            f"{one.factor:.2f}",
            f"{one.bare_per_minute:.3f}, {one.bare_factor:.2f}",
        )
    return table
