"""What the commands have in common: where the station's settings are, and reading them."""

from pathlib import Path
from typing import Annotated

import typer

from wetside import settings
from wetside.errors import SettingsError
from wetside.settings import StationSettings

USUAL_SETTINGS = Path("/etc/wetside/station.toml")

SettingsFile = Annotated[
    Path, typer.Option("--settings", help="The station's settings file.", metavar="FILE")
]


def settings_of(file: Path, hint: str = "") -> StationSettings:
    """The settings; where they are wrong, the command says why and ends with 2.

    ``hint`` is said after that.
    """
    try:
        return settings.load(file)
    except SettingsError as problem:
        typer.echo(str(problem), err=True)
        if hint:
            typer.echo(hint, err=True)
        raise typer.Exit(2) from None
