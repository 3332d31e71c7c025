"""HTTPS with the desk's own certificate: a real TLS client against a real server."""

from __future__ import annotations

import hashlib
import http.client
import json
import os
import re
import shlex
import socket
import ssl
import stat
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlencode
from urllib.request import urlopen

import pytest
import uvicorn
from typer.testing import CliRunner

from wetside.__main__ import app
from wetside.settings import StationSettings
from wetside.station.files import journal_path
from wetside_desk.__main__ import EXAMPLE, Task, _encrypt, main, parse
from wetside_desk.access.certificate import RENEW_DAYS, VALID_DAYS, CertificateKeeper, wanted_names
from wetside_desk.app import create_app
from wetside_desk.settings import DeskSettings
from wetside_desk.whereabouts import address_of, name_of, own_addresses

if TYPE_CHECKING:
    from tests.desk.asking import PASSPHRASE
else:
    from desk_asking import PASSPHRASE

DAY = 86400.0
NOW = 1_790_000_000.0


@contextmanager
def served(settings: DeskSettings) -> Iterator[tuple[DeskSettings, CertificateKeeper | None]]:
    """Serve a desk as the command does, at a port that was free."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        settings = replace(settings, port=listening.getsockname()[1])
        app = create_app(settings)
        config = uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=1)
        keeper = app.state.desk.certificate
        _encrypt(config, settings, keeper)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        until = time.monotonic() + 30
        while not server.started and time.monotonic() < until:
            time.sleep(0.01)
        try:
            yield settings, keeper
        finally:
            server.should_exit = True
            thread.join()


def trusting(certificate: Path) -> ssl.SSLContext:
    """A client that trusts this one certificate, and reads it as strictly as Python 3.13 does."""
    context = ssl.create_default_context(cafile=certificate)
    context.verify_flags |= ssl.VERIFY_X509_STRICT
    return context


def ask(
    settings: DeskSettings,
    context: ssl.SSLContext,
    path: str = "/live",
    form: dict[str, str] | None = None,
    host: str = "127.0.0.1",
) -> tuple[http.client.HTTPResponse, str]:
    """One request; the answer and the fingerprint of who gave it."""
    connection = http.client.HTTPSConnection(host, settings.port, timeout=30, context=context)
    headers = {"Content-Type": "application/x-www-form-urlencoded"} if form else {}
    connection.request("POST" if form else "GET", path, urlencode(form or {}), headers)
    shown = connection.sock.getpeercert(binary_form=True)
    answer = connection.getresponse()
    answer.read()
    connection.close()
    assert shown is not None
    return answer, hashlib.sha256(shown).hexdigest().upper()


def test_a_client_that_trusts_the_certificate_is_served(folder: DeskSettings) -> None:
    """By address and by name; the display gets the fingerprint of what is really served."""
    with served(replace(folder, self_signed=True)) as (settings, keeper):
        assert keeper is not None
        context = trusting(keeper.public_file)
        for host in ("127.0.0.1", "localhost"):
            answer, fingerprint = ask(settings, context, host=host)
            assert 200 == answer.status
        file = folder.live / "address.json"
        until = time.monotonic() + 20
        while not file.exists() and time.monotonic() < until:
            time.sleep(0.02)
        note = json.loads(file.read_text())
        assert fingerprint == note["fingerprint"]
        assert f"https://127.0.0.1:{settings.port}" == note["address"]
        url = f"https://127.0.0.1:{settings.port}/station"
        with urlopen(url, context=context, timeout=30) as page:
            assert keeper.made is not None
            assert keeper.made.printed in page.read().decode()
        # a browser that was told would not let anybody past a renewed certificate any more
        assert answer.getheader("Strict-Transport-Security") is None


def test_a_client_that_does_not_know_the_certificate_refuses(folder: DeskSettings) -> None:
    """Nobody vouches for it, and it vouches for no other name."""
    with served(replace(folder, self_signed=True)) as (settings, keeper):
        assert keeper is not None
        with pytest.raises(ssl.SSLCertVerificationError, match="self-signed"):
            ask(settings, ssl.create_default_context())
        context = trusting(keeper.public_file)
        plain = socket.create_connection(("127.0.0.1", settings.port))
        with plain, pytest.raises(ssl.SSLCertVerificationError, match="match"):
            context.wrap_socket(plain, server_hostname="another.example")


def test_cookies_are_secure_over_https(claimed: DeskSettings) -> None:
    """The session's cookie never leaves over plain HTTP when it came by HTTPS."""
    with served(replace(claimed, self_signed=True)) as (settings, keeper):
        assert keeper is not None
        context = trusting(keeper.public_file)
        answer, _ = ask(settings, context, "/sign-in", {"passphrase": PASSPHRASE})
        assert 303 == answer.status
        cookie = answer.getheader("Set-Cookie") or ""
        assert {"secure", "httponly"} <= {part.strip().lower() for part in cookie.split(";")}


