"""When the wall clock is believed: set by the network, or from a clock chip that kept time."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from wetside import clock


@pytest.fixture
def chip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The kernel's file of a clock chip, on a machine just started that no network has set."""
    monkeypatch.setattr(clock, "_uptime_seconds", lambda: 60.0)
    file = tmp_path / "since_epoch"
    monkeypatch.setattr(clock, "_CHIP", file)
    monkeypatch.setattr(clock, "_synchronised", lambda: False)
    return file


def test_without_a_chip_and_a_network_the_clock_is_not_believed(chip: Path) -> None:
    """Nothing says that it is right."""
    assert not chip.exists()
    assert not clock.SystemClock().moment().trusted


def test_a_chip_that_says_the_same_is_believed(chip: Path) -> None:
    """The system's clock was set from it at the start."""
    chip.write_text(f"{time.time():.0f}\n")
    assert clock.wall_is_trusted()
    assert clock.SystemClock().moment().trusted


@pytest.mark.parametrize("says", ["28", "behind", ""])
def test_a_chip_without_a_battery_is_not_believed(chip: Path, says: str) -> None:
    """It began at nothing, stood still, or cannot be read; the system's clock was only saved."""
    chip.write_text(says if says != "behind" else f"{time.time() - 1225:.0f}\n")
    assert not clock.wall_is_trusted()
    assert not clock.SystemClock().moment().trusted


def test_a_chip_is_believed_after_weeks_too(chip: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody sets either without a network, and they drift apart by some seconds a day."""
    monkeypatch.setattr(clock, "_uptime_seconds", lambda: 14 * 86400.0)
    chip.write_text(f"{time.time() - 60:.0f}\n")
    assert clock.wall_is_trusted()


def test_a_network_is_enough(chip: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A board without a chip is believed once the network set it."""
    monkeypatch.setattr(clock, "_synchronised", lambda: True)
    assert not chip.exists()
    assert clock.SystemClock().moment().trusted
