"""The real w1thermsensor on the kernel's files, every condition named."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from wetside.clock import SystemClock
from wetside.devices.ds18b20 import Bus
from wetside.devices.feed import ThreadFeed, TimedFeed
from wetside.readings import Condition
from wetside.settings import Probe
from wetside.sim.clock import VirtualClock
from wetside.sim.tree import Answer, Tree

ROM = "0316a2795e4b"
OTHER = "0316a27960aa"


@pytest.fixture
def tree(tmp_path: Path) -> Tree:
    """A bus with one probe at 20.0625 C."""
    tree = Tree(tmp_path)
    tree.add(ROM)
    tree.show(ROM, 20.0625)
    return tree


def test_a_probe_is_found_and_read_by_its_rom_id(tree: Tree) -> None:
    """A probe nobody listed in the settings answers under its ROM id."""
    (answer,) = Bus(tree.folder).read()
    assert (answer.probe, answer.celsius, answer.condition) == (ROM, 20.0625, Condition.FINE)


def test_a_correction_is_applied_and_the_raw_value_kept(tree: Tree) -> None:
    """Name, slope and offset of the settings belong to the ROM id."""
    probe = Probe(rom=ROM, name="bath", slope=1.01, offset_celsius=-0.25)
    (answer,) = Bus(tree.folder, [probe]).read()
    assert answer.probe == "bath"
    assert answer.raw_celsius == 20.0625
    assert answer.celsius == pytest.approx(1.01 * 20.0625 - 0.25)


@pytest.mark.parametrize(
    ("answer", "condition"),
    [
        (Answer.EMPTY, Condition.FAILED),
        (Answer.BAD_CRC, Condition.FAILED),
        (Answer.OPEN_BUS, Condition.FAILED),
        (Answer.SHORTED, Condition.FAILED),
        (Answer.FIRST_LINE, Condition.FAILED),
        (Answer.GARBAGE, Condition.FAILED),
        (Answer.POWER_ON, Condition.POWER_ON),
        (Answer.UNDERPOWERED, Condition.IMPLAUSIBLE),
        (Answer.VANISHED, Condition.VANISHED),
    ],
)
def test_each_fault_is_named_and_passes(tree: Tree, answer: Answer, condition: Condition) -> None:
    """A fault gives its condition and no temperature, and the next good read is fine again."""
    bus = Bus(tree.folder)
    bus.read()
    tree.answer(ROM, answer)
    (bad,) = bus.read()
    assert (condition, None) == (bad.condition, bad.celsius)
    tree.answer(ROM, Answer.FINE)
    tree.show(ROM, 21.5)
    (good,) = bus.read()
    assert (good.condition, good.celsius) == (Condition.FINE, 21.5)


def test_the_whole_bus_may_go_and_come_back(tree: Tree) -> None:
    """Without the kernel's folder every known probe answers BUS_GONE, until it is back."""
    bus = Bus(tree.folder, [Probe(rom=OTHER, name="spare")])
    assert [one.condition for one in bus.read()] == [Condition.FINE, Condition.VANISHED]
    tree.take_bus_away()
    assert [one.condition for one in bus.read()] == [Condition.BUS_GONE] * 2
    tree.bring_bus_back()
    assert Condition.FINE is bus.read()[0].condition


def test_an_empty_machine_answers_nothing(tmp_path: Path) -> None:
    """A machine without 1-Wire gives no answers and no error."""
    assert Bus(tmp_path / "nowhere").read() == []


def test_several_probes_answer_in_order(tree: Tree) -> None:
    """Two probes on one bus are told apart by ROM id."""
    tree.add(OTHER)
    tree.show(OTHER, 18.0)
    answers = Bus(tree.folder, [Probe(rom=OTHER, name="bath")]).read()
    assert [(one.probe, one.celsius) for one in answers] == [(ROM, 20.0625), ("bath", 18.0)]


def test_the_thread_feed_wakes_the_station(tree: Tree) -> None:
    """Readings of the worker thread come dated, without the caller ever reading the bus."""
    clock, wake = SystemClock(), threading.Event()
    feed = ThreadFeed(Bus(tree.folder), clock, wake, period=0.05)
    try:
        assert wake.wait(5.0)
        (reading, *_) = feed.take()
    finally:
        feed.close()
    assert (reading.probe, reading.celsius) == (ROM, 20.0625)
    assert 0 <= clock.now() - reading.seconds < 5


def test_the_timed_feed_reads_once_a_second(tree: Tree) -> None:
    """Under virtual time a reading comes at each whole period, and wakes the wait."""
    clock, wake = VirtualClock(start_seconds=100.0), threading.Event()
    feed = TimedFeed(Bus(tree.folder), clock, clock, wake)
    moments = []
    while clock.now() < 105:
        wake.clear()
        clock.wait(105.5, wake)
        moments += [reading.seconds for reading in feed.take()]
    assert moments == [101.0, 102.0, 103.0, 104.0, 105.0]
