"""The desk in the local network: the file for avahi, and the words of desk.env in it."""

from __future__ import annotations

import re
import subprocess
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

#: Content models of avahi's own avahi-service.dtd (avahi 0.8), as patterns over child elements.
DTD = {
    "service-group": "name,(service,)+",
    "service": "type,(subtype,)*(domain-name,)?(host-name,)?port,(txt-record,)*",
}
ATTRIBUTES = {
    "name": {"replace-wildcards": {"yes", "no"}},
    "service": {"protocol": {"ipv4", "ipv6", "any"}},
    "txt-record": {"value-format": {"text", "binary-hex", "binary-base64"}},
}


def check(element: ET.Element) -> None:
    """Hold an element and all inside it against the DTD."""
    children = "".join(f"{child.tag}," for child in element)
    assert re.fullmatch(DTD.get(element.tag, ""), children), f"{element.tag}: {children}"
    for name, value in element.attrib.items():
        assert value in ATTRIBUTES.get(element.tag, {}).get(name, set()), name
    for child in element:
        check(child)


def announced(path: Path) -> tuple[str | None, str | None]:
    """Type and port of the one service, after its file was held against the DTD."""
    text = path.read_text(encoding="utf-8")
    assert '<!DOCTYPE service-group SYSTEM "avahi-service.dtd">' in text
    root = ET.fromstring(text)
    check(root)
    assert "service-group" == root.tag
    return root.findtext("service/type"), root.findtext("service/port")


def test_the_shipped_file_is_one_that_avahi_takes(systemd: Path) -> None:
    """Elements, order and attributes are those of avahi's DTD, records those of RFC 6763."""
    path = systemd / "files" / "wetside.avahi.xml"
    assert ("_http._tcp", "8470") == announced(path)
    records = [str(it.text) for it in ET.parse(path).iter("txt-record")]
    assert ["path=/", "api=/v1"] == records
    for record in records:
        key, _, _ = record.partition("=")
        assert 1 <= len(key) <= 9  # RFC 6763, section 6.4
        assert len(record.encode()) <= 255


def test_the_check_refuses_what_avahi_refuses() -> None:
    """A port before the type, or a service without one, is against the DTD."""
    for body in ("<port>1</port><type>_http._tcp</type>", "<type>_http._tcp</type>", "<odd/>"):
        text = f"<service-group><name>x</name><service>{body}</service></service-group>"
        with pytest.raises(AssertionError):
            check(ET.fromstring(text))


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (None, ("_http._tcp", "8470")),
        ("WETSIDE_DESK_PORT=8080\n", ("_http._tcp", "8080")),
        ("WETSIDE_DESK_TLS=self-signed\n", ("_https._tcp", "8470")),
        ("WETSIDE_DESK_TLS=off\nWETSIDE_DESK_PORT=443\n", ("_http._tcp", "443")),
        ("WETSIDE_DESK_CERTIFICATE=/etc/wetside/chain.pem\n", ("_https._tcp", "8470")),
        ("WETSIDE_DESK_CERTIFICATE=\n", ("_http._tcp", "8470")),
    ],
)
def test_the_announcement_follows_the_settings(
    systemd: Path, tmp_path: Path, words: str | None, expected: tuple[str, str]
) -> None:
    """The installer announces the port and the way of speaking that desk.env names."""
    root = tmp_path / "root"
    (root / "etc/wetside").mkdir(parents=True)
    if words is not None:
        (root / "etc/wetside/desk.env").write_text(words, encoding="ascii")
    parts = _functions(systemd, "put", "desk_setting", "desk_scheme", "announce")
    done = subprocess.run(
        ["bash", "-c", f"set -euo pipefail\netc={root}/etc here={systemd}\n{parts}\nannounce"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert 0 == done.returncode, done.stderr
    assert expected == announced(root / "etc/avahi/services/wetside.service")


def _functions(systemd: Path, *names: str) -> str:
    """Give some functions of the installer, with their own lines."""
    script = (systemd / "install.sh").read_text(encoding="utf-8")
    return "say() { printf '%s\\n' \"$*\"; }\n" + "".join(
        re.findall(rf"^{name}\(\) \{{.*?^\}}\n", script, re.MULTILINE | re.DOTALL)[0]
        for name in names
    )
