"""The nine bytes of a probe against the maker's sheets, and the kernel's text of them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.sim import scratchpad

#: Maxim/Analog DS18B20 data sheet, temperature/data relationship (12 bits).
DATA_SHEET = [
    (125.0, 0x07D0),
    (85.0, 0x0550),
    (25.0625, 0x0191),
    (10.125, 0x00A2),
    (0.5, 0x0008),
    (0.0, 0x0000),
    (-0.5, 0xFFF8),
    (-10.125, 0xFF5E),
    (-25.0625, 0xFE6F),
    (-55.0, 0xFC90),
]

#: First row: Maxim application note 27, example. The others: published logs of real buses.
CRC_VECTORS = [
    ("02 1C B8 01 00 00 00", 0xA2),
    ("28 DC 66 74 05 00 00", 0xB9),
    ("28 B1 43 FE 04 00 00", 0x73),
    ("4D 01 4B 46 7F FF 03 10", 0xD8),
    ("50 01 4B 46 7F FF 10 10", 0x49),
    ("50 05 4B 46 7F FF 0C 10", 0x1C),
]

#: Data sheet, thermometer resolution configuration: bits, step in C, configuration byte.
RESOLUTIONS = [(9, 0.5, 0x1F), (10, 0.25, 0x3F), (11, 0.125, 0x5F), (12, 0.0625, 0x7F)]


@pytest.mark.parametrize(("celsius", "register"), DATA_SHEET)
def test_register_agrees_with_the_data_sheet(celsius: float, register: int) -> None:
    """The two temperature bytes are those of the maker's table, low byte first."""
    pad = scratchpad.of_celsius(celsius)
    assert int.from_bytes(pad[:2], "little") == register


@pytest.mark.parametrize(("data", "crc"), CRC_VECTORS)
def test_crc_agrees_with_published_vectors(data: str, crc: int) -> None:
    """The CRC is the maker's, and a block with its CRC behind it has the CRC zero."""
    block = bytes.fromhex(data)
    assert scratchpad.crc8(block) == crc
    assert scratchpad.crc8(bytes((*block, crc))) == 0


@pytest.mark.parametrize(
    ("celsius", "published"),
    [(20.8125, "4d014b467fff0310d8"), (21.0, "50014b467fff101049")],
)
def test_whole_scratchpad_agrees_with_logs_of_real_chips(celsius: float, published: str) -> None:
    """All nine bytes, the seventh included, are those that real chips sent."""
    assert scratchpad.of_celsius(celsius).hex() == published


def test_power_on_scratchpad_carries_its_own_crc() -> None:
    """The power-up bytes are right in themselves, so nothing but the value gives them away."""
    assert scratchpad.POWER_ON[8] == scratchpad.crc8(scratchpad.POWER_ON[:8])


@pytest.mark.parametrize(("bits", "step", "config"), RESOLUTIONS)
def test_resolution_agrees_with_the_data_sheet(bits: int, step: float, config: int) -> None:
    """A coarser resolution rounds to its step and says so in the configuration byte."""
    pad = scratchpad.of_celsius(21.3, bits)
    assert pad[4] == config
    assert scratchpad.millidegrees(pad) == int(1000 * math.floor(21.3 / step + 0.5) * step)


@given(st.floats(-55.0, 125.0))
def test_no_reading_is_further_than_half_a_step_from_what_was_shown(celsius: float) -> None:
    """Rounding to a sixteenth of a degree moves a temperature by a thirty-second at most."""
    raw = int.from_bytes(scratchpad.of_celsius(celsius)[:2], "little", signed=True)
    assert abs(raw / 16 - celsius) <= 1 / 32


@pytest.mark.parametrize("celsius", [-55.1, 125.1, float("nan")])
def test_a_temperature_that_no_sensor_measures_is_refused(celsius: float) -> None:
    """Outside of the sensor's range there are no bytes to write."""
    with pytest.raises(ValueError, match="-55 to 125"):
        scratchpad.of_celsius(celsius)


def test_text_is_the_kernels_character_by_character() -> None:
    """Both lines look as w1_therm.c prints them, millidegrees cut towards zero."""
    assert scratchpad.slave_text(scratchpad.of_celsius(20.8125)) == (
        "4d 01 4b 46 7f ff 03 10 d8 : crc=d8 YES\n4d 01 4b 46 7f ff 03 10 d8 t=20812\n"
    )
    assert scratchpad.slave_text(scratchpad.of_celsius(-25.0625)).endswith(" t=-25062\n")
    assert scratchpad.slave_text(scratchpad.OPEN_BUS).startswith(
        "ff ff ff ff ff ff ff ff ff : crc=c9 NO\n"
    )
