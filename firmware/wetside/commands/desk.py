"""``wetside desk``: the teacher's side, as a process of its own beside the station."""

import os
import signal
import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from wetside.commands.backup import files_folder
from wetside.commands.options import USUAL_SETTINGS, SettingsFile, settings_of
from wetside.station.files import journal_path, live_path


class Tls(StrEnum):
    """How the desk speaks to browsers."""

    OFF = "off"
    SELF_SIGNED = "self-signed"


def desk(
    settings_file: SettingsFile = USUAL_SETTINGS,
    host: Annotated[
        str, typer.Option(help="Address to listen at; 0.0.0.0 for the school's network.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=1, max=65535)] = 8470,
    tls: Annotated[
        Tls, typer.Option(help="self-signed: HTTPS with a certificate that the desk makes.")
    ] = Tls.OFF,
    certificate: Annotated[
        Path | None,
        typer.Option(
            envvar="WETSIDE_DESK_CERTIFICATE",
            readable=False,
            help="HTTPS with this certificate and chain (PEM).",
        ),
    ] = None,
    key: Annotated[
        Path | None,
        typer.Option(
            envvar="WETSIDE_DESK_KEY",
            readable=False,
            help="The key of --certificate, if not in its file.",
        ),
    ] = None,
    address: Annotated[
        str,
        typer.Option(
            envvar="WETSIDE_DESK_ADDRESS",
            help="What phones should open, such as http://sink-1.local:8470.",
        ),
    ] = "",
    show_certificate: Annotated[
        bool,
        typer.Option(
            "--show-certificate", help="Make or renew that certificate, print it, and end."
        ),
    ] = False,
    forget_passphrase: Annotated[
        bool,
        typer.Option(
            "--forget-passphrase",
            help="Remove the passphrase, and end: the next start shows a code.",
        ),
    ] = False,
) -> None:
    """Serve the pages and the API over the station's journal.

    It only reads what the station writes, so it may be stopped and started at any time.

    Exit codes: 0 stopped as asked, 1 nothing can listen there, 2 something was asked wrongly.

    Example: wetside desk --host 0.0.0.0
    """
    loaded = settings_of(settings_file)
    arguments = {
        "--journal": journal_path(loaded),
        "--live": live_path(loaded),
        "--data": loaded.data_folder / "desk",
        "--host": host,
        "--port": port,
        "--tls": tls,
        "--files": files_folder(loaded),
        "--settings": settings_file,
        "--certificate": certificate,
        "--key": key,
        "--address": address or None,
    }
    words = [str(word) for pair in arguments.items() if pair[1] is not None for word in pair]
    words += ["--show-certificate"] if show_certificate else []
    words += ["--forget-passphrase"] if forget_passphrase else []
    # Ctrl-C waits until that program can take it: while Python starts it would be a traceback
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        # another program takes this one's place: the firmware never imports the desk
        os.execv(sys.executable, [sys.executable, "-m", "wetside_desk", *words])  # noqa: S606  # our own interpreter, no shell
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
