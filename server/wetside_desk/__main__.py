"""``python -m wetside_desk``: serve the teacher's side over one station's journal."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from wetside_desk import __version__
from wetside_desk.settings import DEFAULT_HOST, DEFAULT_PORT, DeskSettings

#: Open streams never end by themselves; after this the desk stops all the same.
STOP_SECONDS = 2


def main(argv: Sequence[str] | None = None) -> int:
    """Serve until stopped; gives the exit code."""
    settings, forget = parse(argv)
    try:
        settings.data.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        print(f"{settings.data} cannot be used: {error.strerror}", file=sys.stderr)  # noqa: T201  # the command's own voice
        return 2
    if forget:
        return _forget_passphrase(settings)
    # loaded here, so that --help answers at once on a slow device
    import uvicorn  # noqa: PLC0415

    from wetside_desk.app import create_app  # noqa: PLC0415

    config = uvicorn.Config(
        create_app(settings),
        host=settings.host,
        port=settings.port,
        timeout_graceful_shutdown=STOP_SECONDS,
        log_level="warning",
        server_header=False,
    )
    server = uvicorn.Server(config)
    try:
        server.run()
    except SystemExit as stopped:  # uvicorn's way of saying that the address is taken
        return int(stopped.code or 0)
    except KeyboardInterrupt:
        return 0
    return 0 if server.started else 1


def _forget_passphrase(settings: DeskSettings) -> int:
    from wetside_desk.store import accounts, audit  # noqa: PLC0415  # as above
    from wetside_desk.store.database import Database  # noqa: PLC0415  # as above

    database = Database(settings.data / "desk.sqlite3")
    accounts.forget_passphrase(database)
    audit.add(database, "somebody at the device", "passphrase forgotten")
    database.close()
    print("The passphrase and all sessions are gone. Start the desk: the display shows a code.")  # noqa: T201  # the command's own voice
    return 0


def parse(argv: Sequence[str] | None = None) -> tuple[DeskSettings, bool]:
    """The settings on the command line, and whether the passphrase is to be forgotten."""
    parser = argparse.ArgumentParser(
        prog="wetside_desk",
        description="Serve runs, the live board and the API over one station's journal.",
        epilog="example: python -m wetside_desk --journal /var/lib/wetside/journal.sqlite3 "
        "--live /run/wetside --data /var/lib/wetside/desk",
    )
    parser.add_argument("--journal", type=Path, required=True, help="the station's journal")
    parser.add_argument(
        "--live", type=Path, required=True, help="the station's live.json, or its folder"
    )
    parser.add_argument(
        "--data", type=Path, required=True, help="folder for what the desk keeps itself"
    )
    parser.add_argument(
        "--host",
        default=DEFAULT_HOST,
        help="address to listen at; the default answers this machine only",
    )
    parser.add_argument("--port", type=_port, default=DEFAULT_PORT, help="default %(default)s")
    parser.add_argument(
        "--address", default="", help="what phones should open, such as http://sink-1.local:8470"
    )
    parser.add_argument(
        "--files",
        type=Path,
        help="folder of shelf.toml, bells.toml and sheets; inside the data folder if left out",
    )
    parser.add_argument(
        "--forget-passphrase",
        action="store_true",
        help="end: remove the passphrase, so that the next start shows a code again",
    )
    parser.add_argument("--version", action="version", version=f"wetside {__version__}")
    found = parser.parse_args(argv)
    return DeskSettings(
        journal=found.journal,
        live=found.live,
        data=found.data,
        host=found.host,
        port=found.port,
        address=found.address,
        files=found.files,
    ), found.forget_passphrase


def _port(text: str) -> int:
    number = int(text) if text.isdecimal() else 0
    if not 1 <= number <= 65535:
        raise argparse.ArgumentTypeError(f"{text} is not a port; a port is 1 to 65535")
    return number


if __name__ == "__main__":
    sys.exit(main())
