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

#: What to do where the file is another user's.
DENIED = "it is for the user of the station: put sudo -u wetside in front of the command"

SettingsFile = Annotated[
    Path,
    # whether it can be read is asked and told by `settings_of`
    typer.Option("--settings", readable=False, help="The station's settings file.", metavar="FILE"),
]


def settings_of(file: Path) -> StationSettings:
    """The settings; where they are wrong, the command says why and ends with 2."""
    try:
        return settings.load(file)
    except SettingsError as problem:
        kind = kept_by(file)
        denied = f"; {DENIED}" if kind is PermissionError else ""
        hint = _MISSING if kind is FileNotFoundError else denied
        typer.echo(f"{problem}{hint}", err=True)
        raise typer.Exit(2) from None


def kept_by(file: Path) -> type[OSError] | None:
    """What kind of error keeps this user from reading a file; None where nothing does."""
    try:
        file.open("rb").close()
    except OSError as error:
        return type(error)
    return None
