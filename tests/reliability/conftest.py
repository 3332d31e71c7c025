"""Sinks that something goes wrong at."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sinks.apart import Apart
from sinks.rolls import Make, Roll

from wetside.session.sheet import Sheet


@pytest.fixture
def roll(tmp_path: Path, small_sheet: Sheet) -> Iterator[Make]:
    """Makes a sink on virtual time with these faults; all are closed at the end."""
    made: list[Roll] = []

    def make(*faults: str, **options: object) -> Roll:
        folder = tmp_path / f"sink{len(made)}"
        made.append(Roll(folder, small_sheet, *faults, **options))  # type: ignore[arg-type]
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.fixture
def apart(tmp_path: Path) -> Iterator[Apart]:
    """A sink beside the real station's process, twelve times as fast as time."""
    sink = Apart(tmp_path, speed=12.0)
    yield sink
    sink.close()


@pytest.fixture
def unhurried(tmp_path: Path) -> Iterator[Apart]:
    """The same eight times as fast, for what takes real seconds while a step runs."""
    sink = Apart(tmp_path)
    yield sink
    sink.close()
