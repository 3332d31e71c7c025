"""The desk says that it is there once it listens; where it cannot, one line says why."""

from __future__ import annotations

import os
import signal
import socket
import ssl
import subprocess
import sys
from pathlib import Path

import pytest

from wetside_desk.__main__ import main, parse
from wetside_desk.listening import CannotListen, listen
from wetside_desk.settings import DeskSettings


def _words(folder: DeskSettings, *more: str) -> list[str]:
    paths = ("--journal", folder.journal, "--live", folder.live, "--data", folder.data)
    return [*map(str, paths), *more]


@pytest.mark.parametrize("host", ["999.1.1.1", "no-such-machine.invalid", "a..b"])
def test_a_host_that_does_not_exist_is_named(
    host: str, folder: DeskSettings, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is said to be there, and nobody is asked whether another desk runs."""
    assert 1 == main(_words(folder, "--host", host))
    said = capsys.readouterr()
    assert ("", f"wetside desk: --host {host}: nothing is known by this name or address\n") == (
        said.out,
        said.err,
    )


def test_an_address_of_another_machine_is_named(
    folder: DeskSettings, capsys: pytest.CaptureFixture[str]
) -> None:
    """192.0.2.1 is nobody's (RFC 5737): this machine cannot listen there."""
    assert 1 == main(_words(folder, "--host", "192.0.2.1"))
    said = capsys.readouterr()
    assert "" == said.out
    assert "--host 192.0.2.1: this machine has no such address" in said.err
    assert 1 == len(said.err.splitlines())


def test_an_empty_host_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """It would be every address of the machine, which nobody asked for."""
    with pytest.raises(SystemExit) as ended:
        parse(["--journal", "j", "--live", "l", "--data", "d", "--host", ""])
    assert 2 == ended.value.code
    assert "an address to listen at is missing" in capsys.readouterr().err


def test_a_name_is_listened_at_under_each_of_its_addresses() -> None:
    """A desk at localhost is found by whoever asks 127.0.0.1; a taken port is told."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    opened = listen("localhost", port)
    try:
        socket.create_connection(("127.0.0.1", port), timeout=5).close()
        with pytest.raises(CannotListen, match=f"port {port} is taken at 127.0.0.1"):
            listen("127.0.0.1", port)
    finally:
        for one in opened:
            one.close()


@pytest.mark.parametrize(
    "words",
    [["--key", "k.pem"], ["--address", "http://sink:99999"], ["--address", "http://sink:0"]],
    ids=" ".join,
)
def test_what_was_asked_wrongly_is_one_line(
    words: list[str], folder: DeskSettings, capsys: pytest.CaptureFixture[str]
) -> None:
    """The line begins with the command that was typed, and the code is 2."""
    with pytest.raises(SystemExit) as ended:
        main(_words(folder, *words))
    said = capsys.readouterr().err
    assert 2 == ended.value.code
    assert said.startswith("wetside desk: ")
    assert 1 == len(said.splitlines())


def test_what_is_wrong_with_a_certificate_is_said_in_words(
    folder: DeskSettings, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file of something else, a key of another certificate and a missing key are told apart."""
    files = []
    for name in ("one", "two"):
        assert 0 == main(_words(folder, "--show-certificate"))
        both = (folder.data / "tls" / "desk.pem").read_text(encoding="ascii")
        assert ssl.PEM_HEADER in both
        files.append(tmp_path / f"{name}.pem")
        files[-1].write_text(both, encoding="ascii")
        for old in (folder.data / "tls").iterdir():
            old.unlink()
    capsys.readouterr()
    bad = tmp_path / "bad.pem"
    bad.write_text("no certificate", encoding="ascii")
    told = {
        (bad, None): "there is no certificate and the key in PEM in it",
        (files[0], files[1]): f"{files[1]} is the key of another one",
        (files[0], tmp_path / "none"): "No such file or directory",
    }
    for (certificate, key), why in told.items():
        words = ["--certificate", str(certificate), *(() if key is None else ("--key", str(key)))]
        assert 2 == main(_words(folder, *words))
        said = capsys.readouterr()
        assert ("", 1) == (said.out, len(said.err.splitlines()))
        assert said.err.endswith(f"the certificate cannot be used: {why}\n")


#: Runs the desk with a Ctrl-C at the so-many-th import from its first line on.
STOPPED = """
import runpy, signal, sys
moment, imports = int(sys.argv.pop(1)), 0
def hook(event, arguments):
    global imports
    imports += event == "import" and bool(imports or arguments[0] == "argparse")
    if imports == moment and event == "import":
        imports += 1
        signal.raise_signal(signal.SIGINT)
sys.addaudithook(hook)
runpy.run_module("wetside_desk", run_name="__main__")
"""


@pytest.mark.parametrize("moment", [1, 3, 10, 40, 120, 300])
def test_ctrl_c_while_the_desk_starts_gives_130_and_no_traceback(
    moment: int, folder: DeskSettings
) -> None:
    """On a small Pi its start takes long, and it ends as every other command does."""
    done = subprocess.run(
        [sys.executable, "-c", STOPPED, str(moment), *_words(folder, "--port", "1")],
        capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert (130, "", "") == (done.returncode, done.stdout, done.stderr)


def test_ctrl_c_waits_while_one_program_takes_the_place_of_the_other(
    folder: DeskSettings,
) -> None:
    """What is pressed before the desk's own first line ends it there, not in Python's start."""

    def held() -> None:
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        os.kill(os.getpid(), signal.SIGINT)

    done = subprocess.run(
        [sys.executable, "-m", "wetside_desk", *_words(folder, "--port", "1")],
        capture_output=True, text=True, check=False, timeout=120, preexec_fn=held,
    )  # fmt: skip
    assert (130, "", "") == (done.returncode, done.stdout, done.stderr)
