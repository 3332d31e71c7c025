"""DS18B20 probes through w1thermsensor: one pass over the bus, every condition named.

The kernel starts a conversion at each read, 750 ms at 12 bit, and holds the bus meanwhile.
So exactly one caller reads, and it is never the station's loop (see feed.py).
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

# w1thermsensor loads kernel modules when it is imported; the installer has done that
os.environ.setdefault("W1THERMSENSOR_NO_KERNEL_MODULE", "1")

from w1thermsensor import (  # after the switch above
    NoSensorFoundError,
    ResetValueError,
    Sensor,
    W1ThermSensor,
    W1ThermSensorError,
)

from wetside.readings import Condition  # after the switch above
from wetside.settings import Probe  # after the switch above

#: A sink holds water: outside this a reading is a fault, among them 127.9375 (weak supply).
PLAUSIBLE_CELSIUS = (-5.0, 84.9)

_FAMILY = f"{Sensor.DS18B20.value:x}-"


@dataclass(frozen=True, slots=True)
class Answer:
    """One probe's answer in one pass; ``celsius`` is corrected, ``raw_celsius`` is not."""

    probe: str
    rom: str
    celsius: float | None
    raw_celsius: float | None
    condition: Condition


class Bus:
    """The 1-Wire bus as the kernel shows it.

    Parameters
    ----------
    folder
        ``/sys/bus/w1/devices`` on a Pi.
    probes
        Names and corrections by ROM id. A probe that is not listed is called by its ROM id.
    """

    def __init__(self, folder: Path, probes: Sequence[Probe] = ()) -> None:
        self._folder = folder
        self._known: Mapping[str, Probe] = {probe.rom: probe for probe in probes}
        self._seen: dict[str, W1ThermSensor] = {}
        # the library keeps the folder on the class
        self._sensor_class = type("BusSensor", (W1ThermSensor,), {"BASE_DIRECTORY": folder})

    def read(self) -> list[Answer]:
        """Ask every probe once, in order of ROM id; blocks for each conversion.

        Probes that are listed in the settings or were seen before and are not there now
        answer VANISHED, or BUS_GONE when the kernel shows no bus at all.
        """
        try:
            present = {
                entry.name.removeprefix(_FAMILY)
                for entry in self._folder.iterdir()
                if entry.name.startswith(_FAMILY)
            }
        except OSError:
            return [self._absent(rom, Condition.BUS_GONE) for rom in self._expected()]
        answers = []
        for rom in sorted(present | set(self._expected())):
            if rom in present:
                answers.append(self._ask(rom))
            else:
                answers.append(self._absent(rom, Condition.VANISHED))
        return answers

    def _expected(self) -> list[str]:
        return sorted(set(self._known) | set(self._seen))

    def _name(self, rom: str) -> str:
        return self._known[rom].name if rom in self._known else rom

    def _absent(self, rom: str, condition: Condition) -> Answer:
        return Answer(self._name(rom), rom, None, None, condition)

    def _ask(self, rom: str) -> Answer:
        try:
            sensor = self._seen.get(rom)
            if sensor is None:
                sensor = self._seen[rom] = self._sensor_class(Sensor.DS18B20, rom)
            raw = float(sensor.get_temperature())
        except ResetValueError:
            return self._absent(rom, Condition.POWER_ON)
        except NoSensorFoundError:
            return self._absent(rom, Condition.VANISHED)
        except (W1ThermSensorError, OSError, IndexError, ValueError):
            # an empty file, a failed CRC, a shorted line, half a line
            return self._absent(rom, Condition.FAILED)
        low, high = PLAUSIBLE_CELSIUS
        if not low <= raw <= high:
            return Answer(self._name(rom), rom, None, raw, Condition.IMPLAUSIBLE)
        return Answer(self._name(rom), rom, self._corrected(rom, raw), raw, Condition.FINE)

    def _corrected(self, rom: str, raw: float) -> float:
        probe = self._known.get(rom)
        return raw if probe is None else probe.slope * raw + probe.offset_celsius
