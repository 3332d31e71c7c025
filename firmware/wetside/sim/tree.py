"""The kernel's 1-Wire folder, made of ordinary files that the real w1thermsensor reads.

    tree = Tree(folder)
    tree.add("0316a2795e4b")
    tree.show("0316a2795e4b", 20.0625)
    W1ThermSensor.BASE_DIRECTORY = tree.folder

Each probe can be told to answer wrongly, in the ways that real buses do (`Answer`). A file is
replaced whole, so a reader never sees half a line.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from wetside.sim import scratchpad

_ROM = re.compile(r"^[0-9a-f]{12}$")
_MASTER = "w1_bus_master1"
_CONVERSION_MILLISECONDS = {9: 94, 10: 188, 11: 375, 12: 750}


class Answer(StrEnum):
    """How a probe answers reads."""

    FINE = "fine"
    EMPTY = "empty"  # what kernels since 5.8 give for most failures
    BAD_CRC = "bad-crc"
    OPEN_BUS = "open-bus"
    SHORTED = "shorted"
    POWER_ON = "power-on"
    UNDERPOWERED = "underpowered"
    FIRST_LINE = "first-line"
    GARBAGE = "garbage"
    STUCK = "stuck"
    VANISHED = "vanished"


@dataclass(slots=True)
class _Slave:
    rom: str
    pad: bytes = scratchpad.POWER_ON
    bits: int = 12
    kept_bits: int = 12  # what the EEPROM brings back at power-up
    answer: Answer = Answer.FINE
    written: str | None = None
    stamp: tuple[int, int] | None = None


def _bad_crc(slave: _Slave) -> str:
    broken = bytes((slave.pad[0] ^ 0x04, *slave.pad[1:]))
    return scratchpad.slave_text(broken, last_good=slave.pad)


def _underpowered(slave: _Slave) -> str:
    pad = scratchpad.of_count(scratchpad.UNDERPOWERED_COUNT, slave.bits)
    return scratchpad.slave_text(pad)


def _healthy(slave: _Slave) -> str:
    return scratchpad.slave_text(slave.pad)


_TEXTS: Mapping[Answer, Callable[[_Slave], str]] = {
    Answer.FINE: _healthy,
    Answer.STUCK: _healthy,
    Answer.EMPTY: lambda _: "",
    Answer.BAD_CRC: _bad_crc,
    Answer.OPEN_BUS: lambda slave: scratchpad.slave_text(scratchpad.OPEN_BUS, slave.pad),
    Answer.SHORTED: lambda _: scratchpad.slave_text(scratchpad.SHORTED),
    Answer.POWER_ON: lambda _: scratchpad.slave_text(scratchpad.POWER_ON),
    Answer.UNDERPOWERED: _underpowered,
    Answer.FIRST_LINE: lambda slave: _healthy(slave).partition("\n")[0] + "\n",
    Answer.GARBAGE: lambda _: "?? w1 ??\n",
}


class Tree:
    """A 1-Wire device folder with its probes.

    Parameters
    ----------
    parent
        A folder of the bench; ``devices`` is made in it and is what a station is pointed at.
    """

    def __init__(self, parent: Path) -> None:
        self.folder = parent / "devices"
        self._away = parent / "unplugged"
        self._spare = parent / "w1_slave.new"
        self._slaves: dict[str, _Slave] = {}
        self._bus = True
        self._away.mkdir(parents=True, exist_ok=True)
        (self.folder / _MASTER).mkdir(parents=True, exist_ok=True)
        self._list()

    def add(self, rom: str) -> Path:
        """Plug in a probe that has just been powered up; give its folder.

        Raises
        ------
        ValueError
            ``rom`` is not twelve hex digits, or is there already.
        """
        if not _ROM.match(rom):
            raise ValueError(f"a ROM id is twelve small hex digits, not {rom!r}")
        if rom in self._slaves:
            raise ValueError(f"probe {rom} is on the bus already")
        slave = self._slaves[rom] = _Slave(rom)
        folder = self._folder(rom)
        folder.mkdir(parents=True)
        for name, text in (
            ("name", f"28-{rom}\n"),
            ("id", bytes.fromhex("28" + rom).decode("latin-1")),
            ("resolution", "12\n"),
            ("ext_power", "1\n"),
            ("conv_time", "750\n"),
            ("features", "0\n"),
        ):
            (folder / name).write_text(text, encoding="latin-1")
        self._write(slave)
        self._list()
        return folder

    def show(self, rom: str, celsius: float) -> None:
        """End a conversion: the probe's next answer carries this temperature.

        A stuck probe keeps its bytes. Temperatures that the sensor cannot measure are cut.
        """
        slave = self._slaves[rom]
        self._obey(slave)
        if slave.answer is not Answer.STUCK:
            slave.pad = scratchpad.of_celsius(min(125.0, max(-55.0, celsius)), slave.bits)
        self._write(slave)

    def power_up(self, rom: str) -> None:
        """Take the probe's supply away for a moment: 85.0 C until the next conversion."""
        slave = self._slaves[rom]
        slave.pad = scratchpad.POWER_ON
        slave.bits = slave.kept_bits
        self._write(slave)

    def answer(self, rom: str, answer: Answer) -> None:
        """Let the probe answer in this way from now on."""
        slave = self._slaves[rom]
        before, slave.answer = slave.answer, answer
        if answer is Answer.VANISHED and before is not Answer.VANISHED:
            self._folder(rom).rename(self._away / f"28-{rom}")
            self._list()
        elif before is Answer.VANISHED and answer is not Answer.VANISHED:
            (self._away / f"28-{rom}").rename(self._folder(rom))
            self._list()
        self._write(slave)

    def take_bus_away(self) -> None:
        """Let the whole folder vanish, as when the driver is unloaded."""
        if self._bus:
            self.folder.rename(self._away / "devices")
            self._bus = False

    def bring_bus_back(self) -> None:
        """Let the folder and its probes be there again."""
        if not self._bus:
            (self._away / "devices").rename(self.folder)
            self._bus = True
            self._list()
            for slave in self._slaves.values():
                self._write(slave)

    # --- inside --------------------------------------------------------------------------

    def _folder(self, rom: str) -> Path:
        base = self.folder if self._bus else self._away / "devices"
        return base / f"28-{rom}"

    def _list(self) -> None:
        present = [s.rom for s in self._slaves.values() if s.answer is not Answer.VANISHED]
        base = self.folder if self._bus else self._away / "devices"
        master = base / _MASTER
        (master / "w1_master_slave_count").write_text(f"{len(present)}\n", encoding="ascii")
        (master / "w1_master_slaves").write_text(
            "".join(f"28-{rom}\n" for rom in present) or "not found.\n", encoding="ascii"
        )

    def _write(self, slave: _Slave) -> None:
        if not self._bus or slave.answer is Answer.VANISHED:
            slave.written = None
            return
        text = _TEXTS[slave.answer](slave)
        if text == slave.written:
            return
        path = f"{self.folder}/28-{slave.rom}/w1_slave"
        with self._spare.open("w", encoding="utf-8", newline="") as file:
            file.write(text)
        os.replace(self._spare, path)  # noqa: PTH105 - half the time of Path.replace, done often
        slave.written = text
        slave.stamp = self._stamp(path)

    @staticmethod
    def _stamp(path: str) -> tuple[int, int] | None:
        try:
            found = os.stat(path)  # noqa: PTH116 - the same
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size

    def _obey(self, slave: _Slave) -> None:
        """Do what the driver does with a number that somebody wrote into ``w1_slave``.

        9 to 12 sets the resolution, 0 keeps it in the EEPROM. w1thermsensor writes it by the
        shell, which here leaves the number in the file; it is replaced at the next write.
        """
        if slave.written is None:
            return
        path = f"{self.folder}/28-{slave.rom}/w1_slave"
        if self._stamp(path) == slave.stamp:
            return
        slave.written = None
        try:
            text = Path(path).read_text(encoding="utf-8", errors="replace").strip()
        except OSError:
            return
        if text == "0":
            slave.kept_bits = slave.bits
        elif text in {"9", "10", "11", "12"}:
            slave.bits = int(text)
            folder = self._folder(slave.rom)
            (folder / "resolution").write_text(f"{slave.bits}\n", encoding="ascii")
            conversion = _CONVERSION_MILLISECONDS[slave.bits]
            (folder / "conv_time").write_text(f"{conversion}\n", encoding="ascii")
