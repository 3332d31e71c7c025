"""``python -m wetside_desk``: serve the teacher's side over one station's journal."""

import signal
import sys

try:
    import argparse
    import time
    from collections.abc import Sequence
    from enum import StrEnum
    from pathlib import Path
    from typing import TYPE_CHECKING, NoReturn
    from urllib.parse import urlsplit

    from wetside.wholefile import make_folder
    from wetside_desk import __version__
    from wetside_desk.settings import DEFAULT_HOST, DEFAULT_PORT, DeskSettings

    # ``wetside desk`` keeps Ctrl-C waiting until here
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
except KeyboardInterrupt:  # 128 + SIGINT, as every command
    sys.exit(130)

if TYPE_CHECKING:
    import uvicorn

    from wetside_desk.access.certificate import CertificateKeeper

EXAMPLE = (
    "python -m wetside_desk --journal /var/lib/wetside/journal.sqlite "
    "--live /run/wetside --data /var/lib/wetside/desk"
)

#: Open streams never end by themselves; after this the desk stops all the same.
STOP_SECONDS = 2


class Task(StrEnum):
    """What the command is to do."""

    SERVE = "serve"
    FORGET = "forget"
    SHOW = "show"


def main(argv: Sequence[str] | None = None) -> int:
    """Do what the command line says; gives the exit code."""
    settings, task = parse(argv)
    try:
        make_folder(settings.data)
    except OSError as error:
        _refuse(f"{settings.data} cannot be used: {error.strerror}")
        return 2
    does = {
        Task.SERVE: _serve,
        Task.FORGET: _forget_passphrase,
        Task.SHOW: _show_certificate,
    }
    return does[task](settings)


def _refuse(why: str) -> None:
    print(f"wetside desk: {why}", file=sys.stderr)  # noqa: T201  # the command's own voice


def _serve(settings: DeskSettings) -> int:
    # loaded here, so that --help answers at once on a slow device
    import uvicorn  # noqa: PLC0415

    from wetside_desk import whereabouts  # noqa: PLC0415
    from wetside_desk.access.punctual import Punctual  # noqa: PLC0415
    from wetside_desk.app import create_app  # noqa: PLC0415
    from wetside_desk.listening import CannotListen, listen  # noqa: PLC0415

    app = create_app(settings)
    config = uvicorn.Config(
        app,
        http=Punctual,
        timeout_graceful_shutdown=STOP_SECONDS,
        log_level="warning",
        server_header=False,
    )
    try:
        _encrypt(config, settings, app.state.desk.certificate)
    except OSError as error:  # that covers what is wrong inside the files, too
        _refuse(_no_certificate(settings, error))
        return 2
    try:
        sockets = listen(settings.host, settings.port)
    except CannotListen as problem:
        _refuse(str(problem))
        return 1
    server = uvicorn.Server(config)
    print(f"the desk is at {whereabouts.address_of(settings)}, until Ctrl-C", flush=True)  # noqa: T201  # the command's own voice
    if not settings.journal.exists():
        print(f"no journal there yet: {settings.journal}", file=sys.stderr)  # noqa: T201  # as above
    try:
        server.run(sockets)
    except KeyboardInterrupt:
        return 0
    return 0 if server.started else 1


def _no_certificate(settings: DeskSettings, error: OSError) -> str:
    """Why a certificate cannot be used, by the file that is to be looked at."""
    if settings.certificate is None:
        return f"{settings.data / 'tls'}: the certificate cannot be used: {error.strerror}"
    for file in (settings.certificate, settings.key):
        try:
            if file is not None:
                file.open("rb").close()
        except OSError as closed:
            return f"{file}: the certificate cannot be used: {closed.strerror}"
    kind = getattr(error, "reason", None)  # of what OpenSSL found
    if kind == "KEY_VALUES_MISMATCH":
        why = f"{settings.key or 'the key in it'} is the key of another one"
    else:
        key = " and the key" if settings.key is None else f", or {settings.key} no key"
        why = f"there is no certificate{key} in PEM in it"
    return f"{settings.certificate}: the certificate cannot be used: {why}"


def _encrypt(
    config: "uvicorn.Config", settings: DeskSettings, keeper: "CertificateKeeper | None"
) -> None:
    """Let the server speak HTTPS where the settings say so.

    Raises
    ------
    OSError
        A file cannot be read or written, or is no certificate with its key.
    """
    if keeper is not None:
        keeper.look(time.time())
        config.ssl_certfile, config.ssl_keyfile = str(keeper.file), None
    elif settings.certificate is not None:
        config.ssl_certfile = str(settings.certificate)
        config.ssl_keyfile = None if settings.key is None else str(settings.key)
    config.load()
    context = config.ssl
    if keeper is not None and context is not None:
        # connections that are open go on with the old one
        keeper.on_change = lambda: context.load_cert_chain(keeper.file)


