"""A probe that seemed to hang in air is not trusted, until somebody says where it is."""

from __future__ import annotations

from dataclasses import replace

import pytest
from newton_sinks import NewtonSink

from wetside.outlook import Setup
from wetside.readings import Condition, Place
from wetside.session.events import Kind
from wetside.session.run import State
from wetside.settings import Probe, Supplies
from wetside.station.senses import Senses

SETUP = Setup(20.0, probe_sd_celsius=0.05)
PROBE = Probe(rom="0316a2795e4b", name="p", sd_celsius=0.05)
#: Seconds at which the probe is lifted, put back, and at which the test gives up.
LIFTED, BACK, UNTIL = 120, 180, 600


def _asked_and_ready(pressed_at: float | None = None) -> tuple[float, float]:
    """When the display last asked to put the probe back, and when READY was called, in seconds.

    The probe is told to be in the developer, hangs in air for a minute, and is put back into a
    developer that is in its window by then. ``pressed_at`` is when somebody tells its place anew.
    """
    watched = Senses(0.0, SETUP, [PROBE], Supplies())
    watched.move()
    plan = [("developer", LIFTED), ("air", BACK - LIFTED), ("developer", UNTIL - BACK)]
    asked = 0.0
    for row in NewtonSink(24.0, 20.0, 1 / 75).readings(plan, room=27.0):
        placed, _ = watched.take([replace(row, place=Place.UNKNOWN)], row.seconds)
        if row.seconds == 1.0:
            watched.move()
        if row.seconds == pressed_at:
            watched.move()
            watched.move()  # to the bath, and back to the developer
        watched.believe(placed, row.seconds)
        event = watched.window_event(State.TEMPERING, SETUP)
        if Condition.IN_AIR in watched.lost(row.seconds, tempering=True).values():
            asked = row.seconds
        if event is not None and event.kind is Kind.ENTERED:
            return asked, row.seconds
    pytest.fail("READY was never called")


def test_a_probe_that_hung_in_air_calls_nothing_ready_for_five_minutes() -> None:
    """For one minute the display asks to put it back; four more it is only not relied upon."""
    asked, ready = _asked_and_ready()
    assert asked > BACK
    assert 240.0 == pytest.approx(ready - asked, abs=3.0)


def test_whoever_tells_its_place_anew_is_believed_at_once() -> None:
    """Two presses of the probe button, round to the developer again, end the doubt."""
    _, ready = _asked_and_ready(pressed_at=230.0)
    assert 230.0 <= ready < 260.0
