"""The sockets that the desk listens at, had before it says that it is there."""

from __future__ import annotations

import errno
import socket

#: Connections that wait until the desk takes them; uvicorn's own figure.
_WAITING = 2048

#: What a name also stands for where this machine does not speak that family.
_NOT_HERE = frozenset({errno.EADDRNOTAVAIL, errno.EAFNOSUPPORT})


class CannotListen(Exception):
    """An address at which nothing can listen; the message says why and what to try."""


def listen(host: str, port: int) -> list[socket.socket]:
    """Sockets that listen at every address that ``host`` stands for.

    Raises
    ------
    CannotListen
        It stands for none of this machine, or somebody else listens there.
    """
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    except (OSError, UnicodeError):  # a name with an empty or too long part has no encoding
        raise CannotListen(f"--host {host}: nothing is known by this name or address") from None
    opened: list[socket.socket] = []
    problem: OSError | None = None
    for family, kind, protocol, _, address in dict.fromkeys(found):
        try:
            opened.append(_at(family, kind, protocol, address))
        except OSError as error:
            problem = error
            if error.errno not in _NOT_HERE:
                break
    if opened and (problem is None or problem.errno in _NOT_HERE):
        return opened
    for one in opened:
        one.close()
    raise CannotListen(_told(host, port, problem))


def _at(family: int, kind: int, protocol: int, address: object) -> socket.socket:
    one = socket.socket(family, kind, protocol)
    try:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:  # the other family has a socket of its own
            one.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        one.bind(address)  # type: ignore[arg-type]  # as the system gave it
        one.listen(_WAITING)
    except OSError:
        one.close()
        raise
    return one


def _told(host: str, port: int, problem: OSError | None) -> str:
    number = None if problem is None else problem.errno
    if number in _NOT_HERE:
        return f"--host {host}: this machine has no such address; 0.0.0.0 is all that it has"
    if number == errno.EADDRINUSE:
        return f"port {port} is taken at {host}; is a desk running already? --port takes another"
    if number == errno.EACCES:
        return f"port {port} is not for this user; --port takes another, from 1024 on"
    why = "" if problem is None else f": {problem.strerror}"
    return f"nothing can listen at {host}, port {port}{why}"
