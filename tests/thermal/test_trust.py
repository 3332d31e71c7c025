"""When what a probe reads may be relied upon: each limit, without a sink."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from wetside.outlook import Setup
from wetside.readings import Condition, Place, Reading
from wetside.thermal import trust
from wetside.thermal.belief import Belief
from wetside.thermal.estimator import begin, update
from wetside.thermal.story import Story, with_track
from wetside.thermal.tracks import Track
from wetside.thermal.trust import AIRED_SECONDS, AIRED_SHOWN_SECONDS, DOUBT_MISFIT, Trust

P = frozenset({"p"})


def _told(seconds: int, place: Place = Place.DEVELOPER) -> Belief:
    """A probe that has read 22 C for so long, told where it is."""
    belief = begin(Setup(20.0), doubting=True)
    for second in range(seconds + 1):
        belief = update(belief, Reading(float(second), "p", 22.0, place))
    return belief


def _with(belief: Belief, **changes: object) -> Belief:
    """The belief whose accounts say something else of the probe."""
    return replace(belief, stories=tuple(_changed(story, changes) for story in belief.stories))


def _changed(story: Story, changes: dict[str, object]) -> Story:
    track = story.track("p")
    assert track is not None
    changed: Track = replace(track, **changes)  # type: ignore[arg-type]  # fields of a track
    return with_track(story, changed)


def _or_in_air(belief: Belief, chance: float) -> Belief:
    """The belief with an account in which the probe hangs in air, as likely as ``chance``."""
    there = replace(belief.story, log_evidence=math.log(1.0 - chance))
    lifted = replace(_changed(there, {"place": Place.AIR}), log_evidence=math.log(chance))
    return replace(belief, stories=(there, lifted))


@pytest.mark.parametrize(("seconds", "measured"), [(7, None), (8, 8.0)])
def test_a_told_probe_measures_the_developer_after_eight_seconds(
    seconds: int, measured: float | None
) -> None:
    """Before that it may still say what it was in."""
    belief = _told(seconds)
    assert measured == trust.weighed(Trust(), belief, P, float(seconds)).measured


@pytest.mark.parametrize("place", [Place.UNKNOWN, Place.BATH])
def test_a_place_that_nobody_told_is_no_measurement(place: Place) -> None:
    """However sure the estimate is of it, and whatever was told of the other liquid."""
    belief = _told(60, place)
    guessed = _with(belief, place=Place.DEVELOPER)
    assert trust.weighed(Trust(), guessed, P, 60.0).measured is None
    told = _with(belief, place=Place.DEVELOPER, told=Place.DEVELOPER)
    assert trust.weighed(Trust(), told, P, 60.0).measured == 60.0
    assert trust.weighed(Trust(), told, frozenset(), 60.0).measured is None


@pytest.mark.parametrize(("chance", "sure"), [(0.049, True), (0.051, False)])
def test_an_account_of_a_twentieth_is_one_that_may_be_true(chance: float, *, sure: bool) -> None:
    """A probe is surely somewhere where all others together are less likely than that."""
    belief = _or_in_air(_told(60), chance)
    assert sure is trust.surely_in(belief, "p")
    assert sure is not trust.doubted(Trust(seconds=60.0), belief, P)
    assert (60.0 if sure else None) == trust.weighed(Trust(), belief, P, 60.0).measured


@pytest.mark.parametrize(("misfit", "doubted"), [(DOUBT_MISFIT, False), (DOUBT_MISFIT + 0.1, True)])
def test_readings_of_the_developer_that_do_not_fit_are_doubted(
    misfit: float, *, doubted: bool
) -> None:
    """Up or down; of a probe that was replaced nothing is asked."""
    for both in ((misfit, 0.0), (0.0, misfit)):
        belief = _with(_told(60), misfit=both)
        assert doubted is trust.doubted(Trust(seconds=60.0), belief, P)
        assert not trust.doubted(Trust(seconds=60.0), belief, frozenset())


def test_a_probe_in_air_is_asked_about_for_one_minute_and_not_relied_upon_for_five() -> None:
    """Only while the developer is waited for; a press that tells its place ends both."""
    belief = _told(60)
    for ago, asked, doubted in (
        (AIRED_SHOWN_SECONDS - 1.0, True, True),
        (AIRED_SHOWN_SECONDS, False, True),
        (AIRED_SECONDS - 1.0, False, True),
        (AIRED_SECONDS, False, False),
    ):
        seen = Trust(seconds=1000.0, aired=("p", 1000.0 - ago))
        found = {"p": Condition.IN_AIR} if asked else {}
        assert found == trust.unfit(seen, belief, P, tempering=True)
        assert {} == trust.unfit(seen, belief, P, tempering=False)
        assert doubted is trust.doubted(seen, belief, P)
        assert not trust.doubted(trust.told_anew(seen), belief, P)


def test_a_probe_that_seems_to_hang_in_air_is_remembered_with_the_moment() -> None:
    """It was told to be in the developer, and the likeliest account has it in air."""
    belief = _with(_told(60), place=Place.AIR)
    assert ("p", 60.0) == trust.weighed(Trust(), belief, P, 61.0).aired


@pytest.mark.parametrize(("since", "asked"), [(7.0, False), (8.0, True)])
def test_a_press_that_no_move_followed_is_asked_about_after_eight_seconds(
    since: float, *, asked: bool
) -> None:
    """The account that it stayed is sure by then, or not at all."""
    stayed = _with(_told(60, Place.BATH), told=Place.DEVELOPER, told_since=60.0 - since)
    found = {"p": Condition.UNMOVED} if asked else {}
    assert found == trust.unfit(Trust(seconds=60.0), stayed, P, tempering=True)
    assert trust.doubted(Trust(seconds=60.0), stayed, P)


def test_a_probe_that_nobody_placed_counts_only_while_none_is_placed() -> None:
    """Beside one that somebody put into a liquid it says nothing of either."""
    stray = Reading(61.0, "q", 20.0)
    assert trust.counts(begin(Setup(20.0)), stray)
    assert trust.counts(_told(60, Place.UNKNOWN), stray)
    assert not trust.counts(_told(60), stray)
    assert trust.counts(_told(60), replace(stray, place=Place.BATH))


def test_what_a_probe_repeated_is_forgotten_once_it_reads_no_more() -> None:
    """A stuck probe that was unplugged is unplugged, and stands in nobody's way."""
    belief, reading = _told(60), Reading(60.0, "p", 22.0, Place.DEVELOPER)
    seen = trust.heard(Trust(), reading, belief)
    assert {"p"} == set(trust.weighed(seen, belief, P, 70.0).still)
    assert {} == trust.weighed(seen, belief, P, 70.1).still
