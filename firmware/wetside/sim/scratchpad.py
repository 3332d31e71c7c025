"""The nine bytes of a DS18B20 and the two lines that the kernel makes of them. Pure.

Sources: DS18B20 data sheet (temperature register format, scratchpad map, power-on value);
Maxim application note 27 (the 1-Wire CRC); the kernel's drivers/w1/slaves/w1_therm.c, whose
`w1_slave` file this writes character by character.
"""

from __future__ import annotations

import math

#: Millidegrees are cut towards zero, as integer division does in the driver.
_MILLIDEGREES = 1000

#: Scratchpad after power-up, 85.0 C, with the CRC.
POWER_ON = bytes.fromhex("5005 4b46 7fff 0c10 1c")
#: A bus shorted to ground reads as zeros, whose CRC is right.
SHORTED = bytes(9)
#: Nobody answers and the pull-up holds the line high.
OPEN_BUS = b"\xff" * 9
#: The converter gave up for want of supply current: 127.9375 C, 07FFh.
UNDERPOWERED_COUNT = 0x07FF

_CONFIG = {9: 0x1F, 10: 0x3F, 11: 0x5F, 12: 0x7F}


def _shifted(byte: int) -> int:
    for _ in range(8):
        byte = (byte >> 1) ^ 0x8C if byte & 1 else byte >> 1
    return byte


_CRC = tuple(_shifted(byte) for byte in range(256))


def crc8(data: bytes) -> int:
    """CRC x^8 + x^5 + x^4 + 1 of the 1-Wire bus, least significant bit first, start 0."""
    crc = 0
    for byte in data:
        crc = _CRC[crc ^ byte]
    return crc


def count_of(celsius: float, bits: int = 12) -> int:
    """Raw count in sixteenths of a degree; undefined low bits of coarser resolutions are 0.

    Raises
    ------
    ValueError
        Outside of -55 to 125 C, which the sensor does not measure.
    """
    if not -55.0 <= celsius <= 125.0:
        raise ValueError(f"a DS18B20 measures from -55 to 125 C, not {celsius!r}")
    coarse = 1 << (12 - bits)
    return math.floor(celsius * 16.0 / coarse + 0.5) * coarse


def of_count(count: int, bits: int = 12) -> bytes:
    """Scratchpad that holds a raw count: temperature, alarms, configuration, reserved, CRC.

    The seventh byte of a genuine chip counts the sixteenths left to the next degree.
    """
    low, high = count & 0xFF, (count >> 8) & 0xFF
    rest = (0x10 - (low & 0x0F)) & 0xFF
    data = bytes((low, high, 0x4B, 0x46, _CONFIG[bits], 0xFF, rest, 0x10))
    return data + bytes((crc8(data),))


def of_celsius(celsius: float, bits: int = 12) -> bytes:
    """Scratchpad after a conversion."""
    return of_count(count_of(celsius, bits), bits)


def millidegrees(pad: bytes) -> int:
    """Temperature as the driver prints it behind ``t=``."""
    raw = int.from_bytes(pad[:2], "little", signed=True)
    return int(raw * _MILLIDEGREES / 16)


def slave_text(pad: bytes, last_good: bytes | None = None) -> str:
    """Both lines of ``w1_slave``.

    When the CRC is wrong, the first line ends in NO and the second shows ``last_good``,
    the bytes of the last read that was right.
    """
    crc = crc8(pad[:8])
    right = crc == pad[8]
    kept = pad if right or last_good is None else last_good
    first = "".join(f"{byte:02x} " for byte in pad)
    second = "".join(f"{byte:02x} " for byte in kept)
    verdict = "YES" if right else "NO"
    return f"{first}: crc={crc:02x} {verdict}\n{second}t={millidegrees(pad)}\n"
