"""Things that every test of the journal needs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from used_sink import Sink

from wetside.clock import Moment
from wetside.journal.reader import Reader
from wetside.journal.schema import RunRow
from wetside.journal.writer import Writer
from wetside.outlook import Outlook, Quantiles, Temperature
from wetside.readings import Place, Reading

#: Monday 2 November 2026, 08:00 UTC.
MORNING = 1_793_606_400.0

MakeMoment = Callable[..., Moment]


@pytest.fixture
def at() -> MakeMoment:
    """Make the moment a number of seconds after a boot at eight in the morning."""

    def make(seconds: float, *, boot: str = "boot-1", trusted: bool = True) -> Moment:
        return Moment(seconds, MORNING + seconds, trusted, boot)

    return make


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the journal of a test is."""
    return tmp_path / "journal.sqlite"


@pytest.fixture
def writer(path: Path) -> Iterator[Writer]:
    """A writer of the station sink-1."""
    with Writer(path, "sink-1") as made:
        yield made


@pytest.fixture
def reader(path: Path) -> Iterator[Reader]:
    """A reader of the same journal."""
    with Reader(path) as made:
        yield made


@pytest.fixture
def row(at: MakeMoment) -> RunRow:
    """A run that has just begun."""
    return RunRow(
        id="01JBN8D0000000000000000001",
        station="sink-1",
        sheet_name="warm-24",
        sheet_title="Warm room, one reel",
        began=at(100.0),
        state="tempering",
        target_celsius=24.0,
        tolerance_celsius=0.3,
        planned_develop_seconds=390.0,
    )


@pytest.fixture
def reading() -> Callable[..., Reading]:
    """Make a reading of the bath."""

    def make(seconds: float, celsius: float | None = 21.0625, probe: str = "a") -> Reading:
        return Reading(seconds, probe, celsius, Place.BATH)

    return make


@pytest.fixture
def outlook() -> Callable[[float], Outlook]:
    """Make an outlook with every kind of number in it."""

    def make(seconds: float) -> Outlook:
        return Outlook(
            seconds=seconds,
            developer=Temperature(26.31, 0.07),
            bath=Temperature(18.9, 0.4),
            ready_in=Quantiles(96.0, 118.5, None),
            leaves_in=Quantiles(None, None, None),
            never=0.0312,
            faults=("moved",),
        )

    return make


@pytest.fixture
def sink(tmp_path: Path, row: RunRow, at: MakeMoment) -> Sink:
    """A station that was used for a while."""
    return Sink(tmp_path, row, at)
