"""A press of the probe button that nothing followed: the probe is still where it was."""

from __future__ import annotations

from dataclasses import replace

import pytest
from newton_sinks import NewtonSink

from wetside.outlook import Setup
from wetside.readings import Condition, Place, Reading
from wetside.session.events import Kind
from wetside.session.run import State
from wetside.settings import Probe, Supplies
from wetside.station.senses import Senses

SETUP = Setup(20.0, probe_sd_celsius=0.05)
PROBE = Probe(rom="0316a2795e4b", name="p", sd_celsius=0.05)
#: A developer of 24 C, five kelvin above its bath, that takes minutes to come to the target.
SINK = NewtonSink(24.0, 19.9, 1 / 500)
#: Seconds at which the probe goes into the bath, and somebody presses by mistake.
MOVED, STRAY = 30, 120


class Sink:
    """A station's senses at a sink, told what the presses say and given what the probe reads."""

    def __init__(self, rows: list[Reading], presses: dict[int, int]) -> None:
        self.senses = Senses(0.0, SETUP, [PROBE], Supplies())
        self.asked: list[float] = []
        self.ready: list[float] = []
        self.believed: list[float] = []
        for row in rows:
            placed, _ = self.senses.take([replace(row, place=Place.UNKNOWN)], row.seconds)
            for _ in range(presses.get(int(row.seconds), 0)):
                self.senses.move()
            said = self.senses.believe(placed, row.seconds)
            event = self.senses.window_event(State.TEMPERING, SETUP)
            if event is not None and event.kind is Kind.ENTERED:
                self.ready.append(row.seconds)
            if Condition.UNMOVED in self.senses.lost(row.seconds, tempering=True).values():
                self.asked.append(row.seconds)
            if said.developer is not None:
                self.believed.append(said.developer.celsius)


def _rows(*plan: tuple[str, int]) -> list[Reading]:
    return SINK.readings(list(plan))


def test_a_press_that_nothing_followed_is_asked_about_and_calls_nothing_ready() -> None:
    """The bath's own 20 C is not taken for the developer's, which is two kelvin warmer."""
    sink = Sink(_rows(("developer", MOVED), ("bath", 200)), {0: 1, MOVED: 1, STRAY: 1})
    assert not sink.ready
    assert sink.asked
    assert STRAY < sink.asked[0] <= STRAY + 12.0
    assert sink.asked[-1] == MOVED + 199.0
    assert sink.believed[-1] == pytest.approx(SINK.developer(MOVED + 199), abs=0.6)


def test_a_second_press_takes_the_first_back() -> None:
    """Told to be in the bath again, the probe is asked about no more, and nothing was lost."""
    presses = {0: 1, MOVED: 1, STRAY: 1, STRAY + 15: 1}
    sink = Sink(_rows(("developer", MOVED), ("bath", 200)), presses)
    assert sink.asked
    assert max(sink.asked) <= STRAY + 16.0
    assert not sink.ready
    assert sink.believed[-1] == pytest.approx(SINK.developer(MOVED + 199), abs=0.6)


def test_a_press_in_the_developer_that_nothing_followed_is_asked_about() -> None:
    """The developer's own value is not taken for the bath's, which was measured before."""
    plan = ("developer", MOVED), ("bath", 60), ("developer", 120)
    sink = Sink(_rows(*plan), {0: 1, MOVED: 1, MOVED + 60: 1, MOVED + 120: 1})
    assert sink.asked
    assert sink.asked[0] <= MOVED + 140.0


@pytest.mark.parametrize("late", [0, 4, 10])
def test_a_move_that_was_pressed_a_little_late_is_not_doubted(late: int) -> None:
    """The probe comes from the bath into the developer: what it reads then is believed."""
    presses = {0: 1, MOVED: 1, STRAY + late: 1}
    plan = ("developer", MOVED), ("bath", STRAY - MOVED), ("developer", 60)
    sink = Sink(_rows(*plan), presses)
    assert not sink.asked
    assert sink.believed[-1] == pytest.approx(SINK.developer(STRAY + 59), abs=0.2)


def test_a_probe_that_moves_long_after_the_press_is_believed_from_then_on() -> None:
    """Half a minute after the press it goes into the developer: asked until then, not after."""
    plan = ("developer", MOVED), ("bath", STRAY + 30 - MOVED), ("developer", 60)
    sink = Sink(_rows(*plan), {0: 1, MOVED: 1, STRAY: 1})
    assert sink.asked
    assert sink.asked[-1] < STRAY + 45.0
    assert sink.believed[-1] == pytest.approx(SINK.developer(STRAY + 89), abs=0.3)


@pytest.mark.parametrize("presses", [{STRAY + 15: 2}, {STRAY + 15: 1, STRAY + 18: 1}])
def test_whoever_presses_twice_means_it(presses: dict[int, int]) -> None:
    """A developer that is as cold as the bath, against all belief, is told by insisting."""
    sink = Sink(_rows(("developer", MOVED), ("bath", 210)), {0: 1, MOVED: 1, STRAY: 1, **presses})
    assert sink.asked
    assert sink.asked[-1] <= max(presses)
    assert sink.believed[-1] == pytest.approx(19.9, abs=0.2)
