"""The certificate that the desk makes itself, and its renewal.

One file holds key and certificate, so that they always belong together, and only the desk's
user may read it. A second one holds the certificate alone, for people who install it.

Nobody vouches for such a certificate. It keeps others on the network from listening; whether
it is this device that answers, a person finds out by comparing the fingerprint with the one on
the display.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import ipaddress
import ssl
import stat
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from wetside import wholefile
from wetside_desk import whereabouts
from wetside_desk.settings import DeskSettings

if TYPE_CHECKING:
    from cryptography.x509 import Certificate, GeneralName

#: Phones take no server certificate that is valid for more than 825 days, even one that their
#: owner trusts (Apple, "Requirements for trusted certificates in iOS 13 and macOS 10.15").
VALID_DAYS = 800
#: It is renewed so long before its end.
RENEW_DAYS = 30
#: Names of other networks are kept, so that going back to one changes nothing; so many.
_MOST_NAMES = 24
_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Made:
    """A certificate as it lies in its file.

    ``names`` are its DNS names and addresses, ``since`` and ``until`` when it begins and ends as
    Unix time, ``fingerprint`` its SHA-256 in 64 hexadecimal digits.
    """

    names: tuple[str, ...]
    since: float
    until: float
    fingerprint: str

    @property
    def printed(self) -> str:
        """The fingerprint as browsers print it."""
        return ":".join(self.fingerprint[at : at + 2] for at in range(0, 64, 2))


def wanted_names(settings: DeskSettings) -> tuple[str, ...]:
    """All names and addresses under which phones may open the desk, this machine's included."""
    host = whereabouts.host_name()
    names = [host, f"{host}.local", "localhost", "127.0.0.1", "::1"]
    if settings.given_host:
        names.insert(0, settings.given_host)
    names += whereabouts.own_addresses()
    return tuple(name for name in dict.fromkeys(names) if name.isascii())


class CertificateKeeper:
    """Makes and renews the certificate in one folder.

    Parameters
    ----------
    folder
        Where its files are; it is made.
    names
        Gives the names that the certificate has to have now.
    """

    def __init__(self, folder: Path, names: Callable[[], Sequence[str]]) -> None:
        self.file = folder / "desk.pem"
        self.public_file = folder / "certificate.pem"
        self.on_change: Callable[[], None] = lambda: None
        self._names = names
        self._made: Made | None = None

    @property
    def made(self) -> Made | None:
        """The certificate in use; None before the first `look`."""
        return self._made

    def look(self, now: float, *, trusted: bool = False) -> bool:
        """Make or renew it where that is due at the Unix time ``now``; whether it was.

        ``trusted`` says that the clock is right: then one that begins later is renewed too.

        Raises
        ------
        OSError
            The folder cannot be written.
        """
        made = self._made or self._read()
        wanted = tuple(self._names())
        early = trusted and made is not None and made.since > now
        if made is not None and not early and not _due(made, wanted, now):
            self._made = made
            return False
        earlier = made.names if made is not None else ()
        names = tuple(dict.fromkeys((*wanted, *earlier)))[:_MOST_NAMES]
        self._write(*_make(names, now))
        self._made = self._read()
        self.on_change()
        return True

    def _read(self) -> Made | None:
        """What lies there; None where it is no key with its certificate, or others may read it."""
        try:
            if stat.S_IMODE(self.file.stat().st_mode) & 0o077:
                return None  # whoever read the key could answer in the desk's place
            ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(self.file)
            text = self.file.read_text("ascii")
            made = _described(_loaded(text))
        except (OSError, ValueError):  # SSLError is an OSError
            return None
        return made

    def _write(self, key: bytes, certificate: bytes) -> None:
        wholefile.make_folder(self.file.parent, 0o700)
        for file, content, mode in (
            (self.file, key + certificate, 0o600),
            (self.public_file, certificate, 0o644),
        ):
            wholefile.replace(file, content, mode)


def keeper_of(settings: DeskSettings) -> CertificateKeeper:
    """The keeper of a desk's own certificate."""
    return CertificateKeeper(settings.data / "tls", lambda: wanted_names(settings))


def _due(made: Made, wanted: Sequence[str], now: float) -> bool:
    # a clock that may be behind is no reason: it is the phone's clock that judges
    return now > made.until - RENEW_DAYS * 86400.0 or not set(wanted) <= set(made.names)


def _loaded(text: str) -> Certificate:
    # loaded here: the library is only needed where a certificate is looked at
    from cryptography import x509  # noqa: PLC0415

    return x509.load_pem_x509_certificate(text[text.index("-----BEGIN CERT") :].encode())


def _described(certificate: Certificate) -> Made:
    from cryptography import x509  # noqa: PLC0415  # as above
    from cryptography.hazmat.primitives.serialization import Encoding  # noqa: PLC0415  # as above

    try:
        found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        raise ValueError("a certificate without names") from None
    names = [
        *found.get_values_for_type(x509.DNSName),
        *(str(address) for address in found.get_values_for_type(x509.IPAddress)),
    ]
    return Made(
        tuple(names),
        certificate.not_valid_before_utc.timestamp(),
        certificate.not_valid_after_utc.timestamp(),
        hashlib.sha256(certificate.public_bytes(Encoding.DER)).hexdigest().upper(),
    )


def _make(names: Sequence[str], now: float) -> tuple[bytes, bytes]:
    """A new key and its certificate for these names, both as PEM."""
    from cryptography import x509  # noqa: PLC0415  # as above
    from cryptography.hazmat.primitives import hashes, serialization  # noqa: PLC0415  # as above
    from cryptography.hazmat.primitives.asymmetric import ec  # noqa: PLC0415  # as above
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID  # noqa: PLC0415  # as above

    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"wetside {names[0]}"[:64])])
    begins = dt.datetime.fromtimestamp(now, dt.UTC) - _DAY
    key_id = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    usage = x509.KeyUsage(
        digital_signature=True,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + VALID_DAYS * _DAY)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), False)
        # it cannot vouch for any other: a stolen key opens nothing but this desk
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False)
        .add_extension(key_id, False)
        .add_extension(x509.AuthorityKeyIdentifier(key_id.digest, None, None), False)
        .sign(key, hashes.SHA256())
    )
    return (
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        ),
        made.public_bytes(serialization.Encoding.PEM),
    )


def _general(name: str) -> GeneralName:
    from cryptography import x509  # noqa: PLC0415  # as above

    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)
