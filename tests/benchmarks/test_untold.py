"""Layered sinks of the benchmark in which nobody says where the probe is (tuning seeds)."""

from __future__ import annotations

from dataclasses import replace

from forecast import cases

from wetside.readings import Place
from wetside.thermal.belief import Belief
from wetside.thermal.estimator import begin
from wetside.thermal.hindsight import Hindsight, hear


def _untold(case: cases.Case, seconds: float) -> Belief:
    past = Hindsight(begin(case.plan.setup))
    for row in case.readings:
        if row.seconds > seconds:
            break
        past = hear(past, replace(row, place=Place.UNKNOWN))
    return past.belief


def _of(seed: int, arrangement: str) -> cases.Case:
    (case,) = cases.make(seed, (arrangement,))
    return case


def test_a_developer_that_warms_for_long_is_not_taken_for_a_bath() -> None:
    """Seed 92: after 1060 s in one liquid it is still believed to be the developer."""
    belief = _untold(_of(92, "developer"), 1060.0)
    chances = zip(belief.probabilities(), belief.stories, strict=True)
    assert sum(p for p, story in chances if story.tracks[0].place is Place.DEVELOPER) > 0.75


def test_a_warm_probe_that_falls_fast_has_not_left_the_developer() -> None:
    """Seed 46: a probe of 28 degC in a developer of 16 degC is not thought moved in its dip."""
    belief = _untold(_of(46, "dip"), 20.0)
    chances = zip(belief.probabilities(), belief.stories, strict=True)
    assert sum(p for p, story in chances if story.tracks[0].place is Place.DEVELOPER) > 0.6
