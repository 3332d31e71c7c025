"""The compared methods and the case maker on recordings with known answers."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from forecast import ahead, bound, cases, draw, simple, unscented

from wetside.outlook import Setup, Wall
from wetside.readings import Condition, Place, Reading

SETUP = Setup(target_celsius=24.0, tolerance_celsius=0.3, wall=Wall.STEEL)


def _rows(celsius: object, seconds: int = 301) -> list[Reading]:
    assert callable(celsius)
    return [Reading(float(t), "probe1", celsius(t), Place.DEVELOPER) for t in range(seconds)]


def test_straight_line_meets_a_straight_line() -> None:
    """20 C rising 0.01 C/s reaches 23.7 C at 370 s: 70 s from 300 s on."""
    said = simple.straight_line(SETUP, _rows(lambda t: 20 + 0.01 * t), 300.0)
    assert said is not None
    assert said.ready_in.p50 == pytest.approx(70.0, abs=0.1)


def test_straight_line_says_never_when_it_runs_away() -> None:
    """A developer that cools away from the band never gets there on a line."""
    said = simple.straight_line(SETUP, _rows(lambda t: 20 - 0.01 * t), 300.0)
    assert said is not None
    assert said.ready_in.p50 is None
    assert said.never == pytest.approx(1.0)


@pytest.mark.parametrize("name", ["free_exponential", "unscented"])
def test_exponential_methods_meet_an_exponential(name: str) -> None:
    """16 C toward 25 C with 400 s crosses 23.7 C at 400 ln(9/1.3) s."""
    rows = _rows(lambda t: 25 - 9 * math.exp(-t / 400), 601)
    truth = 400 * math.log(9 / 1.3) - 600
    if name == "unscented":
        said = unscented.run_unscented(SETUP, rows, [600.0])[0]
    else:
        said = simple.free_exponential(SETUP, rows, 600.0)
    assert said is not None
    assert said.ready_in.p50 is not None
    slack = 1.0 if name == "free_exponential" else 25.0
    assert truth == pytest.approx(said.ready_in.p50, abs=slack)


def test_damped_trend_goes_on_with_a_line() -> None:
    """Holt's damped trend crosses a near, straight approach within a fifth of the wait."""
    said = simple.damped_trend(SETUP, _rows(lambda t: 20 + 0.01 * t), 300.0)
    assert said is not None
    assert said.ready_in.p50 == pytest.approx(70.0, rel=0.2)


def test_fixed_constant_is_newtons_law_from_the_dip() -> None:
    """From 18 C in a 26 C bath with 400 s the 23.7 C are reached after 400 ln(8/2.3) s."""
    rows = [Reading(0.0, "probe1", 18.0, Place.DEVELOPER)]
    rows += [Reading(float(t), "probe1", 26.0, Place.BATH) for t in range(5, 100)]
    said = simple.fixed_constant(SETUP, rows, 99.0)
    assert said is not None
    assert said.ready_in.p50 == pytest.approx(400 * math.log(8 / 2.3) - 99)


@pytest.mark.parametrize(
    "method", [simple.straight_line, simple.free_exponential, simple.damped_trend]
)
def test_inside_the_band_is_ready_now(method: simple.Method) -> None:
    """Every method answers 0 when the developer stands inside the band."""
    said = method(SETUP, _rows(lambda _: 24.1), 300.0)
    assert said is not None
    assert said.ready_in.p50 == 0.0


def test_same_seed_same_case() -> None:
    """A seed stands for one sink and one set of readings."""
    first, again = (cases.make(3, ("dip",))[0] for _ in range(2))
    assert first.readings == again.readings
    assert first.questions == again.questions
    assert cases.make(4, ("dip",))[0].readings != first.readings


def test_questions_agree_with_the_path() -> None:
    """What is asked for is the first second inside the band, and the first outside after it."""
    case = next(c for c in (cases.make(s, ("developer",))[0] for s in range(9)) if c.leaves_at)
    ready, leaves = int(case.ready_at or 0), int(case.leaves_at or 0)
    setup = case.plan.setup
    inside = np.abs(case.path.developer - setup.target_celsius) <= setup.tolerance_celsius
    assert not inside[:ready].any()
    assert inside[ready:leaves].all()
    assert not inside[leaves]
    for question in case.questions:
        assert question.ready_in == pytest.approx(ready - question.seconds)


