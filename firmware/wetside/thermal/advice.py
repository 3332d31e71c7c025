"""What to do about it: ways to the window, found by playing the alternatives through.

Every alternative is the present belief with another bath; the forecast says when the developer
would be ready and whether it would stay. Amounts come from the heat balance of the bath. Ice and
water go into the bath, never into the developer (US Army SS0509-8, p. 14).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from wetside.outlook import Outlook, Quantiles
from wetside.settings import Supplies
from wetside.thermal import bank as banks
from wetside.thermal.bank import BATH, DEVELOPER, POURED, SHARE, SOURCE
from wetside.thermal.belief import Belief
from wetside.thermal.calorimetry import FREEZER_CELSIUS, ice_to_add_grams, water_to_add_litres
from wetside.thermal.forecast import view
from wetside.thermal.room import put_in_bath
from wetside.thermal.story import Story

#: Bath this far beyond the target, in kelvin, as alternatives to a bath right at it.
_BEYOND_KELVIN = (1.0, 2.0, 4.0)
#: A bath beyond the target is only advised where the developer stays this long in the window.
_LEAST_WINDOW_SECONDS = 60.0
_FINE_NEVER = 0.2
#: A change must bring the developer there in less than this part of the time of waiting.
_WORTH = 0.8
_LEAST_CHANGE_KELVIN = 0.15
_WARMEST_BATH_CELSIUS, _COLDEST_BATH_CELSIUS = 45.0, 4.0


class Kind(StrEnum):
    """What is advised."""

    WAIT = "wait"
    HOT_WATER = "add hot water to the bath"
    COLD_WATER = "add cold water to the bath"
    ICE = "add ice to the bath"
    SWAP = "swap to another bath"
    LIFT = "lift it out"


@dataclass(frozen=True, slots=True)
class Advice:
    """One way to the window.

    ``amount`` is in ``unit`` (``L``, ``g``, ``C`` of the bath to swap to, ``s`` until lifting
    out; empty for waiting); ``bath_celsius`` the bath that results; ``ready_in`` and
    ``leaves_in`` as in an outlook, if it is followed now.
    """

    kind: Kind
    amount: float | None
    unit: str
    reason: str
    bath_celsius: float
    ready_in: Quantiles
    leaves_in: Quantiles
    never: float


def with_bath(story: Story, celsius: float) -> Story:
    """Story in which the bath is brought to ``celsius`` now and, if it runs, kept there."""
    if story.bank is None:
        return story
    bank = put_in_bath(story.bank, story.prior)
    mean, covariance = bank.mean.copy(), bank.covariance.copy()
    runs = bank.running
    mean[:, BATH] = celsius
    mean[runs, SOURCE] = celsius
    mean[:, POURED] = 0.0
    covariance[:, POURED, :] = covariance[:, :, POURED] = 0.0
    for index in (BATH, SOURCE):
        rows = slice(None) if index == BATH else runs
        covariance[rows, index, :] = 0.0
        covariance[rows, :, index] = 0.0
        covariance[rows, index, index] = 0.1**2
    return replace(story, bank=replace(bank, mean=mean, covariance=covariance))


def resting_bath_celsius(story: Story) -> float:
    """Bath in which this developer comes to rest at the target: its own heat counted in."""
    target = story.setup.target_celsius
    if story.bank is None:
        return target
    developer, _ = banks.moments(story.bank, DEVELOPER)
    bank = put_in_bath(story.bank, story.prior)
    share = math.exp(banks.moments(bank, SHARE)[0])
    running = float(bank.weights() @ bank.running)
    return target + (1.0 - running) * share * (target - developer)


def advise(belief: Belief, seconds: float, supplies: Supplies) -> tuple[Advice, ...]:
    """Ways to the window, the best first; empty while nothing is known.

    Waiting comes first where the developer gets there and nothing is clearly quicker.
    """
    story = belief.story
    if story.bank is None:
        return ()
    now = view(story, seconds)
    bath, _ = banks.moments(story.bank, BATH)
    ways = [_waiting(now, bath)]
    if now.ready_in.p50 == 0.0 and now.leaves_in.p50 is None:
        return tuple(ways)
    for wanted in _wanted_baths(story):
        ahead = view(with_bath(story, wanted), seconds)
        if abs(wanted - bath) >= _LEAST_CHANGE_KELVIN and _is_safe(ahead):
            ways.append(_change(ahead, bath, wanted, supplies))
    return tuple(sorted(ways, key=lambda way: _cost(way, ways[0])))


def _wanted_baths(story: Story) -> tuple[float, ...]:
    rest = resting_bath_celsius(story)
    developer = banks.moments(story.bank, DEVELOPER)[0] if story.bank else rest
    side = math.copysign(1.0, story.setup.target_celsius - developer)
    baths = (rest, *(rest + side * beyond for beyond in _BEYOND_KELVIN))
    return tuple(b for b in baths if _COLDEST_BATH_CELSIUS < b < _WARMEST_BATH_CELSIUS)


def _is_safe(ahead: Outlook) -> bool:
    ready, leaves = ahead.ready_in.p50, ahead.leaves_in.p50
    if ready is None or ahead.never > _FINE_NEVER:
        return False
    return leaves is None or leaves - ready >= _LEAST_WINDOW_SECONDS


def _waiting(now: Outlook, bath: float) -> Advice:
    ready, leaves = now.ready_in.p50, now.leaves_in.p50
    if ready is not None and leaves is not None:
        lift = 0.5 * (ready + leaves)
        reason = "the bath lies beyond the target; lifted out at that moment, it stays right"
        return Advice(Kind.LIFT, lift, "s", reason, bath, now.ready_in, now.leaves_in, now.never)
    reason = "it gets there by itself" if ready is not None else "the bath stops short of it"
    return Advice(Kind.WAIT, None, "", reason, bath, now.ready_in, now.leaves_in, now.never)


def _change(ahead: Outlook, bath: float, wanted: float, supplies: Supplies) -> Advice:
    """How to make the wanted bath from this one."""
    kind, amount, unit = Kind.SWAP, wanted, "C"
    reason = "a bath of that temperature brings it there"
    tap = supplies.hot_tap_celsius if wanted > bath else supplies.cold_tap_celsius
    litres = None
    if supplies.bath_litres is not None and tap is not None:
        litres = water_to_add_litres(supplies.bath_litres, bath, wanted, tap)
    if litres is not None and litres <= supplies.more_litres:
        kind = Kind.HOT_WATER if wanted > bath else Kind.COLD_WATER
        amount, unit = litres, "L"
        reason = f"with water of {tap:.0f} C the bath becomes {wanted:.1f} C"
    elif supplies.bath_litres is not None and supplies.ice and wanted < bath:
        kind, unit = Kind.ICE, "g"
        amount = ice_to_add_grams(supplies.bath_litres, bath, wanted)
        reason = f"the bath becomes {wanted:.1f} C, with ice of {FREEZER_CELSIUS:.0f} C from a "
        reason += "freezer; never put ice into the developer"
    return Advice(kind, amount, unit, reason, wanted, ahead.ready_in, ahead.leaves_in, ahead.never)


def _cost(way: Advice, waiting: Advice) -> float:
    """Expected seconds; a change counts a quarter longer for the trouble and what may go wrong."""
    ready = way.ready_in.p50
    if ready is None or way.never > 0.5:
        return math.inf
    return ready if way is waiting else ready / _WORTH