def test_a_renewed_certificate_is_served_at_once(folder: DeskSettings) -> None:
    """The desk need not be started anew; the new one is another and is trusted as itself."""
    with served(replace(folder, self_signed=True)) as (settings, keeper):
        assert keeper is not None
        _, before = ask(settings, trusting(keeper.public_file))
        keeper._names = lambda: ["127.0.0.1", "new-name.local"]
        assert keeper.look(time.time())
        _, after = ask(settings, trusting(keeper.public_file))
        assert before != after
        assert keeper.made is not None
        assert after == keeper.made.fingerprint


def test_a_certificate_of_the_school_is_served(folder: DeskSettings, tmp_path: Path) -> None:
    """One that was made elsewhere, given with its key."""
    keeper = CertificateKeeper(tmp_path / "school", lambda: ["127.0.0.1"])
    keeper.look(time.time())
    with served(replace(folder, certificate=keeper.file)) as (settings, own):
        assert own is None
        answer, fingerprint = ask(settings, trusting(keeper.public_file))
        assert 200 == answer.status
        assert keeper.made is not None
        assert keeper.made.fingerprint == fingerprint


def test_only_the_desk_may_read_the_key(tmp_path: Path) -> None:
    """The key's file is 0600 also under an open umask; the public file holds no key."""
    keeper = CertificateKeeper(tmp_path / "tls", lambda: ["sink.local"])
    before = os.umask(0)
    try:
        assert keeper.look(NOW)
    finally:
        os.umask(before)
    assert 0o600 == stat.S_IMODE(keeper.file.stat().st_mode)
    assert 0o700 == stat.S_IMODE(keeper.file.parent.stat().st_mode)
    assert "PRIVATE KEY" in keeper.file.read_text()
    assert "PRIVATE KEY" not in keeper.public_file.read_text()


def test_it_is_renewed_before_its_end_and_not_sooner(tmp_path: Path) -> None:
    """Until thirty days before its end it stays, also over a restart and with a clock behind."""
    folder = tmp_path / "tls"
    assert CertificateKeeper(folder, lambda: ["sink.local"]).look(NOW)
    last = NOW + (VALID_DAYS - RENEW_DAYS - 1) * DAY
    for now in (NOW - 400 * DAY, NOW, last - DAY):
        assert not CertificateKeeper(folder, lambda: ["sink.local"]).look(now)
    assert CertificateKeeper(folder, lambda: ["sink.local"]).look(last + DAY)


def test_one_of_a_clock_that_was_ahead_is_renewed(tmp_path: Path) -> None:
    """Phones would refuse it until it begins; only a clock that is right is a reason."""
    folder = tmp_path / "tls"
    assert CertificateKeeper(folder, lambda: ["sink.local"]).look(NOW + 3650 * DAY)
    keeper = CertificateKeeper(folder, lambda: ["sink.local"])
    assert not keeper.look(NOW)
    assert keeper.look(NOW, trusted=True)
    assert not keeper.look(NOW, trusted=True)


def test_it_is_renewed_for_new_names_and_keeps_the_old(tmp_path: Path) -> None:
    """Another address means another certificate; going back to the first one does not."""
    names = ["sink.local", "192.168.1.20", "fd00::2"]
    keeper = CertificateKeeper(tmp_path / "tls", lambda: names)
    keeper.look(NOW)
    assert keeper.made is not None
    assert set(names) == set(keeper.made.names)
    names = ["sink.local", "10.0.0.7"]
    assert keeper.look(NOW)
    assert {"sink.local", "10.0.0.7", "192.168.1.20", "fd00::2"} == set(keeper.made.names)
    names = ["sink.local", "192.168.1.20", "fd00::2"]
    assert not keeper.look(NOW)


