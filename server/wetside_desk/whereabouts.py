"""Where phones find the desk: the address by number, the name, the addresses of this machine."""

from __future__ import annotations

import fcntl
import ipaddress
import socket
import struct
from pathlib import Path
from urllib.parse import urlsplit

from wetside_desk.settings import DeskSettings

#: Where the system's mDNS service listens; without it the name ends at this machine.
_AVAHI = Path("/run/avahi-daemon/socket")
_INTERFACES = Path("/sys/class/net")
_ANY = frozenset({"0.0.0.0", "::"})  # noqa: S104  # compared, not bound
#: Linux: get the IPv4 address of an interface (linux/sockios.h).
_SIOCGIFADDR = 0x8915


def address_of(settings: DeskSettings) -> str:
    """The address that a phone on the same network can open; it changes with the network.

    Asks the system which of its addresses it would use towards another network; nothing is
    sent. 192.0.2.1 is an address for documentation (RFC 5737). A device that only runs an
    access point of its own has no such way; then it is the first address that it has.
    """
    if settings.address:
        return settings.address.rstrip("/")
    host = settings.host
    if host in _ANY:
        host = _outward() or next(iter(own_addresses()), "127.0.0.1")
    return _written(settings, host)


def for_phones(address: str) -> bool:
    """Whether another machine can open an address: it does not name this one only."""
    host = urlsplit(address).hostname or ""
    try:
        return not ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host != "localhost"


def is_closed(settings: DeskSettings) -> bool:
    """Whether the desk listens to this machine alone, whatever networks there are."""
    here = settings.host not in _ANY and not for_phones(_written(settings, settings.host))
    return here and not settings.address


def name_of(settings: DeskSettings) -> str:
    """The address by name; empty where this machine is not announced or phones cannot reach it."""
    if settings.host not in _ANY or not _AVAHI.exists():
        return ""
    return _written(settings, f"{host_name()}.local")


def host_name() -> str:
    """The machine's name without its domain."""
    return socket.gethostname().partition(".")[0].lower()


def own_addresses() -> tuple[str, ...]:
    """The IPv4 addresses of this machine's interfaces, loopback left out.

    The names come from /sys: the usual call asks over netlink, which the desk's unit forbids.
    """
    found = []
    try:
        names = sorted(entry.name for entry in _INTERFACES.iterdir())
    except OSError:
        names = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        for name in names:
            request = struct.pack("256s", name.encode()[:15])
            try:
                answer = fcntl.ioctl(asked.fileno(), _SIOCGIFADDR, request)
            except OSError:  # an interface without an address
                continue
            address = ipaddress.IPv4Address(answer[20:24])
            if not address.is_loopback:
                found.append(str(address))
    return tuple(dict.fromkeys(found))


def _outward() -> str:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(("192.0.2.1", 9))
        except OSError:
            return ""
        host: str = asked.getsockname()[0]
        return host


def _written(settings: DeskSettings, host: str) -> str:
    host = f"[{host}]" if ":" in host else host
    return f"{'https' if settings.encrypted else 'http'}://{host}:{settings.port}"
