"""What may be said about the time without power, and what may not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.clock import Moment
from wetside.journal.gap import between

LAST = Moment(500.0, 1_793_606_400.0, True, "one")


def test_on_the_same_boot_the_gap_is_exact() -> None:
    """A killed process: the monotonic clock went on, whatever the wall clock did meanwhile."""
    now = Moment(542.5, 0.0, False, "one")
    gap = between(LAST, now)
    assert (True, 42.5, 42.5, 42.5) == (gap.same_boot, gap.seconds, gap.at_least, gap.at_most)
    assert "Stopped for 0:42." == gap.text


def test_after_a_cut_two_trusted_clocks_give_the_gap_with_an_error() -> None:
    """With the clock right before and after, the gap is their difference, and not exact."""
    now = Moment(30.0, LAST.wall_seconds + 600.0, True, "two")
    gap = between(LAST, now)
    assert (False, 600.0) == (gap.same_boot, gap.seconds)
    assert (gap.at_least, gap.at_most) == pytest.approx((597.988, 602.012))
    assert "Power was off. 10:00 passed, give or take 2 s." == gap.text


@pytest.mark.parametrize(
    ("last_trusted", "now_trusted", "why"),
    [
        (True, False, "the clock is not set"),
        (False, False, "the clock is not set"),
        (False, True, "the clock was not set before the cut"),
    ],
)
def test_without_a_clock_only_bounds_are_given(
    last_trusted: bool, now_trusted: bool, why: str
) -> None:
    """Without a right clock at both ends: at least since this boot began, at most unknown."""
    last = replace(LAST, trusted=last_trusted)
    gap = between(last, Moment(42.0, LAST.wall_seconds + 99.0, now_trusted, "two"))
    assert (None, 42.0, None) == (gap.seconds, gap.at_least, gap.at_most)
    assert f"Power was off. At least 0:42 passed, maybe much more: {why}." == gap.text


def test_clocks_that_contradict_the_boot_are_not_believed() -> None:
    """A wall clock that says less than this boot has lasted is wrong: bounds are given."""
    gap = between(LAST, Moment(60.0, LAST.wall_seconds + 5.0, True, "two"))
    assert (None, 60.0, None) == (gap.seconds, gap.at_least, gap.at_most)
    assert "the clock went backwards" in gap.text


def test_clocks_that_differ_from_the_boot_by_less_than_their_error_are_believed() -> None:
    """A wall clock one second short of this boot's minute: the boot knows better, and no more."""
    gap = between(LAST, Moment(60.0, LAST.wall_seconds + 59.0, True, "two"))
    assert (60.0, 60.0) == (gap.seconds, gap.at_least)
    assert gap.at_most == pytest.approx(62.001, abs=0.001)


@given(
    true=st.floats(0, 1e6),
    since_boot=st.floats(0, 1),
    error=st.floats(-0.9, 0.9),
    same=st.booleans(),
    trust=st.tuples(st.booleans(), st.booleans()),
    lie=st.floats(-1e6, 1e6),
)
def test_the_truth_lies_within_the_bounds(
    true: float,
    since_boot: float,
    error: float,
    same: bool,
    trust: tuple[bool, bool],
    lie: float,
) -> None:
    """Whatever the clocks say, the true gap is never outside of what is claimed."""
    last = Moment(500.0, LAST.wall_seconds + (error if trust[0] else lie), trust[0], "one")
    now = Moment(
        500.0 + true if same else true * since_boot,
        LAST.wall_seconds + true - (error if trust[1] else lie),
        trust[1],
        "one" if same else "two",
    )
    gap = between(last, now)
    assert gap.at_least <= true + 1e-6
    assert gap.at_most is None or true - 1e-6 <= gap.at_most
    if gap.seconds is not None:
        assert gap.at_most is not None
        assert gap.at_least <= gap.seconds <= gap.at_most
