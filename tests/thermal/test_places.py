"""Finding out by the signal alone where the probe is."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from newton_sinks import NewtonSink

from wetside.outlook import Outlook, Setup, Wall
from wetside.readings import Place, Reading
from wetside.thermal import bank as banks
from wetside.thermal.belief import Belief
from wetside.thermal.estimator import begin, update
from wetside.thermal.forecast import outlook
from wetside.thermal.places import next_places

SETUP = Setup(20.0, 0.3, Wall.STEEL, 300.0)
SINK = NewtonSink(start=27.0, bath=18.5, rate=1 / 400)


def follow(rows: list[Reading]) -> tuple[list[Belief], list[Outlook]]:
    """Belief and outlook after every row."""
    belief, beliefs, views = begin(SETUP), [], []
    for row in rows:
        belief = update(belief, row)
        beliefs.append(belief)
        views.append(outlook(belief, row.seconds))
    return beliefs, views


def test_dip_bath_check_dip_and_back_are_recognised() -> None:
    """Air, dip, bath, check dip, bath: the place is right at the end of each."""
    plan = [("air", 30), ("developer", 40), ("bath", 120), ("developer", 40), ("bath", 60)]
    beliefs, _ = follow(SINK.readings(plan, told=False))
    ends = (69, 189, 229, 289)
    found = [beliefs[end].tracks[0].place for end in ends]
    assert [Place.DEVELOPER, Place.BATH, Place.DEVELOPER, Place.BATH] == found


@pytest.mark.parametrize("room", [16.0, 18.0, 21.0, 24.0, 26.0])
def test_air_alone_gives_no_forecast(room: float) -> None:
    """A probe that hangs in the room before the dip leads to no number, from the first reading."""
    _, views = follow(SINK.readings([("air", 60)], told=False, room=room))
    assert all(view.developer is None for view in views)
    assert all(view.ready_in.p50 is None for view in views)


@pytest.mark.parametrize("start", ["air", "developer", "bath"])
def test_first_reading_at_an_untold_place_says_nothing(start: str) -> None:
    """A guess about the developer at a guessed place is not shown; at a told one it is."""
    rows = SINK.readings([(start, 1)], told=False)
    _, (said,) = follow(rows)
    assert said.developer is None
    assert said.ready_in.p95 is None
    _, (told,) = follow([replace(rows[0], place=Place.DEVELOPER)])
    assert told.developer is not None


def test_unknown_places_end_near_the_told_ones() -> None:
    """Once the places are found, the interval holds the truth as if they had been told."""
    plan = [("air", 20), ("developer", 40), ("bath", 120), ("developer", 40), ("bath", 40)]
    rows = SINK.readings(plan, told=False)
    _, views = follow(rows)
    truth = SINK.crossing(20.3) - rows[-1].seconds
    said = views[-1].ready_in
    assert said.p05 is not None
    assert said.p95 is not None
    assert said.p05 <= truth <= said.p95


def test_jump_is_named_moved() -> None:
    """Within ten seconds of an unannounced move the word stands among the faults."""
    rows = SINK.readings([("developer", 60), ("bath", 12)], told=False)
    _, views = follow(rows)
    assert any("moved" in view.faults for view in views[60:72])


def test_a_button_overrules_a_wrong_guess() -> None:
    """Whatever was guessed, a told place is believed and the developer found again."""
    rows = SINK.readings([("air", 30), ("developer", 60)], told=False)
    wrong = [*rows[:40], *(replace(row, place=Place.BATH) for row in rows[40:50])]
    right = [replace(row, place=Place.DEVELOPER) for row in rows[50:]]
    _, views = follow([*wrong, *right])
    developer = views[-1].developer
    assert developer is not None
    assert developer.celsius == pytest.approx(SINK.developer(89), abs=0.4)


def test_stays_unmoved_where_nothing_happens() -> None:
    """Five minutes in the developer raise no alarm."""
    _, views = follow(SINK.readings([("developer", 300)], told=False))
    assert all("moved" not in view.faults for view in views)


@pytest.mark.parametrize(
    ("start", "bath", "target", "lag"),
    [(15, 22, 18, 7), (25, 18, 20, 7), (25, 18, 20, 19), (17, 22, 20, 7), (17, 22, 20, 19)],
)
def test_an_untold_dip_is_not_taken_for_the_room(
    start: float, bath: float, target: float, lag: float
) -> None:
    """A probe that stood still in its first liquid was in the developer, a slow one too.

    Not always: from 15 to 22 degC with a lag of 19 s "never" still gets 0.55 (docs/forecast.md).
    """
    sink = NewtonSink(start, bath, 1 / 500, lag=lag)
    belief = begin(Setup(target, 0.3, Wall.STEEL))
    for row in sink.readings([("developer", 20), ("bath", 120)], told=False, room=start):
        belief = update(belief, row)
    assert belief.tracks[0].place is Place.BATH
    assert outlook(belief, belief.seconds or 0.0).never < 0.5


@pytest.mark.parametrize(
    ("start", "bath", "target", "rate", "lag", "room"),
    [
        (25.4, 20.5, 22.8, 1 / 500, 20, 23.2),
        (16.5, 24.7, 20.7, 1 / 400, 9, 20.3),
        (27.4, 17.8, 19.8, 1 / 900, 9, 15.1),
        (32.0, 18.0, 22.3, 1 / 450, 20, 29.9),
        (25.0, 18.0, 20.0, 1 / 450, 9, 14.0),
    ],
)
def test_an_untold_check_dip_through_the_air_shows_the_developer(
    start: float, bath: float, target: float, rate: float, lag: float, room: float
) -> None:
    """Dip, bath, check dip, bath, two seconds of air between: the developer within 0.3 degC.

    The truth is Newton's law in closed form; the interval holds its crossing of the band's edge.
    """
    sink = NewtonSink(start, bath, rate, lag=lag)
    carried = ("air", 2)
    dip, hidden = ("developer", 25), ("bath", 150)
    plan = [dip, carried, hidden, carried, dip, carried, ("bath", 40)]
    belief = begin(Setup(target, 0.3))
    for row in sink.readings(plan, told=False, room=room):
        belief = update(belief, row)
    now = belief.seconds or 0.0
    said = outlook(belief, now)
    assert belief.tracks[0].place is Place.BATH
    assert said.developer is not None
    assert said.developer.celsius == pytest.approx(sink.developer(now), abs=0.3)
    left = sink.crossing(target + (0.3 if start > target else -0.3)) - now
    assert said.ready_in.p05 is not None
    assert said.ready_in.p95 is not None
    assert said.ready_in.p05 <= left <= said.ready_in.p95


@pytest.mark.parametrize(("lag", "every"), [(7, 2), (15, 1), (15, 2)])
def test_a_move_while_the_first_dip_settles_is_noticed(lag: float, every: int) -> None:
    """From a warm room 14 s into cold developer, then into the bath: found in the bath."""
    sink = NewtonSink(10.6, 26.0, 1 / 400, lag=lag)
    belief = begin(Setup(20.4, 0.2, Wall.GLASS, 390.0))
    plan = [("developer", 14), ("air", 2), ("bath", 60)]
    for row in sink.readings(plan, told=False, room=28.6)[::every]:
        belief = update(belief, row)
    assert belief.tracks[0].place is Place.BATH
    assert belief.story.bath_seen


def test_a_place_that_is_not_said_for_a_while_costs_no_knowledge() -> None:
    """Told, then half a minute of nothing, then told again: the dip stays known."""
    sink = NewtonSink(start=17.0, bath=22.0, rate=1 / 250)
    rows = sink.readings([("developer", 40), ("bath", 160)])
    rows = [replace(r, place=Place.UNKNOWN) if 40 <= r.seconds < 70 else r for r in rows]
    _, views = follow(rows)
    for view in views[75:]:
        assert view.developer is not None
        assert view.developer.celsius == pytest.approx(sink.developer(view.seconds), abs=0.3)


def test_two_accounts_that_differ_are_no_sure_developer() -> None:
    """What may be the dip or the room: the sd covers the other account's developer too."""
    sink = NewtonSink(start=23.1, bath=19.8, rate=1 / 4000, lag=8.5)
    beliefs, views = follow(
        sink.readings([("developer", 38), ("bath", 120)], told=False, room=23.1)
    )
    checked = 0
    for belief, view in zip(beliefs, views, strict=True):
        developers = [
            (chance, banks.moments(story.bank, banks.DEVELOPER)[0])
            for chance, story in zip(belief.probabilities(), belief.stories, strict=True)
            if story.bank is not None and chance > 0.25
        ]
        if view.developer is None or len(developers) < 2:
            continue
        apart = abs(developers[0][1] - developers[1][1])
        checked += apart > 1.0
        assert view.developer.sd > 0.4 * apart
    assert checked > 3


def test_who_leaves_a_liquid_after_seconds_is_rare() -> None:
    """A dip takes half a minute: after 3 s it is left a tenth as often; air is left at once."""
    chance = {
        stay: next_places(Place.DEVELOPER, stay, developer_met=True)[0] for stay in (3.0, 30.0)
    }
    assert (Place.BATH, False) == chance[30.0][:2] == chance[3.0][:2]
    assert chance[30.0][2] - chance[3.0][2] == pytest.approx(math.log(10.0))
    assert next_places(Place.AIR, 1.0, developer_met=True) == next_places(
        Place.AIR, 60.0, developer_met=True
    )
