"""A disk whose write cache is lost with the power, for QEMU, by the NBD protocol.

A write goes to the image at once, and what stood there before is kept until the guest asks for a
flush. When the plug is pulled, each sector written since the last flush is set back with a
probability drawn for that cut: none of them (only what the kernel had not sent is lost), about half
(writes out of order and torn), or all. What was flushed stays. So a program that leaves out a flush
loses data here, as on a disk without power-loss protection.

The protocol: https://github.com/NetworkBlockDevice/nbd/blob/master/doc/proto.md (fixed newstyle,
one connection, simple replies).
"""

from __future__ import annotations

import contextlib
import os
import random
import socket
import struct
import threading
from dataclasses import dataclass
from pathlib import Path

SECTOR = 512
#: Chances that a sector which was not flushed is lost; one is drawn for each cut.
CHANCES = (0.0, 0.5, 1.0)

_MAGIC, _OPTION, _OPTION_REPLY = b"NBDMAGIC", b"IHAVEOPT", 0x3E889045565A9
_REQUEST, _REPLY = 0x25609513, 0x67446698
_READ, _WRITE, _DISCONNECT, _FLUSH = range(4)
_EXPORT_NAME, _ABORT, _INFO, _GO = 1, 2, 6, 7
_ACK, _INFO_REPLY, _UNSUPPORTED = 1, 3, 2**31 + 1
_FLAGS = 1 | 4 | 8  # has flags, knows flush, knows "force unit access"
_FUA = 1
_EIO = 5


@dataclass(frozen=True, slots=True)
class Pulled:
    """What a cut found in the disk's cache: sectors not flushed, and how many of them were lost."""

    chance: float
    pending: int
    lost: int


class VolatileDisk:
    """An image file behind a write cache; serves one QEMU on a Unix socket.

    Parameters
    ----------
    image
        The raw image.
    place
        Where the socket is made.
    """

    def __init__(self, image: Path, place: Path) -> None:
        self.flushes = 0
        self._file = os.open(image, os.O_RDWR)
        self._size = os.fstat(self._file).st_size
        self._before: dict[int, bytes] = {}
        place.unlink(missing_ok=True)
        self._listening = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._listening.bind(str(place))
        self._listening.listen(1)
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    @property
    def unsaved(self) -> int:
        """Sectors that were written since the last flush."""
        return len(self._before)

    def pull(self, rng: random.Random) -> Pulled:
        """Lose what was not flushed. QEMU must be dead already, so that nothing more comes."""
        self._end()
        chance = rng.choice(CHANCES)
        lost = [at for at in sorted(self._before) if rng.random() < chance]
        for at in lost:
            os.pwrite(self._file, self._before[at], at * SECTOR)
        os.close(self._file)
        return Pulled(chance, len(self._before), len(lost))

    def close(self) -> None:
        """Keep all, as after an orderly shutdown. QEMU must have ended."""
        self._end()
        os.close(self._file)

    def _end(self) -> None:
        with contextlib.suppress(OSError):  # nobody ever connected
            self._listening.shutdown(socket.SHUT_RDWR)
        self._thread.join(timeout=30)
        if self._thread.is_alive():
            raise RuntimeError("the disk is still in use")
        self._listening.close()

    # ------------------------------------------------------------------------ the protocol
    def _serve(self) -> None:
        try:
            line, _ = self._listening.accept()
        except OSError:
            return
        with line:
            try:
                if self._greet(line):
                    while self._answer(line):
                        pass
            except (ConnectionError, EOFError):
                return  # QEMU was killed: a half-received write never reached the disk

    def _greet(self, line: socket.socket) -> bool:
        """Agree on the export; False when the other side only asked."""
        line.sendall(_MAGIC + _OPTION + struct.pack(">H", 1 | 2))
        no_zeroes = bool(struct.unpack(">I", take(line, 4))[0] & 2)
        while True:
            _, option, length = struct.unpack(">8sII", take(line, 16))
            take(line, length)
            if option == _EXPORT_NAME:
                line.sendall(struct.pack(">QH", self._size, _FLAGS))
                if not no_zeroes:
                    line.sendall(bytes(124))
                return True

            def reply(kind: int, data: bytes = b"", to: int = option) -> None:
                line.sendall(struct.pack(">QIII", _OPTION_REPLY, to, kind, len(data)) + data)

            if option in {_INFO, _GO}:
                reply(_INFO_REPLY, struct.pack(">HQH", 0, self._size, _FLAGS))
                reply(_ACK)
                if option == _GO:
                    return True
            elif option == _ABORT:
                reply(_ACK)
                return False
            else:
                reply(_UNSUPPORTED)

    def _answer(self, line: socket.socket) -> bool:
        magic, flags, kind, handle, at, length = struct.unpack(">IHHQQI", take(line, 28))
        if magic != _REQUEST:
            raise ConnectionError("this is no NBD request")
        error, data = 0, b""
        if kind == _READ:
            data = os.pread(self._file, length, at)
        elif kind == _WRITE:
            self._write(take(line, length), at, forced=bool(flags & _FUA))
        elif kind == _FLUSH:
            self._before.clear()
            self.flushes += 1
        elif kind == _DISCONNECT:
            return False
        else:
            error = _EIO
        line.sendall(struct.pack(">IIQ", _REPLY, error, handle) + data)
        return True

    def _write(self, data: bytes, at: int, *, forced: bool) -> None:
        first, count = at // SECTOR, len(data) // SECTOR
        if forced:
            for sector in range(first, first + count):
                self._before.pop(sector, None)
        else:
            old = os.pread(self._file, len(data), at)
            for nth in range(count):
                self._before.setdefault(first + nth, old[nth * SECTOR : (nth + 1) * SECTOR])
        os.pwrite(self._file, data, at)


def take(line: socket.socket, count: int) -> bytes:
    """Receive exactly so many bytes.

    Raises
    ------
    EOFError
        The other side is gone.
    """
    parts = bytearray()
    while len(parts) < count:
        part = line.recv(min(count - len(parts), 1 << 20))
        if not part:
            raise EOFError
        parts += part
    return bytes(parts)
