"""The desk beside a bench: a process of its own, as on the Pi."""

from __future__ import annotations

import socket
import subprocess
import sys
from pathlib import Path

from wetside.errors import BenchError

_HOST = "127.0.0.1"


def claim(port: int, option: str) -> None:
    """Make sure that nobody listens on a port yet.

    Raises
    ------
    BenchError
        Somebody does; the message says which option gives another.
    """
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((_HOST, port))
        except OSError as error:
            raise BenchError(
                f"port {port} cannot be had ({error.strerror}); give another with {option}"
            ) from None


class DeskProcess:
    """Runs the desk on a bench's journal and live file while the block lasts."""

    def __init__(self, journal: Path, live: Path, port: int) -> None:
        claim(port, "--port")
        self.url = f"http://{_HOST}:{port}/"
        self._command = [
            sys.executable, "-m", "wetside_desk",
            "--journal", str(journal),
            "--live", str(live),
            "--data", str(journal.parent / "desk"),
            "--host", _HOST,
            "--port", str(port),
        ]  # fmt: skip
        self._log = journal.parent / "desk.log"
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> DeskProcess:
        """Start it."""
        # its own group: Ctrl-C in the terminal is the bench's, which then stops the desk
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(  # noqa: S603  # arguments from above
                self._command, start_new_session=True, stdout=log, stderr=log
            )
        return self

    @property
    def ended(self) -> str | None:
        """One line where the desk has ended by itself, with where its own words are."""
        code = None if self._process is None else self._process.poll()
        if code is None:
            return None
        how = f"signal {-code}" if code < 0 else f"code {code}"
        return f"desk   ended by itself ({how}); {self._log} says why. The bench goes on without"

    def __exit__(self, *_: object) -> None:
        """Stop it."""
        if self._process is None:
            return
        self._process.terminate()
        try:
            self._process.wait(timeout=5.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
