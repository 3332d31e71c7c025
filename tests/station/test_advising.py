"""What to do about the bath, as the display says it."""

from __future__ import annotations

import pytest

from wetside import settings
from wetside.cues.lettering import width
from wetside.cues.panels import ROOM
from wetside.outlook import Quantiles, Setup, Wall
from wetside.readings import Place, Reading
from wetside.session.events import Kind as Event
from wetside.session.run import State
from wetside.settings import Probe
from wetside.station.advising import Adviser, lines, words
from wetside.station.senses import Senses
from wetside.thermal.advice import Advice, Kind
from wetside.thermal.estimator import begin, update

BARE = settings.Supplies()
SOON = Quantiles(100.0, 130.0, 170.0)
STAYS = Quantiles(None, None, None)


def _way(kind: Kind, amount: float | None) -> Advice:
    return Advice(kind, amount, "", "", 21.0, SOON, STAYS, 0.0)


@pytest.mark.parametrize(
    ("kind", "amount", "text"),
    [
        (Kind.HOT_WATER, 0.62, "add 0.6 L hot water"),
        (Kind.COLD_WATER, 1.25, "add 1.2 L cold water"),
        (Kind.ICE, 118.0, "ice in bath: 118 g"),
        (Kind.SWAP, 24.0, "needs bath of 24 °C"),
        (Kind.LIFT, 100.0, "lift it out in 1:40"),
        (Kind.WAIT, None, ""),
    ],
)
def test_each_way_is_one_line_of_the_display(kind: Kind, amount: float | None, text: str) -> None:
    """An amount, a thing and where it goes, in at most 21 characters."""
    assert text == words(_way(kind, amount))
    assert len(text) <= 21


def test_the_best_way_comes_with_when_it_would_be_ready() -> None:
    """What to do, and what it brings; nothing where waiting is best."""
    ways = (_way(Kind.HOT_WATER, 0.62), _way(Kind.WAIT, None))
    assert ("add 0.6 L hot water", "ready then in 2:10") == lines(ways)
    assert () == lines((_way(Kind.WAIT, None),))
    assert () == lines(())


@pytest.mark.parametrize(("tap", "scalds"), [(45.0, False), (46.0, True), (None, False)])
def test_hot_water_from_a_tap_that_scalds_comes_with_a_caution(
    tap: float | None, scalds: bool
) -> None:
    """Hotter than a hand stands, it is said right behind the amount; of cold water never."""
    caution = "tap scalds: pour slowly"
    adviser = Adviser(settings.Supplies(hot_tap_celsius=tap))
    adviser.ways = (_way(Kind.HOT_WATER, 0.62),)
    assert ("add 0.6 L hot water", *([caution] if scalds else []), "ready then in 2:10") == (
        adviser.lines()
    )
    adviser.ways = (_way(Kind.COLD_WATER, 0.62),)
    assert caution not in adviser.lines()
    assert width(caution) <= ROOM


def test_a_cold_bath_is_told_to_take_hot_water() -> None:
    """Two probes, a bath short of the target and a hot tap: the first advice is hot water."""
    setup = Setup(20.0, 0.3, Wall.PLASTIC, 300.0)
    belief = begin(setup)
    for second in range(180):
        belief = update(
            belief, Reading(float(second), "a", 17.0 + 0.0005 * second, Place.DEVELOPER)
        )
        belief = update(belief, Reading(float(second), "b", 17.5, Place.BATH))
    at_hand = settings.Supplies(bath_litres=4.0, hot_tap_celsius=50.0, cold_tap_celsius=12.0)
    adviser = Adviser(at_hand)
    adviser.look(belief, 180.0)
    assert Kind.HOT_WATER is adviser.ways[0].kind
    assert adviser.lines()[0].endswith("hot water")
    assert adviser.objects()["check_dip"] is None  # it is measured anyway


def test_a_bath_that_never_gets_there_is_told_in_the_unit_of_the_display() -> None:
    """The message and the screen behind it ask for the same bath in degrees Fahrenheit."""
    setup = Setup(20.0, 0.3, Wall.PLASTIC, 300.0, 0.05)
    senses = Senses(0.0, setup, (Probe(rom="0316a2795e4b", name="p", sd_celsius=0.05),), BARE)
    senses.move()
    event = None
    for second in range(900):
        now = float(second)
        placed, _ = senses.take([Reading(now, "p", 26.0 - 1e-4 * now)], now)
        senses.believe(placed, now)
        event = senses.window_event(State.TEMPERING, setup, fahrenheit=True)
        if event is not None and event.kind is Event.NEVER:
            break
    assert event is not None
    assert "°F" in str(event.detail["advice"])
    assert event.detail["advice"] == senses.adviser.lines(fahrenheit=True)[0]


def test_advice_is_not_renewed_at_every_reading() -> None:
    """Between two looks ten seconds apart the advice stands."""
    belief = begin(Setup(20.0))
    belief = update(belief, Reading(0.0, "a", 18.0, Place.DEVELOPER))
    adviser = Adviser(settings.Supplies())
    adviser.look(belief, 1.0)
    first = adviser.ways
    adviser.look(belief, 5.0)
    assert first is adviser.ways
    adviser.look(belief, 11.5)
    assert first is not adviser.ways
