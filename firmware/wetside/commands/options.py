"""What the commands have in common: where the station's settings are, and reading them."""

from pathlib import Path
from typing import Annotated

import typer

from wetside import settings
from wetside.errors import SettingsError
from wetside.settings import StationSettings

USUAL_SETTINGS = Path("/etc/wetside/station.toml")

#: What to do where there is no file at all.
_MISSING = (
    "; on the device the installer (systemd/install.sh) makes it, --settings FILE names another, "
    "and wetside bench needs none and no hardware"
)

SettingsFile = Annotated[
    Path, typer.Option("--settings", help="The station's settings file.", metavar="FILE")
]


def settings_of(file: Path) -> StationSettings:
    """The settings; where they are wrong, the command says why and ends with 2."""
    try:
        return settings.load(file)
    except SettingsError as problem:
        typer.echo(f"{problem}{_MISSING if _is_missing(file) else ''}", err=True)
        raise typer.Exit(2) from None


def _is_missing(file: Path) -> bool:
    try:
        file.stat()
    except OSError as error:  # another one: it may be there, for somebody else
        return isinstance(error, FileNotFoundError)
    return False
