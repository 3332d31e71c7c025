"""Latest starts, what can be left half-way, and the capacity of the sinks."""

from __future__ import annotations

import statistics
from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.development import bells
from wetside.development.deadline import (
    NEW_STUDENTS,
    Handover,
    Prospect,
    Timing,
    at_bell,
    deadline,
    judge,
    learn,
    may_leave,
    rest_index,
    takes,
)
from wetside.development.sinks import Sinks, capacity
from wetside.outlook import Quantiles

#: 6:45 + 0:30 + 5:00 + 0:30 + 2:00 + 5:00 + 1:00 = 20:45, six hand-overs.
STEPS = (
    Timing("develop", 405),
    Timing("stop", 30),
    Timing("fix", 300),
    Timing("rinse", 30),
    Timing("clear", 120),
    Timing("wash", 300),
    Timing("wet", 60),
)
EXACT = Handover(20.0, 0.0)
BELLS = bells.parse(
    """
format = 1
clear_up_minutes = 5
[[period]]
name = "3"
days = ["monday"]
starts = 10:00:00
ends = 10:50:00
""",
    "bells.toml",
)


def at(clock: str) -> datetime:
    return datetime.fromisoformat(f"2031-09-01T{clock}")


def test_steps_and_hand_overs_add_up() -> None:
    """20:45 of steps and six hand-overs of 20 s are 22:45."""
    assert takes(STEPS, EXACT).likely == 22 * 60 + 45
    assert takes(STEPS, Handover(20, 10)).late == pytest.approx(1365 + 1.6449 * 60, abs=0.01)
    assert takes((), EXACT).likely == 0


def test_start_by_is_counted_back_from_the_bell() -> None:
    """Bell 10:50, hang by 10:45, less 22:45: start developing by 10:22:15."""
    limit = deadline(BELLS, at("10:05:00"), STEPS, EXACT)
    assert limit is not None
    assert (limit.bell, limit.hang_by) == (at("10:50:00"), at("10:45:00"))
    assert limit.start_by == limit.likely_start_by == at("10:22:15")
    assert limit.seconds_left == 17 * 60 + 15
    assert limit.text == "start developing by 10:22 to hang before the bell at 10:50"


def test_a_bell_of_another_day_names_it() -> None:
    """In the evening the next bell is not tonight's: the day stands beside it."""
    limit = deadline(BELLS, at("20:32:00"), STEPS, EXACT)
    assert limit is not None
    assert limit.bell.date() > at("20:32:00").date()
    assert limit.text.endswith(f"{limit.bell:%H:%M} on {limit.bell:%A}")


def test_resting_in_water_allows_a_later_start() -> None:
    """Into the rinse are 405 + 30 + 300 s and three hand-overs: 13:15 before 10:45."""
    limit = deadline(BELLS, at("10:05:00"), STEPS, EXACT)
    assert limit is not None
    assert limit.rest_start_by == at("10:31:45")


def test_uncertain_students_must_start_earlier() -> None:
    """With 10 s of spread from run to run the safe start is 99 s earlier than the likely one."""
    limit = deadline(BELLS, at("10:05:00"), STEPS, Handover(20, 10))
    assert limit is not None
    margin = (limit.likely_start_by - limit.start_by).total_seconds()
    assert margin == pytest.approx(1.6449 * 60, abs=0.01)


@pytest.mark.parametrize(
    ("ready", "prospect"),
    [
        (Quantiles(500, 600, 800), Prospect.EASY),  # 10:15, at the latest 10:18:20
        (Quantiles(700, 1000, 1200), Prospect.TIGHT),  # 10:21:40, perhaps 10:25
        (Quantiles(700, 1000, None), Prospect.TIGHT),
        (Quantiles(1000, 1200, 1500), Prospect.REST),  # 10:25
        (Quantiles(1700, 1800, 1900), Prospect.NO),  # 10:35
        (Quantiles(None, None, None), Prospect.NO),
    ],
)
def test_a_run_is_judged_against_its_bell(ready: Quantiles, prospect: Prospect) -> None:
    """At 10:05 a forecast says whether the film will hang, rest in water, or neither."""
    limit = deadline(BELLS, at("10:05:00"), STEPS, EXACT)
    assert limit is not None
    verdict = judge(limit, at("10:05:00"), ready)
    assert verdict.prospect is prospect
    assert "10:" in verdict.text


