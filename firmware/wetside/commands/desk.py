"""``wetside desk``: the teacher's side, as a process of its own beside the station."""

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from wetside import settings
from wetside.commands.backup import files_folder
from wetside.commands.station import USUAL_SETTINGS
from wetside.errors import SettingsError
from wetside.station.files import journal_path, live_path


def desk(
    settings_file: Annotated[
        Path, typer.Option("--settings", help="The station's settings file.")
    ] = USUAL_SETTINGS,
    host: Annotated[
        str, typer.Option(help="Address to listen at; 0.0.0.0 for the school's network.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=1, max=65535)] = 8470,
) -> None:
    """Serve the pages and the API over the station's journal.

    It only reads what the station writes, so it may be stopped and started at any time.

    Example: wetside desk --host 0.0.0.0
    """
    try:
        loaded = settings.load(settings_file)
    except SettingsError as problem:
        typer.echo(str(problem), err=True)
        typer.echo("Without hardware, try: wetside bench", err=True)
        raise typer.Exit(2) from None
    arguments = {
        "--journal": journal_path(loaded),
        "--live": live_path(loaded),
        "--data": loaded.data_folder / "desk",
        "--host": host,
        "--port": port,
    }
    arguments["--files"] = files_folder(loaded)
    words = [str(word) for pair in arguments.items() for word in pair]
    # another program takes this one's place: the firmware never imports the desk
    os.execv(sys.executable, [sys.executable, "-m", "wetside_desk", *words])  # noqa: S606  # our own interpreter, no shell
