"""The real station process, killed at three points of a roll, and a probe that comes unplugged."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest
from sinks.apart import Apart

from wetside.journal.schema import EventRow
from wetside.readings import Place
from wetside.session import record, schedule
from wetside.session import sheet as sheets
from wetside.session.events import Kind
from wetside.session.run import State
from wetside.session.signals import CueName
from wetside.session.summary import summarise
from wetside.sim.sink import Sink
from wetside.sim.situation import Situation

#: A sink that tempers for some minutes, in a room that is not at the target.
SOME_MINUTES = Situation(developer_celsius=21.2, bath_celsius=15.0, sink=Sink(room_celsius=17.0))

#: The probe's plug is out for so long.
UNPLUGGED_SECONDS = 40.0

#: Real seconds that a loaded machine may let a process wait.
STALL_SECONDS = 2.0

SHEET = """
format = 1
name = "Brief"
title = "A brief sheet of the tests"

[[step]]
kind = "temper"
celsius = 20.0
tolerance_celsius = 0.5
volume_millilitres = 300

[[step]]
kind = "develop"
solution = "developer"
seconds = 150
fill_seconds = 10
drain_seconds = 10
grace_seconds = 60
agitation = { pattern = "intermittent", first_seconds = 20, for_seconds = 5, every_seconds = 15 }

[[step]]
kind = "stop"
solution = "stop bath"
seconds = 40
grace_seconds = 60
agitation = { pattern = "continuous" }

[[step]]
kind = "fix"
solution = "fixer"
seconds = 90
grace_seconds = 60
agitation = { pattern = "intermittent", first_seconds = 10, for_seconds = 5, every_seconds = 15 }

[[step]]
kind = "hang"
"""


@pytest.fixture
def sink(tmp_path: Path) -> Iterator[Apart]:
    """A sink whose station is stopped at the end; tempering takes it some minutes."""
    # the test itself plugs the probe in again
    sink = Apart(tmp_path, SHEET, situation=SOME_MINUTES, deaf_to={CueName.PROBE_LOST})
    yield sink
    sink.close()


@pytest.mark.slow
def test_a_roll_survives_three_kills_an_unplugged_probe_and_a_disturbed_bath(sink: Apart) -> None:
    """Unplugged for 40 s and killed in three steps, the run ends with every cue in the journal."""
    sink.start()
    sink.student.begin()
    sink.until("tempering", 60)
    sink.turn_for(10.0)
    pulled = sink.clock.now()
    sink.world.unplug("probe")
    sink.turn_until(lambda: "failed read" in sink.conditions(), 60)
    sink.turn_for(pulled + UNPLUGGED_SECONDS - sink.clock.now())
    assert "fine" != sink.conditions()[-1]
    sink.world.plug("probe")
    sink.turn_until(lambda: sink.conditions()[-1] == "fine", 60)
    sink.world.add_ice(0.05)
    sink.world.stir(Place.BATH)
    assert "tempering" == sink.live()["state"]
    _killed_for_a_while(sink)
    sink.tell_developer()
    sink.until("running", 1500)
    sink.turn_until(lambda: _in_step(sink, "develop", 60.0), 120)
    _killed_for_a_while(sink)
    sink.turn_until(lambda: _in_step(sink, "fix", 30.0), 400)
    _killed_for_a_while(sink)
    sink.until("finished", 400)
    assert 0 == sink.stop()

    events = sink.events()
    session = record.rebuild((row.kind, row.detail) for row in events)
    assert session.state is State.FINISHED
    assert [row.seq for row in events] == sorted({row.seq for row in events})
    _every_cue_came_once(sink, events)
    assert [row.kind for row in events].count("run-taken-up") == 3
    summary = summarise(session)
    assert summary is not None
    over = [step.over_seconds for step in summary.steps if step.over_seconds is not None]
    # the student acts within seconds; to the fast time a stall of the machine is long
    assert max(over) < max(20.0, STALL_SECONDS * sink.speed)
    assert () == sink.problems()


def _killed_for_a_while(sink: Apart) -> None:
    """SIGKILL, six seconds of nobody there, and the station's start."""
    sink.kill()
    sink.clock.run_for(6.0)
    sink.start()


def _in_step(sink: Apart, kind: str, seconds: float) -> bool:
    """Whether a step has been running for so long."""
    step = sink.live().get("step")
    return isinstance(step, dict) and step["kind"] == kind and step["elapsed_seconds"] >= seconds


def _every_cue_came_once(sink: Apart, events: tuple[EventRow, ...]) -> None:
    """Each step's schedule is in the journal whole; what came late fell into a time of death."""
    machine = [
        event for row in events if (event := record.decode(row.kind, row.detail)) is not None
    ]
    pours = [event.seconds for event in machine if event.kind is Kind.NOW]
    steps = sheets.parse(SHEET, "brief").step[1:-1]
    for step, (began, ended) in zip(steps, itertools.pairwise(pours), strict=True):
        wanted = [
            (entry.kind, round(entry.offset_seconds, 3))
            for entry in schedule.of_step(step)
            if began + entry.offset_seconds <= ended
        ]
        got = [
            (event.kind, round(event.seconds - began, 3))
            for event in machine
            if event.kind in schedule.KINDS and began <= event.seconds <= ended
        ]
        assert got == wanted
    allowed = STALL_SECONDS * sink.speed
    for row in events:
        late, at = row.detail.get("late_seconds"), row.detail.get("at")
        if row.kind in set(schedule.KINDS) and isinstance(late, float) and late > allowed:
            assert isinstance(at, float)
            assert any(begin - 1 <= at <= end + 1 for begin, end in sink.dead), row