def test_between_terms_there_is_no_deadline() -> None:
    """A table without a bell to come gives none."""
    closed = bells.parse(
        """
format = 1
closed = [2031-09-01, 2031-09-08, 2031-09-15, 2031-09-22, 2031-09-29, 2031-10-06, 2031-10-13,
  2031-10-20, 2031-10-27]
[[period]]
name = "3"
days = ["monday"]
starts = 10:00:00
ends = 10:50:00
""",
        "bells.toml",
    )
    assert deadline(closed, at("10:05:00"), STEPS, EXACT) is None


@pytest.mark.parametrize(
    ("started", "kind", "safe", "late"),
    [
        ("10:51:00", "temper", True, 0),
        ("10:50:00", "develop", False, 795),  # all of 13:15 to the rinse
        ("10:46:00", "develop", False, 555),
        ("10:40:00", "fix", False, 195),
        ("10:36:00", "rinse", True, 0),
        ("10:35:00", "clear", False, 85),
        ("10:30:00", "wash", True, 0),
        ("10:10:00", "hang", True, 0),
    ],
)
def test_where_a_run_stands_at_the_bell(started: str, kind: str, safe: bool, late: float) -> None:
    """For each start: the step at 10:50, whether it may be left, else how long to stay."""
    found = at_bell(STEPS, EXACT, at(started), at("10:50:00"))
    assert (found.kind, found.leaving.safe) == (kind, safe)
    assert found.safe_at - at("10:50:00") == timedelta(seconds=late)


def test_what_may_be_left() -> None:
    """Water and the line are safe; developer, stop bath, fixer and the unknown are not."""
    kinds = ("develop", "stop", "fix", "rinse", "wash", "hang", "tone")
    assert [kind for kind in kinds if may_leave(kind).safe] == ["rinse", "wash", "hang"]
    assert "15:00" in may_leave("fix").reason


def test_without_a_fixer_nothing_rests() -> None:
    """A sheet that is cut before fixing has no place to rest; nor one that ends with it."""
    assert rest_index(STEPS[:2]) is None
    assert rest_index(STEPS[:3]) is None
    assert rest_index(STEPS) == 3


def test_before_the_log_knows_the_assumption_holds() -> None:
    """No runs, and runs without hand-overs, leave what is assumed for new students."""
    assert learn([]) == NEW_STUDENTS
    assert learn([[], []]) == NEW_STUDENTS


def test_hand_overs_are_learnt_from_runs() -> None:
    """After many runs mean and spread are those of the runs' means (stdlib statistics)."""
    random = np.random.default_rng(7)
    runs = [list(random.normal(mean, 1.0, 6)) for mean in random.normal(35, 6, 400)]
    means = [statistics.fmean(run) for run in runs]
    found = learn(runs)
    assert found.mean_seconds == pytest.approx(statistics.fmean(means), rel=0.01)
    assert found.sd_seconds == pytest.approx(statistics.pstdev(means), rel=0.05)


def test_one_slow_run_does_not_rule() -> None:
    """A single run of 60 s moves the assumed 20 s by a fifth of the way."""
    assert learn([[60.0, 60.0]]).mean_seconds == pytest.approx(28.0)


def test_the_first_runs_widen_the_spread_by_how_far_they_lie_from_what_was_assumed() -> None:
    """Runs of 40 and 50 s against 20 +- 10 as four: mean 170/6, variance (400 + 50 + 2500/3)/6."""
    found = learn([[40.0], [50.0]])
    assert found.mean_seconds == pytest.approx(170 / 6)
    assert found.sd_seconds == pytest.approx(((400 + 50 + 2500 / 3) / 6) ** 0.5)


def test_the_late_start_holds_for_nineteen_of_twenty_runs() -> None:
    """Drawn runs with the stated spread hang in time in 95 % (to 2 %) when begun at start_by."""
    random = np.random.default_rng(11)
    handover = Handover(20, 5)
    late = takes(STEPS, handover).late
    drawn = 1245 + 6 * random.normal(20, 5, 4000)
    assert float(np.mean(drawn <= late)) == pytest.approx(0.95, abs=0.02)


