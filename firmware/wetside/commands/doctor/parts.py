"""Checks of the parts at the sink."""

from __future__ import annotations

import re
from pathlib import Path

from luma.core.error import Error as LumaError
from luma.core.interface.serial import i2c

from wetside.commands.doctor.findings import Finding, State
from wetside.devices.ds18b20 import Bus
from wetside.readings import Condition
from wetside.settings import StationSettings

_CONFIG = "/boot/firmware/config.txt"

#: Genuine DS18B20 carry 28-xx-xx-xx-xx-00-00-xx; most copies do not (collected reports).
_GENUINE_ROM = re.compile(r"^0000[0-9a-f]{8}$")

_MENDS = {
    Condition.POWER_ON: "Its supply fails for a moment: check the red wire and the 3.3 V pin.",
    Condition.FAILED: "Check the yellow wire, the plug and the 4.7 kOhm resistor to 3.3 V.",
    Condition.IMPLAUSIBLE: "Its supply is weak or it is broken: try another probe.",
    Condition.VANISHED: "It is in the settings but not on the bus: is its plug in?",
    Condition.BUS_GONE: f"Add dtoverlay=w1-gpio to {_CONFIG} and restart the Pi.",
}


def one_wire(settings: StationSettings) -> list[Finding]:
    """The bus and each probe on it."""
    folder = settings.w1_folder
    if not folder.is_dir():
        mend = (
            f"Add dtoverlay=w1-gpio,gpiopin={settings.pins.one_wire_gpio} to {_CONFIG} "
            "and restart the Pi."
        )
        return [Finding("1-Wire bus", State.MISSING, f"no folder {folder}", mend)]
    findings = [Finding("1-Wire bus", State.FINE, str(folder))]
    if any(entry.name.startswith("00-") for entry in folder.iterdir()):
        mend = "The resistor of 4.7 kOhm from the data line to 3.3 V is missing or loose."
        findings.append(Finding("1-Wire bus", State.LOOK, "phantom devices 00-...", mend))
    answers = Bus(folder, settings.probe).read()
    if not answers:
        mend = "Plug a probe in; red to 3.3 V, black to ground, yellow to the data line."
        findings.append(Finding("probe", State.MISSING, "none on the bus", mend))
    known = {probe.rom: probe for probe in settings.probe}
    for answer in answers:
        part = f"probe {answer.probe}"
        if answer.celsius is None:
            mend = _MENDS.get(answer.condition, "Try another probe.")
            findings.append(Finding(part, State.MISSING, str(answer.condition), mend))
            continue
        findings.append(Finding(part, State.FINE, f"{answer.celsius:.2f} C"))
        if answer.rom not in known or known[answer.rom].sd_celsius is None:
            mend = "Calibrate it (docs/calibrate.md); until then +-0.3 C cannot be promised."
            findings.append(Finding(part, State.LOOK, "not calibrated", mend))
        if not _GENUINE_ROM.match(answer.rom):
            mend = "Its ROM id is not of the maker's pattern, as with most copies: calibrate it."
            findings.append(Finding(part, State.LOOK, f"ROM id {answer.rom}", mend))
    return findings


def display(settings: StationSettings, bus_folder: Path = Path("/dev")) -> Finding:
    """Whether something answers at the display's address."""
    wanted = settings.display
    device = bus_folder / f"i2c-{wanted.i2c_bus}"
    if not device.exists():
        mend = f"Add dtparam=i2c_arm=on to {_CONFIG} and restart the Pi."
        return Finding("display", State.LOOK, f"no {device}", mend)
    try:
        line = i2c(port=wanted.i2c_bus, address=wanted.i2c_address)
        line.command(0xE3)  # no operation, in all three controllers
        line.cleanup()
    except (OSError, LumaError) as problem:
        mend = "Check its four wires; some modules use address 0x3D."
        return Finding("display", State.LOOK, f"{problem}".strip(), mend)
    return Finding("display", State.FINE, f"{wanted.kind} at 0x{wanted.i2c_address:02X}")


def gpio() -> Finding:
    """Whether gpiozero can reach the pins, by the library that Raspberry Pi OS brings."""
    try:
        import lgpio  # noqa: PLC0415  # absent on most machines
    except (ImportError, OSError) as problem:
        mend = "Install python3-lgpio with apt, in a venv with --system-site-packages."
        return Finding("GPIO", State.MISSING, f"lgpio: {problem}", mend)
    if not hasattr(lgpio, "gpiochip_open"):
        mend = (
            "pip put an empty package in its place: pip uninstall lgpio, apt install python3-lgpio."
        )
        return Finding("GPIO", State.MISSING, "lgpio is an empty package", mend)
    if not list(Path("/dev").glob("gpiochip*")):
        return Finding("GPIO", State.MISSING, "no /dev/gpiochip*", "See the board above.")
    return Finding("GPIO", State.FINE, "lgpio")
