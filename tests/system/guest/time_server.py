"""Inside the machine under test: a time server (SNTP, RFC 4330) that is so many seconds ahead."""

from __future__ import annotations

import socket
import struct
import sys
import time

SINCE_1900 = 2_208_988_800


def stamp(seconds: float) -> bytes:
    """Seconds of Unix time as the protocol writes them."""
    whole = int(seconds)
    return struct.pack(">II", whole + SINCE_1900, int((seconds - whole) * 2**32))


def main() -> None:
    """Answer for ever; the lead is fixed to the clock that does not jump."""
    ahead = time.time() + float(sys.argv[1]) - time.monotonic()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
        line.bind(("127.0.0.1", 123))
        while True:
            asked, whom = line.recvfrom(512)
            now = stamp(ahead + time.monotonic())
            # no warning, version 4, server; stratum 1
            head = struct.pack(">BBbb", 0x24, 1, 4, -20) + bytes(8) + b"PROF"
            line.sendto(head + now + asked[40:48] + now + now, whom)


if __name__ == "__main__":
    main()