def test_dip_shows_the_developer_first_and_then_hides_it() -> None:
    """A dip lasts 10 to 40 s; a check dip comes back once; each ends through the air."""
    for arrangement, dips in (("dip", 1), ("check dip", 2)):
        rows = cases.make(5, (arrangement,))[0].readings
        places = [a.place for a, b in itertools.pairwise(rows) if a.place is not b.place]
        assert rows[0].place is Place.DEVELOPER
        assert rows[-1].place is Place.BATH
        assert dips == places.count(Place.DEVELOPER)


@pytest.mark.parametrize("kind", draw.PHYSICAL)
def test_physical_disturbances_change_the_path_from_their_second_on(kind: str) -> None:
    """Before the event both paths are equal, afterwards they part."""
    plan, path, ready, _ = cases.settle(2)
    spoiled = draw.disturb(plan, 2, kind, ready)
    assert spoiled.event is not None
    begin = int(spoiled.event.begin)
    other = cases.walk(spoiled, begin + 300)
    assert path.tip_bath[: begin + 1] == pytest.approx(other.tip_bath[: begin + 1])
    moved = np.abs(path.developer[: begin + 301] - other.developer) + np.abs(
        path.tip_bath[: begin + 301] - other.tip_bath
    )
    assert moved.max() > 0.01


@pytest.mark.parametrize("kind", draw.DIRT)
def test_dirt_spoils_only_its_minute(kind: str) -> None:
    """Outside of the dirty minute the readings stay as they were."""
    case = cases.make(2, ("developer",), kind)[0]
    event = case.plan.event
    assert event is not None
    clean = cases.make(2, ("developer",))[0].readings
    dirty = case.readings
    end = min(event.end, clean[-1].seconds)
    outside = [r for r in dirty if not event.begin - 3 <= r.seconds < event.end + 3]
    same = set(clean)
    assert all(r in same for r in outside if r.seconds <= clean[-1].seconds)
    spoiled = [r for r in dirty if event.begin <= r.seconds < end]
    if kind == "unplugged":
        assert {Condition.VANISHED} == {r.condition for r in spoiled}
    elif kind in {"85.0", "0.0"}:
        assert float(kind) in {r.celsius for r in spoiled}
    elif kind == "duplicates":
        assert len(spoiled) > len({r.seconds for r in spoiled})
    else:
        assert [r.seconds for r in spoiled] != sorted(r.seconds for r in spoiled)


def test_bound_is_close_to_the_truth() -> None:
    """Who knows the sink errs by a few percent where the developer arrives."""
    errors = []
    for seed in range(4):
        case = cases.make(seed, ("two probes",))[0]
        more = bound.sensitivity(case.plan, cases.NEVER_SECONDS)
        for question, said in zip(case.questions, bound.run_bound(case, more), strict=True):
            if question.ready_in is not None and said is not None and said.ready_in.p50 is not None:
                errors.append(abs(said.ready_in.p50 - question.ready_in) / question.ready_in)
    assert errors
    assert sum(errors) / len(errors) < 0.1


@pytest.mark.parametrize("off", [0.0, 0.3, -0.3])
def test_who_reads_ahead_errs_by_what_the_probe_is_off(off: float) -> None:
    """In a mixed container an exact probe gives the truth, another the moment its window is met."""
    case = cases.make(2, ("developer",))[0]
    probe = replace(case.plan.probes[0], offset_celsius=off)
    mixed = replace(case.path, tip_developer=case.path.developer)
    case = replace(case, plan=replace(case.plan, probes=(probe, probe)), path=mixed)
    setup = case.plan.setup
    goal = setup.target_celsius - off
    reached = cases.crossings(mixed, goal, setup.tolerance_celsius)[0]
    assert reached is not None
    for question, said in zip(case.questions, ahead.read_ahead(case), strict=True):
        assert said is not None
        low, middle, high = said.ready_in.p05, said.ready_in.p50, said.ready_in.p95
        assert low is not None
        assert middle is not None
        assert high is not None
        assert middle == pytest.approx(reached - question.seconds, rel=0.05, abs=2.0)
        assert low < middle < high