@pytest.mark.parametrize("harm", ["half", "empty", "open", "gone", "another key"])
def test_a_damaged_file_is_made_anew(tmp_path: Path, harm: str) -> None:
    """Half written, open to others, or a key that is not its certificate's: a new one is made."""
    keeper = CertificateKeeper(tmp_path / "tls", lambda: ["sink.local"])
    keeper.look(NOW)
    text = keeper.file.read_text()
    if harm == "half":
        keeper.file.write_text(text[: len(text) // 2])
    elif harm == "empty":
        keeper.file.write_text("")
    elif harm == "open":
        keeper.file.chmod(0o640)
    elif harm == "gone":
        keeper.file.unlink()
    else:
        other = CertificateKeeper(tmp_path / "other", lambda: ["sink.local"])
        other.look(NOW)
        key = other.file.read_text().partition("-----BEGIN CERT")[0]
        keeper.file.write_text(key + keeper.public_file.read_text())
    again = CertificateKeeper(tmp_path / "tls", lambda: ["sink.local"])
    assert again.look(NOW)
    assert again.made != keeper.made
    assert 0o600 == stat.S_IMODE(again.file.stat().st_mode)


def test_names_are_those_under_which_phones_may_ask(folder: DeskSettings) -> None:
    """The given host first, then the machine's name, its name in the local network, addresses."""
    names = wanted_names(replace(folder, address="https://sink-1.local:8470"))
    host = socket.gethostname().partition(".")[0].lower()
    expected = {"sink-1.local", host, f"{host}.local", "localhost", "127.0.0.1", "::1"}
    assert "sink-1.local" == names[0]
    assert expected | set(own_addresses()) == set(names)


def test_the_example_of_the_help_can_be_typed() -> None:
    """The command that --help shows is understood, and names the station's own journal."""
    words = shlex.split(EXAMPLE)
    assert ["python", "-m", "wetside_desk"] == words[:3]
    settings, task = parse(words[3:])
    assert task is Task.SERVE
    assert journal_path(StationSettings()) == settings.journal


def test_the_command_hands_every_option_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """``wetside desk`` gives the desk's program each option of it that docs/desk.md names."""
    started: list[list[str]] = []
    monkeypatch.setattr(os, "execv", lambda _, words: started.append(words))
    file = tmp_path / "station.toml"
    file.write_text(f'data_folder = "{tmp_path}"\n', encoding="utf-8")
    options = "--certificate chain.pem --key key.pem --address https://desk.school"
    for words in (options.split(), ["--forget-passphrase"], ["--show-certificate"]):
        done = CliRunner().invoke(app, ["desk", "--settings", str(file), *words])
        assert 0 == done.exit_code, done.output
    found = [parse(words[3:]) for words in started]
    assert [Task.SERVE, Task.FORGET, Task.SHOW] == [task for _, task in found]
    told = found[0][0]
    assert (Path("chain.pem"), Path("key.pem"), "https://desk.school") == (
        told.certificate,
        told.key,
        told.address,
    )
    assert (None, None, "") == (found[1][0].certificate, found[1][0].key, found[1][0].address)


def test_desk_env_names_certificate_and_address(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An installed desk takes them from its environment; what is empty there is as if left out."""
    started: list[list[str]] = []
    monkeypatch.setattr(os, "execv", lambda _, words: started.append(words))
    file = tmp_path / "station.toml"
    file.write_text(f'data_folder = "{tmp_path}"\n', encoding="utf-8")
    names = ("CERTIFICATE", "KEY", "ADDRESS")
    for values in (("chain.pem", "key.pem", "https://desk.school"), ("", "", "")):
        env = {f"WETSIDE_DESK_{name}": value for name, value in zip(names, values, strict=True)}
        done = CliRunner().invoke(app, ["desk", "--settings", str(file)], env=env)
        assert 0 == done.exit_code, done.output
    told, untold = (parse(words[3:])[0] for words in started)
    assert (Path("chain.pem"), Path("key.pem")) == (told.certificate, told.key)
    assert "https://desk.school" == told.address
    assert (None, None, "") == (untold.certificate, untold.key, untold.address)


@pytest.mark.parametrize("address", ["foo", "sink-1.local:8470", "ftp://sink-1", "http://"])
def test_what_no_phone_can_open_is_no_address(
    address: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """An address begins with http:// or https:// and names a host; another is refused."""
    with pytest.raises(SystemExit):
        parse(["--journal", "j", "--live", "l", "--data", "d", "--address", address])
    assert f"{address} is no address" in capsys.readouterr().err


def test_the_command_prints_what_to_compare(
    folder: DeskSettings, capsys: pytest.CaptureFixture[str]
) -> None:
    """--show-certificate makes it, prints names, end and fingerprint, and ends; twice the same."""
    words = ["--journal", str(folder.journal), "--live", str(folder.live), "--data"]
    words += [str(folder.data), "--show-certificate"]
    assert 0 == main(words)
    first = capsys.readouterr().out
    assert 0 == main(words)
    second = capsys.readouterr().out
    assert first.replace(" (new)", "") == second
    file = folder.data / "tls" / "certificate.pem"
    der = ssl.PEM_cert_to_DER_cert(file.read_text())
    printed = re.search(r"SHA-256 +([0-9A-F:]{95})\n", first)
    assert printed is not None
    assert hashlib.sha256(der).hexdigest().upper() == printed[1].replace(":", "")
    assert "127.0.0.1" in first


@pytest.mark.parametrize(
    "words",
    [
        ["--key", "k.pem"],
        ["--tls", "self-signed", "--certificate", "c.pem"],
        ["--tls", "always"],
        ["--show-certificate", "--forget-passphrase"],
    ],
)
def test_settings_that_contradict_each_other_are_refused(words: list[str]) -> None:
    """The command line says which of two was meant, or nothing starts."""
    paths = ["--journal", "j", "--live", "l", "--data", "d"]
    with pytest.raises(SystemExit):
        parse([*paths, *words])
    assert Task.SERVE is parse(paths)[1]


def test_a_certificate_that_cannot_be_read_is_told(
    folder: DeskSettings, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The desk does not go on without encryption when it was told to encrypt."""
    bad = tmp_path / "bad.pem"
    bad.write_text("no certificate")
    words = ["--journal", str(folder.journal), "--live", str(folder.live), "--data"]
    for file in (bad, tmp_path / "missing.pem"):
        assert 2 == main([*words, str(folder.data), "--certificate", str(file)])
        said = capsys.readouterr().err
        assert "the certificate cannot be used" in said
        assert file.name in said


def test_addresses_say_how_the_desk_speaks(folder: DeskSettings) -> None:
    """HTTPS with a certificate, HTTP without; a given address stays as it is."""
    assert "http://127.0.0.1:8470" == address_of(folder)
    assert "https://127.0.0.1:8470" == address_of(replace(folder, self_signed=True))
    assert "https://[::1]:8470" == address_of(replace(folder, self_signed=True, host="::1"))
    anywhere = address_of(replace(folder, host="0.0.0.0"))
    assert anywhere.removeprefix("http://").removesuffix(":8470") in {
        *own_addresses(),
        "127.0.0.1",
    }
    assert "" == name_of(folder)


def test_what_root_makes_belongs_to_the_owner_of_the_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A certificate shown, or a passphrase forgotten, with sudo keeps no desk out afterwards."""
    given = set()
    owner = (tmp_path.stat().st_uid, tmp_path.stat().st_gid)

    def chown(path: Path, user: int, group: int, *, follow_symlinks: bool) -> None:
        assert (owner, False) == ((user, group), follow_symlinks)
        given.add(re.sub(r"^\.(.+)\.[0-9a-f]{8}$", r"\1", Path(path).name))

    monkeypatch.setattr(os, "geteuid", lambda: 0)
    monkeypatch.setattr(os, "chown", chown)
    words = ["--journal", str(tmp_path / "j"), "--live", str(tmp_path), "--data"]
    for task in ("--show-certificate", "--forget-passphrase"):
        assert 0 == main([*words, str(tmp_path / "desk"), task])
    assert {"desk", "tls", "desk.pem", "certificate.pem", "desk.sqlite3"} <= given
