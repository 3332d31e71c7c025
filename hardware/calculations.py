"""The electrical sums of the station as pure functions.

Volts, ohms, farads, amperes and metres; times in seconds. Every default names its source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

#: Capacitance of twisted or flat cable per metre. Application note 148 (1-Wire networks) counts
#: about 50 pF/m for category 5 cable; thin round cable of cheap probes is worse: 100 pF/m.
CABLE_FARADS_PER_METRE = 100e-12
#: Input of a DS18B20 at most 25 pF (data sheet), GPIO and terminals the rest.
LINE_END_FARADS = 60e-12
#: Data sheet: logic-one input of the probe at 3.0 to 3.6 V supply is at least 2.2 V.
ONE_WIRE_HIGH_VOLTS = 2.2
#: The master samples the line about 9 microseconds after it lets go of it (the kernel's w1 driver:
#: 6 us low, 9 us wait); the probe holds a one no longer than 15 us after the falling edge.
ONE_WIRE_SAMPLE_SECONDS = 9e-6
#: Data sheet: output low 0.4 V at 4 mA.
ONE_WIRE_SINK_AMPERES = 4e-3


def rise_seconds(ohms: float, farads: float, supply: float, threshold: float) -> float:
    """Time for a released line to charge from 0 V to a threshold through its pull-up.

    Raises
    ------
    ValueError
        The threshold is not below the supply: the line would never get there.
    """
    if not 0.0 <= threshold < supply:
        raise ValueError(f"the threshold {threshold} V is not below the supply {supply} V")
    return ohms * farads * math.log(supply / (supply - threshold))


def one_wire_rise_seconds(ohms: float, metres: float, supply: float = 3.3) -> float:
    """Time until a probe line of a given cable length reads as one."""
    farads = LINE_END_FARADS + CABLE_FARADS_PER_METRE * metres
    return rise_seconds(ohms, farads, supply, ONE_WIRE_HIGH_VOLTS)


def longest_cable_metres(ohms: float, supply: float = 3.3) -> float:
    """Longest cable, all probes together, for which the line is high when it is sampled.

    Zero when even a bare terminal is too slow.
    """
    farads = ONE_WIRE_SAMPLE_SECONDS / (ohms * math.log(supply / (supply - ONE_WIRE_HIGH_VOLTS)))
    return max(0.0, (farads - LINE_END_FARADS) / CABLE_FARADS_PER_METRE)


def smallest_pull_up_ohms(supply: float = 3.3, low: float = 0.4) -> float:
    """Smallest pull-up that a probe can still pull down to a zero."""
    return (supply - low) / ONE_WIRE_SINK_AMPERES


def i2c_rise_seconds(ohms: float, farads: float) -> float:
    """Rise time of an I2C line from 30 % to 70 % of the supply (UM10204, chapter 7)."""
    return ohms * farads * math.log(0.7 / 0.3)


#: UM10204: longest rise time at 100 kHz and at 400 kHz, and the largest load of a fast-mode bus.
I2C_RISE_LIMIT_SECONDS = {100_000: 1000e-9, 400_000: 300e-9}


def parallel(*ohms: float) -> float:
    """Resistance of resistors side by side."""
    return 1.0 / sum(1.0 / value for value in ohms)


def i2c_sink_amperes(ohms: float, supply: float = 3.3, low: float = 0.4) -> float:
    """Current that a chip must sink to hold an I2C line low."""
    return (supply - low) / ohms


@dataclass(frozen=True, slots=True)
class SounderDrive:
    """What flows when the sounder is driven. Amperes, seconds, hertz."""

    gpio_amperes: float
    base_amperes: float
    steady_collector_amperes: float
    peak_collector_amperes: float
    forced_gain: float
    discharge_seconds: float
    fastest_hertz: float


def sounder_drive(
    *,
    base_ohms: float,
    hold_ohms: float,
    discharge_ohms: float,
    limit_ohms: float,
    piezo_farads: float,
    drive_volts: float = 3.3,
    supply_volts: float = 5.0,
) -> SounderDrive:
    """Currents of the transistor stage and how fast the piezo lets go.

    The piezo counts as a capacitor. It charges through the limiting resistor when the transistor
    closes, and discharges through its own resistor when it opens; three time constants (95 %)
    must fit in half a period. Junction 0.7 V, saturation 0.2 V (common small-signal figures).
    """
    junction, saturation = 0.7, 0.2
    gpio = (drive_volts - junction) / base_ohms
    base = gpio - junction / hold_ohms
    steady = (supply_volts - saturation) / (discharge_ohms + limit_ohms)
    peak = (supply_volts - saturation) / limit_ohms
    discharge = discharge_ohms * piezo_farads
    return SounderDrive(
        gpio_amperes=gpio,
        base_amperes=base,
        steady_collector_amperes=steady,
        peak_collector_amperes=peak,
        forced_gain=steady / base,
        discharge_seconds=discharge,
        fastest_hertz=1.0 / (2.0 * 3.0 * discharge),
    )


def resistor_watts(volts: float, ohms: float) -> float:
    """Power in a resistor that sees a steady voltage."""
    return volts * volts / ohms


def pressed_volts(pull_up_ohms: float, guard_ohms: float, supply: float = 3.3) -> float:
    """Voltage at the pin while its button is closed."""
    return supply * guard_ohms / (pull_up_ohms + guard_ohms)


def leak_ohms(pull_up_ohms: float, high_volts: float, supply: float = 3.3) -> float:
    """Smallest leak across an open button (water on it) that still reads as not pressed."""
    return pull_up_ohms * high_volts / (supply - high_volts)


@dataclass(frozen=True, slots=True)
class Load:
    """One consumer: its name, amperes, and how many there are."""

    name: str
    amperes: float
    count: int = 1


def total_amperes(loads: list[Load]) -> float:
    """Sum of a list of loads."""
    return sum(load.amperes * load.count for load in loads)


def supply_share(board_watts: float, loads: list[Load], volts: float, amperes: float) -> float:
    """Part of a supply that board and loads take; under 1 is enough, 0.8 leaves a margin."""
    return (board_watts / volts + total_amperes(loads)) / amperes


def cable_drop_volts(amperes: float, metres: float, square_millimetres: float) -> float:
    """Voltage lost in both cores of a copper cable (0.0175 ohm mm2/m at 20 degC)."""
    return 2.0 * 0.0175 * metres / square_millimetres * amperes


def box_rise_celsius(watts: float, square_metres: float, film: float = 6.0) -> float:
    """Rise of the air in a closed box over the room.

    ``film`` is the overall coefficient from inner air through the plastic to the room, in W/m2K;
    6 is a cautious common value for still air on both sides of a thin wall (8 to 10 outside alone).
    """
    return watts / (film * square_metres)
