"""What is said to systemd never holds the station up."""

from __future__ import annotations

import socket
from pathlib import Path

from wetside.station.notify import Notifier


def test_a_full_queue_is_not_waited_for(tmp_path: Path) -> None:
    """A listener that takes nothing costs the messages it has no room for, and no time."""
    address = str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(address)
        listening.setblocking(False)
        notifier = Notifier({"NOTIFY_SOCKET": address})
        notifier.send("READY=1", "STATUS=idle")
        for _ in range(5000):
            notifier.send("WATCHDOG=1")
        notifier.close()
        assert b"READY=1\nSTATUS=idle" == listening.recv(4096)
        assert b"WATCHDOG=1" == listening.recv(4096)


def test_without_systemd_nothing_is_said() -> None:
    """Started by hand there is nobody to tell, and that is no error."""
    notifier = Notifier({})
    notifier.send("READY=1")
    notifier.close()