@given(mean=st.floats(0, 120), sd=st.floats(0, 60), more=st.floats(0, 60))
def test_slower_hand_overs_never_allow_a_later_start(mean: float, sd: float, more: float) -> None:
    """Adding to mean or spread moves the deadline earlier."""
    now = at("10:05:00")
    base = deadline(BELLS, now, STEPS, Handover(mean, sd))
    slower = deadline(BELLS, now, STEPS, Handover(mean + more, sd + more))
    assert base is not None
    assert slower is not None
    assert slower.start_by <= base.start_by
    assert base.start_by <= base.likely_start_by


def test_two_stations_take_a_class_of_twelve_in_three_rounds() -> None:
    """Two positions with two tanks each, 60 min open, 6 min tempering before each run of 13 min."""
    found = capacity(
        Sinks(2, tanks_per_station=2),
        12,
        open_seconds=60 * 60,
        ready_seconds=6 * 60,
        run_seconds=13 * 60,
    )
    assert list(found.starts) == [360, 1500, 2640]
    assert (found.tanks, found.students, found.periods) == (12, 12, 1)
    assert found.text == "all 12 finish in 3 rounds"


def test_a_larger_class_needs_more_periods() -> None:
    """With one round of two tanks, seven students need four periods."""
    found = capacity(Sinks(2), 7, open_seconds=2700, ready_seconds=600, run_seconds=1365)
    assert (found.students, found.periods) == (2, 4)
    assert found.text == "2 of 7 finish in 1 round: 4 periods needed"


def test_a_developer_that_waits_in_the_bath_is_ready_sooner() -> None:
    """Tempered again for a minute in place of five, a second round fits into 52 min."""
    again = [
        capacity(
            Sinks(2),
            4,
            open_seconds=52 * 60,
            ready_seconds=300,
            run_seconds=1365,
            again_seconds=seconds,
        )
        for seconds in (None, 60)
    ]
    assert [list(found.starts) for found in again] == [[300], [300, 1725]]
    assert [found.students for found in again] == [2, 4]


def test_a_period_too_short_for_one_run() -> None:
    """Says by how much, and that nothing fits."""
    found = capacity(Sinks(2), 4, open_seconds=1485, ready_seconds=300, run_seconds=1365)
    assert (found.students, found.periods) == (0, None)
    assert found.text.startswith("no run fits: 3 min too short")


def test_two_students_share_a_tank() -> None:
    """Five students, two to a tank, take three tanks."""
    found = capacity(
        Sinks(3, students_per_tank=2), 5, open_seconds=2700, ready_seconds=0, run_seconds=1365
    )
    assert (found.tanks, found.students) == (3, 5)


def test_an_empty_class_needs_nothing() -> None:
    """No students, no rounds, and no sentence that all of them finish."""
    for open_seconds in (60, 6000):
        found = capacity(Sinks(2), 0, open_seconds=open_seconds, ready_seconds=0, run_seconds=1365)
        assert (found.starts, found.periods) == ((), 0)
        assert found.text == "no students are given"


def test_impossible_sinks_are_refused() -> None:
    """No stations, a run without length and numbers below zero are errors."""
    with pytest.raises(ValueError, match="at least one"):
        Sinks(0)
    with pytest.raises(ValueError, match="run_seconds"):
        capacity(Sinks(1), 1, open_seconds=60, ready_seconds=0, run_seconds=0)
    with pytest.raises(ValueError, match="below zero"):
        capacity(Sinks(1), -1, open_seconds=60, ready_seconds=0, run_seconds=10)


@given(
    students=st.integers(1, 40),
    stations=st.integers(1, 6),
    open_seconds=st.floats(0, 10_000),
    run_seconds=st.floats(60, 4000),
)
def test_every_round_ends_in_time(
    students: int, stations: int, open_seconds: float, run_seconds: float
) -> None:
    """The last round that is planned is over before film must hang, and no round is idle."""
    found = capacity(
        Sinks(stations),
        students,
        open_seconds=open_seconds,
        ready_seconds=60.0,
        run_seconds=run_seconds,
    )
    assert all(start + run_seconds <= open_seconds + 1e-3 for start in found.starts)
    assert found.students <= len(found.starts) * stations
    assert found.students > (len(found.starts) - 1) * stations or not found.starts


def test_the_wall_clock_may_be_any_day() -> None:
    """A deadline asked for on a Saturday is Monday's."""
    saturday = at("10:05:00") - timedelta(days=2)
    limit = deadline(BELLS, saturday, STEPS, EXACT)
    assert limit is not None
    assert limit.start_by == at("10:22:15")
