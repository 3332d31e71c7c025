"""A press that comes too late or too early, mended by what the readings show afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from newton_sinks import NewtonSink

from wetside.outlook import Setup
from wetside.readings import Place, Reading
from wetside.thermal import bank as banks
from wetside.thermal.bank import BATH, DEVELOPER
from wetside.thermal.belief import Belief
from wetside.thermal.estimator import begin, update
from wetside.thermal.hindsight import Hindsight, hear, moment_of_move

SETUP = Setup(20.0)
SINK = NewtonSink(26.0, 16.0, 1 / 300)
PLAN = [("developer", 30), ("bath", 90), ("developer", 20), ("bath", 40)]


def _late(rows: Sequence[Reading], seconds: int) -> list[Reading]:
    """The same readings, each move told so many seconds late (below 0: early)."""
    last = len(rows) - 1
    return [
        replace(row, place=rows[max(0, min(last, at - seconds))].place)
        for at, row in enumerate(rows)
    ]


def _plainly(rows: Sequence[Reading]) -> Belief:
    belief = begin(SETUP)
    for row in rows:
        belief = update(belief, row)
    return belief


def _with_hindsight(rows: Sequence[Reading]) -> Belief:
    past = Hindsight(begin(SETUP))
    for row in rows:
        past = hear(past, row)
    return past.belief


def _off(belief: Belief, seconds: float) -> float:
    assert belief.story.bank is not None
    return abs(banks.moments(belief.story.bank, DEVELOPER)[0] - SINK.developer(seconds))


@pytest.mark.parametrize("late", [8, 12, 15, -5])
def test_a_press_out_of_time_is_mended(late: int) -> None:
    """The developer is believed where it is, though each press came seconds late or early."""
    rows = _late(SINK.readings(PLAN), late)
    assert 0.25 < _off(_plainly(rows), rows[-1].seconds)
    assert _off(_with_hindsight(rows), rows[-1].seconds) < 0.05


def test_a_press_in_time_changes_little() -> None:
    """With places that are right, only the three seconds before each move are missed."""
    rows = SINK.readings(PLAN)
    assert _off(_with_hindsight(rows), rows[-1].seconds) < 0.05
    first = [row for row in rows if row.seconds < 30]
    assert _plainly(first).story.bank is not None
    assert _off(_plainly(first), 29.0) == _off(_with_hindsight(first), 29.0)


def test_readings_between_move_and_press_do_no_harm() -> None:
    """Who presses two seconds after the move spoils no dip, though the bath is far away."""
    off: list[list[float]] = [[], []]
    for seed in range(5):
        sink = NewtonSink(24.0, 12.0, 1 / 400, lag=7.5 + seed, seed=seed)
        rows = sink.readings([("developer", 30), ("bath", 90), ("developer", 16), ("bath", 30)])
        late = _late(rows, 2)
        for kind, belief in enumerate((_plainly(late), _with_hindsight(late))):
            assert belief.story.bank is not None
            middle, _ = banks.moments(belief.story.bank, DEVELOPER)
            off[kind].append(abs(middle - sink.developer(rows[-1].seconds)))
    assert max(off[1]) < 0.25
    assert sum(off[1]) < 0.8 * sum(off[0])


@pytest.mark.parametrize(
    ("room", "start", "bath"), [(21.0, 16.0, 25.0), (18.0, 27.0, 15.0), (24.0, 15.0, 22.0)]
)
def test_the_way_through_the_air_pours_nothing_into_the_bath(
    room: float, start: float, bath: float
) -> None:
    """Three readings of air before the word of a check dip: the bath stays what it was."""
    plan = [("developer", 30), ("air", 3), ("bath", 150), ("air", 3), ("developer", 30)]
    for seed in range(4):
        place, past = Place.DEVELOPER, Hindsight(begin(SETUP))
        for row in NewtonSink(start, bath, 1 / 500, seed=seed).readings(plan, room=room):
            place = place if row.place is Place.AIR else row.place
            past = hear(past, replace(row, place=place))
            if row.seconds >= 186.0:
                assert past.belief.story.bank is not None
                believed, _ = banks.moments(past.belief.story.bank, BATH)
                assert abs(believed - bath) < 0.2


def test_liquids_alike_leave_the_press_as_it_was() -> None:
    """Where the probe meets no other temperature, nothing says that somebody pressed late."""
    rows = [(float(n), 20.0 + 0.0625 * (n % 3 == 0)) for n in range(45)]
    assert moment_of_move(rows, 30.0) is None
    assert moment_of_move(rows[:5], 3.0) is None


def test_the_first_press_of_all_may_be_late_too() -> None:
    """A probe is dipped, and 12 s later somebody says so: the lag counts from the dip."""
    rows = NewtonSink(24.0, 16.0, 1 / 300).readings([("air", 30), ("developer", 40)])
    told = [replace(row, place=row.place if n >= 42 else Place.UNKNOWN) for n, row in
            enumerate(rows)]  # fmt: skip
    past = Hindsight(begin(SETUP))
    for row in told:
        past = hear(past, row)
    move = past.move_of("p")
    assert move is not None
    assert 30.0 == pytest.approx(move.moment, abs=2.0)
