"""The bench's 1-Wire folder, read by the real w1thermsensor."""

from __future__ import annotations

import importlib
import time
from pathlib import Path
from types import ModuleType
from typing import Protocol, cast

import pytest

from wetside.sim.tree import Answer, Tree

ROM = "0316a2795e4b"

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


class _Sensor(Protocol):
    """What the tests use of the library's object."""

    def get_temperature(self) -> float: ...
    def get_resolution(self) -> int: ...
    def set_resolution(self, resolution: int, persist: bool = ...) -> bool: ...
    def set_offset(self, offset: float) -> None: ...


@pytest.fixture
def w1(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The real library, told not to load kernel modules."""
    monkeypatch.setenv("W1THERMSENSOR_NO_KERNEL_MODULE", "1")
    return importlib.import_module("w1thermsensor")


@pytest.fixture
def tree(tmp_path: Path, w1: ModuleType, monkeypatch: pytest.MonkeyPatch) -> Tree:
    """A bus with one probe at 20.0625 C, which the real library is pointed at."""
    tree = Tree(tmp_path)
    monkeypatch.setattr(w1.W1ThermSensor, "BASE_DIRECTORY", tree.folder)
    tree.add(ROM)
    tree.show(ROM, 20.0625)
    return tree


@pytest.fixture
def sensor(tree: Tree, w1: ModuleType) -> _Sensor:
    """The library's object for that probe."""
    return cast("_Sensor", w1.W1ThermSensor(w1.Sensor.DS18B20, ROM))


@pytest.mark.parametrize(("celsius", "register"), DATA_SHEET)
def test_the_library_reads_every_row_of_the_data_sheet(
    tree: Tree, sensor: _Sensor, w1: ModuleType, celsius: float, register: int
) -> None:
    """Every temperature of the maker's table comes back, but 85.0 counts as a power-up."""
    tree.show(ROM, celsius)
    if register == 0x0550:
        with pytest.raises(w1.errors.ResetValueError):
            sensor.get_temperature()
    else:
        assert sensor.get_temperature() == celsius


@pytest.mark.parametrize("celsius", [20.0625, -0.5, 84.9375])
def test_a_good_reading_comes_through(tree: Tree, sensor: _Sensor, celsius: float) -> None:
    """What the probe shows is what the library gives."""
    tree.show(ROM, celsius)
    assert sensor.get_temperature() == celsius


@pytest.mark.parametrize(
    ("answer", "error"),
    [
        (Answer.BAD_CRC, "SensorNotReadyError"),
        (Answer.EMPTY, "SensorNotReadyError"),
        (Answer.OPEN_BUS, "SensorNotReadyError"),
        (Answer.SHORTED, "SensorNotReadyError"),
        (Answer.GARBAGE, "SensorNotReadyError"),
        (Answer.POWER_ON, "ResetValueError"),
        (Answer.VANISHED, "NoSensorFoundError"),
    ],
)
def test_each_bad_answer_is_the_librarys_named_error_and_passes(
    tree: Tree, sensor: _Sensor, w1: ModuleType, answer: Answer, error: str
) -> None:
    """A probe that answers badly raises the error measured on real kernels, then recovers."""
    tree.answer(ROM, answer)
    with pytest.raises(getattr(w1.errors, error)):
        sensor.get_temperature()
    tree.answer(ROM, Answer.FINE)
    assert sensor.get_temperature() == 20.0625


def test_power_on_value_is_caught_also_with_an_offset(
    tree: Tree, sensor: _Sensor, w1: ModuleType
) -> None:
    """A corrected probe does not hide the power-on value."""
    sensor.set_offset(0.4)
    tree.power_up(ROM)
    with pytest.raises(w1.errors.ResetValueError):
        sensor.get_temperature()
    tree.show(ROM, 21.0)
    assert sensor.get_temperature() == pytest.approx(21.4)


def test_an_underpowered_probe_passes_as_a_value(tree: Tree, sensor: _Sensor) -> None:
    """127.9375 C comes through the library: the station itself must refuse it."""
    tree.answer(ROM, Answer.UNDERPOWERED)
    assert sensor.get_temperature() == 127.9375


def test_a_first_line_alone_is_an_index_error(tree: Tree, sensor: _Sensor) -> None:
    """Half a file escapes the library's own errors: the station must catch it by name."""
    tree.answer(ROM, Answer.FIRST_LINE)
    with pytest.raises(IndexError):
        sensor.get_temperature()


def test_a_shorted_bus_reads_zero_with_a_right_crc(tree: Tree) -> None:
    """The kernel believes a shorted bus: YES and t=0."""
    tree.answer(ROM, Answer.SHORTED)
    text = (tree.folder / f"28-{ROM}" / "w1_slave").read_text()
    assert text.splitlines()[0] == "00 00 00 00 00 00 00 00 00 : crc=00 YES"
    assert text.endswith("t=0\n")


def test_a_failed_crc_shows_the_last_good_bytes(tree: Tree) -> None:
    """The driver's second line keeps the last read that was right."""
    good = (tree.folder / f"28-{ROM}" / "w1_slave").read_text()
    tree.answer(ROM, Answer.BAD_CRC)
    first, second = (tree.folder / f"28-{ROM}" / "w1_slave").read_text().splitlines()
    assert first.endswith(" NO")
    assert second.rpartition(" ")[0] == good.splitlines()[1].rpartition(" ")[0]


def test_a_stuck_probe_repeats_its_last_value(tree: Tree, sensor: _Sensor) -> None:
    """A stuck probe looks healthy and never changes."""
    tree.answer(ROM, Answer.STUCK)
    tree.show(ROM, 30.0)
    assert sensor.get_temperature() == 20.0625
    tree.answer(ROM, Answer.FINE)
    tree.show(ROM, 30.0)
    assert sensor.get_temperature() == 30.0


def test_an_unknown_rom_is_not_found(tree: Tree, w1: ModuleType) -> None:
    """Asking for a probe that was never plugged in says so."""
    with pytest.raises(w1.errors.NoSensorFoundError):
        w1.W1ThermSensor(w1.Sensor.DS18B20, "000000000000")


def test_an_empty_bus_is_not_found_after_a_second(tree: Tree, w1: ModuleType) -> None:
    """With no probe at all the library looks for a whole second before it gives up."""
    tree.answer(ROM, Answer.VANISHED)
    begun = time.monotonic()
    with pytest.raises(w1.errors.NoSensorFoundError):
        w1.W1ThermSensor()
    assert time.monotonic() - begun > 0.9


def test_a_bus_that_is_gone_is_a_missing_file(tree: Tree, sensor: _Sensor, w1: ModuleType) -> None:
    """Without the driver's folder the constructor fails unwrapped, and a read as not found."""
    tree.take_bus_away()
    with pytest.raises(FileNotFoundError):
        w1.W1ThermSensor()
    with pytest.raises(w1.errors.NoSensorFoundError):
        sensor.get_temperature()
    tree.show(ROM, 22.5)
    tree.bring_bus_back()
    assert sensor.get_temperature() == 22.5


def test_a_probe_may_vanish_while_the_bus_is_gone(
    tree: Tree, sensor: _Sensor, w1: ModuleType
) -> None:
    """Faults may overlap and end in either order."""
    tree.take_bus_away()
    tree.answer(ROM, Answer.VANISHED)
    tree.bring_bus_back()
    with pytest.raises(w1.errors.NoSensorFoundError):
        sensor.get_temperature()
    tree.answer(ROM, Answer.FINE)
    assert sensor.get_temperature() == 20.0625


def test_probes_are_listed_and_the_bus_master_is_no_probe(tree: Tree, w1: ModuleType) -> None:
    """The library finds the plugged-in probes and nothing else."""
    tree.add("0416b1c2d3e4")
    found = sorted(found.id for found in w1.W1ThermSensor.get_available_sensors())
    assert found == [ROM, "0416b1c2d3e4"]
    listed = (tree.folder / "w1_bus_master1" / "w1_master_slaves").read_text().split()
    assert sorted(listed) == [f"28-{ROM}", "28-0416b1c2d3e4"]


def test_the_library_sets_the_resolution_through_the_file(tree: Tree, sensor: _Sensor) -> None:
    """A number written into w1_slave sets the bits, and the next conversion mends the file."""
    assert sensor.get_resolution() == 12
    sensor.set_resolution(10, persist=False)
    tree.show(ROM, 21.3)
    assert (sensor.get_resolution(), sensor.get_temperature()) == (10, 21.25)
    tree.power_up(ROM)
    tree.show(ROM, 21.3)
    assert sensor.get_temperature() == 21.3125


def test_a_resolution_kept_in_the_eeprom_survives_a_power_up(tree: Tree, sensor: _Sensor) -> None:
    """Writing 0 keeps the resolution, as the driver does."""
    sensor.set_resolution(9)
    tree.show(ROM, 21.3)
    (tree.folder / f"28-{ROM}" / "w1_slave").write_text("0\n")
    tree.show(ROM, 21.3)
    tree.power_up(ROM)
    tree.show(ROM, 21.3)
    assert (sensor.get_resolution(), sensor.get_temperature()) == (9, 21.5)


@pytest.mark.parametrize("rom", ["", "28-0316a2795e4b", "0316A2795E4B", "0316a2795e4"])
def test_a_rom_that_is_none_is_refused(tree: Tree, rom: str) -> None:
    """A ROM id is twelve small hex digits."""
    with pytest.raises(ValueError, match="twelve"):
        tree.add(rom)


def test_a_probe_cannot_be_plugged_in_twice(tree: Tree) -> None:
    """One ROM id is one probe."""
    with pytest.raises(ValueError, match="already"):
        tree.add(ROM)