def _show_certificate(settings: DeskSettings) -> int:
    from wetside_desk.access.certificate import keeper_of  # noqa: PLC0415  # as above

    keeper = keeper_of(settings)
    try:
        renewed = keeper.look(time.time())
    except OSError as error:
        _refuse(f"the certificate cannot be made: {error}")
        return 2
    made = keeper.made
    assert made is not None  # noqa: S101  # look made it
    ends = time.strftime("%Y-%m-%d", time.gmtime(made.until))
    print(f"certificate  {keeper.public_file}{' (new)' if renewed else ''}")  # noqa: T201  # as above
    print(f"names        {', '.join(made.names)}")  # noqa: T201  # as above
    print(f"valid until  {ends}")  # noqa: T201  # as above
    print(f"SHA-256      {made.printed}")  # noqa: T201  # as above
    return 0


def _forget_passphrase(settings: DeskSettings) -> int:
    from wetside_desk.store import accounts, audit  # noqa: PLC0415  # as above
    from wetside_desk.store.database import Database  # noqa: PLC0415  # as above

    database = Database(settings.data / "desk.sqlite3")
    accounts.forget_passphrase(database)
    audit.add(database, "somebody at the device", "passphrase forgotten")
    database.close()
    print("The passphrase and all sessions are gone. Start the desk: the display shows a code.")  # noqa: T201  # the command's own voice
    return 0


class _OneLine(argparse.ArgumentParser):
    """Tells what was asked wrongly in one line, as every command."""

    def error(self, message: str) -> NoReturn:
        """End with 2."""
        self.exit(2, f"{self.prog}: {message}\n")


def parse(argv: Sequence[str] | None = None) -> tuple[DeskSettings, Task]:
    """The settings on the command line, and what is to be done."""
    parser = _OneLine(
        prog="wetside desk",
        description="Serve runs, the live board and the API over one station's journal.",
        epilog=f"example: {EXAMPLE}",
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
        type=_host,
        default=DEFAULT_HOST,
        help="address to listen at; the default answers this machine only",
    )
    parser.add_argument("--port", type=_port, default=DEFAULT_PORT, help="default %(default)s")
    parser.add_argument(
        "--address",
        type=_address,
        default="",
        help="what phones should open, such as http://sink-1.local:8470",
    )
    parser.add_argument(
        "--files",
        type=Path,
        help="folder of shelf.toml, bells.toml and sheets; inside the data folder if left out",
    )
    parser.add_argument("--settings", type=Path, help="the station's settings file, for backups")
    parser.add_argument(
        "--tls",
        choices=("off", "self-signed"),
        default="off",
        help="self-signed: speak HTTPS with a certificate that the desk makes and renews",
    )
    parser.add_argument(
        "--certificate", type=Path, help="speak HTTPS with this certificate and its chain (PEM)"
    )
    parser.add_argument("--key", type=Path, help="the key of --certificate, if not in its file")
    tasks = parser.add_mutually_exclusive_group()
    tasks.add_argument(
        "--forget-passphrase",
        dest="task",
        action="store_const",
        const=Task.FORGET,
        default=Task.SERVE,
        help="end: remove the passphrase, so that the next start shows a code again",
    )
    tasks.add_argument(
        "--show-certificate",
        dest="task",
        action="store_const",
        const=Task.SHOW,
        help="end: make or renew the desk's own certificate and print its fingerprint",
    )
    parser.add_argument("--version", action="version", version=f"wetside {__version__}")
    found = parser.parse_args(argv)
    if found.key is not None and found.certificate is None:
        parser.error("--key belongs to a --certificate")
    if found.certificate is not None and found.tls != "off":
        parser.error("--certificate and --tls self-signed exclude each other")
    return DeskSettings(
        journal=found.journal,
        live=found.live,
        data=found.data,
        host=found.host,
        port=found.port,
        address=found.address,
        files=found.files,
        self_signed=found.tls == "self-signed",
        certificate=found.certificate,
        key=found.key,
        station=found.settings,
    ), found.task


def _address(text: str) -> str:
    try:
        parts = urlsplit(text)
        named = parts.scheme in {"http", "https"} and bool(parts.hostname) and parts.port != 0
        fine = not text or named  # a port that there cannot be is a ValueError
    except ValueError:
        fine = False
    if not fine:
        raise argparse.ArgumentTypeError(
            f"{text} is no address; an address is such as http://sink-1.local:8470"
        )
    return text


def _host(text: str) -> str:
    if not text.strip():
        raise argparse.ArgumentTypeError(
            "an address to listen at is missing; 0.0.0.0 is all that this machine has"
        )
    return text


def _port(text: str) -> int:
    number = int(text) if text.isdecimal() else 0
    if not 1 <= number <= 65535:
        raise argparse.ArgumentTypeError(f"{text} is not a port; a port is 1 to 65535")
    return number


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:  # while it starts; a desk that is there ends with 0
        sys.exit(130)
