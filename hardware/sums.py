"""The sums of the wiring as it stands: what flows where, against which limit."""

from __future__ import annotations

from hardware.tables import markdown
from hardware.wiring import Wiring

from hardware import calculations as calc

PULL_UPS = (10_000.0, 4700.0, 2200.0)


def cable_markdown() -> str:
    """Give the longest cable for each common pull-up."""
    rows = [
        [f"{ohms / 1000:g} kΩ", f"{calc.longest_cable_metres(ohms):.0f} m"] for ohms in PULL_UPS
    ]
    return markdown(("Pull-up R1", "Cable, all probes together"), rows)


def drive(wiring: Wiring) -> calc.SounderDrive:
    """Give the sounder's currents for the values of the table."""
    ohms = {ref: wiring.part(ref).extra["ohms"] for ref in ("R2", "R3", "R4", "R5")}
    return calc.sounder_drive(
        base_ohms=ohms["R2"],
        hold_ohms=ohms["R5"],
        discharge_ohms=ohms["R3"],
        limit_ohms=ohms["R4"],
        piezo_farads=wiring.part("LS1").extra["farads"],
    )


def rail_loads(wiring: Wiring) -> list[calc.Load]:
    """Give all that the 3.3 V pins feed, with every bus line held low."""
    loads = [
        calc.Load(part.ref, part.extra["milliamps"] / 1000.0)
        for part in wiring.parts
        if "milliamps" in part.extra
    ]
    volts = wiring.limits["gpio_volts"]
    modules = [part.extra["pull_up_ohms"] for part in wiring.parts if "pull_up_ohms" in part.extra]
    i2c = calc.parallel(wiring.limits["i2c_board_pull_up_ohms"], *modules)
    held = volts / wiring.part("R1").extra["ohms"] + 2.0 * volts / i2c
    return [*loads, calc.Load("lines held low", held)]


def flows_markdown(wiring: Wiring) -> str:
    """Give the table of currents and the water test of the buttons."""
    limits, now = wiring.limits, drive(wiring)
    guard = wiring.part("R6").extra["ohms"]
    high = limits["input_high_volts"]
    leak = calc.leak_ohms(limits["pull_up_max_ohms"], high) / 1000.0
    better = calc.leak_ohms(10e3, high) / 1000.0
    pin = f"{limits['gpio_pin_milliamps']:.0f} mA, drive strength after power-up"
    rows = [
        ["GPIO of the sounder", f"{1000 * now.gpio_amperes:.1f} mA", pin],
        [
            "Transistor, charging peak of the piezo",
            f"{1000 * now.peak_collector_amperes:.0f} mA",
            f"{wiring.part('Q1').extra['collector_milliamps_max']:.0f} mA",
        ],
        [
            "3.3 V pins: both probes, display, clock, every line held low",
            f"{1000 * calc.total_amperes(rail_loads(wiring)):.0f} mA",
            f"{limits['rail_3v3_milliamps']:.0f} mA, the strictest figure printed",
        ],
        [
            "A button's pin made an output by mistake, button pressed",
            f"{1000 * limits['gpio_volts'] / guard:.1f} mA",
            pin,
        ],
        [
            "Water across an open button: no press seen down to",
            f"{leak:.0f} kΩ",
            f"with 10 kΩ from the pin to 3.3 V added: {better:.0f} kΩ",
        ],
    ]
    return markdown(("Where", "Sum", "Limit"), rows)
