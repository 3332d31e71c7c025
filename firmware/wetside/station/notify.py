"""Telling systemd that the station lives: sd_notify(3) is one datagram."""

from __future__ import annotations

import os
import socket
from collections.abc import Mapping


class Notifier:
    """Sends to ``NOTIFY_SOCKET``; without one, every call does nothing."""

    def __init__(self, environment: Mapping[str, str] = os.environ) -> None:
        address = environment.get("NOTIFY_SOCKET", "")
        self._address = "\0" + address[1:] if address.startswith("@") else address
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) if address else None
        if self._socket is not None:
            # systemd may be busy and its queue full: the sink does not wait for it
            self._socket.setblocking(False)

    def send(self, *lines: str) -> None:
        """Send for example ``READY=1``; a lost datagram is not an error."""
        if self._socket is not None:
            try:
                self._socket.sendto("\n".join(lines).encode(), self._address)
            except OSError:
                return

    def close(self) -> None:
        """Let the socket go."""
        if self._socket is not None:
            self._socket.close()
