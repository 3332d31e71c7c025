"""A hot solution that cools on the bench, in no bath; measured ones are in test_measured.py."""

from __future__ import annotations

from dataclasses import replace

from newton_sinks import NewtonSink

from wetside.outlook import Setup
from wetside.thermal.advice import with_bath
from wetside.thermal.belief import Belief
from wetside.thermal.estimator import begin, update
from wetside.thermal.forecast import view
from wetside.thermal.room import in_room

#: 1/s: a litre-sized open container in still air, an hour or so for most of the way.
SLOW = 1.0 / 2400.0


def told(sink: NewtonSink, target: float, plan: list[tuple[str, int]]) -> Belief:
    """Belief after the readings of a plan, places told."""
    belief = begin(Setup(target, 0.3))
    for reading in sink.readings(plan, room=sink.bath):
        belief = update(belief, reading)
    return belief


def test_hot_solution_on_the_bench_would_cool_sooner_in_a_bath() -> None:
    """What a bath as cold as the room would bring is worked out with the coupling of a bath."""
    sink = NewtonSink(60.0, 20.5, SLOW)
    story = told(sink, 38.0, [("developer", 900)]).story
    waiting, bathed = view(story, 899.0).ready_in.p50, view(with_bath(story, 20.5), 899.0).ready_in
    assert waiting is not None
    assert bathed.p50 is not None
    assert bathed.p50 < 0.6 * waiting


def test_hot_solution_that_was_met_in_a_bath_cools_as_in_one() -> None:
    """Once the probe was in the bath the room is out of question."""
    sink = NewtonSink(60.0, 20.5, 1.0 / 900.0)
    belief = told(sink, 24.0, [("developer", 40), ("bath", 80)])
    bank = belief.story.bank
    assert bank is not None
    assert not in_room(bank).any()


def test_what_may_be_tempered_in_a_bath_has_no_room() -> None:
    """A developer of 43 C stands in a bath; one of 50 C may stand in the room as well."""
    for start, may in ((43.0, False), (50.0, True)):
        bank = told(NewtonSink(start, 24.0, SLOW), 30.0, [("developer", 30)]).story.bank
        assert bank is not None
        assert may == in_room(bank).any()


def test_a_bath_that_is_measured_is_no_room() -> None:
    """With a probe in each, a hot developer stands in the bath that is read, from the first on."""
    sink = NewtonSink(60.0, 24.0, 1.0 / 600.0)
    beside = sink.readings([("bath", 30)])
    belief = begin(Setup(30.0, 0.3))
    for hot, bath in zip(sink.readings([("developer", 30)], room=24.0), beside, strict=True):
        belief = update(update(belief, hot), replace(bath, probe="q"))
        bank = belief.story.bank
        assert bank is not None
        assert not in_room(bank).any()
