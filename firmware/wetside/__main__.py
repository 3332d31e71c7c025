"""``wetside``: the commands."""

import typer

from wetside import __version__
from wetside.commands.backup import backup, restore
from wetside.commands.bench.command import bench
from wetside.commands.calibrate.command import calibrate
from wetside.commands.containers import app as containers
from wetside.commands.desk import desk
from wetside.commands.doctor.command import doctor
from wetside.commands.replay import replay
from wetside.commands.screens import screens
from wetside.commands.sheet import app as sheet
from wetside.commands.station import station

app = typer.Typer(
    name="wetside",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="Tempering, timing and logging at the sink of a teaching darkroom.",
)
app.command()(bench)
app.command()(station)
app.command()(desk)
app.command()(replay)
app.command()(backup)
app.command()(restore)
app.add_typer(sheet, name="sheet")
app.add_typer(containers, name="containers")
app.command()(screens)
app.command()(doctor)
app.command()(calibrate)


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


def main() -> None:
    """Run the command that was asked for."""
    app()


if __name__ == "__main__":
    main()
