"""What the shelf says for or against a cause: the bottles of a run as they stood then. Pure."""

from __future__ import annotations

from wetside.development.bottles import Bottle, Holds, Usage
from wetside.development.figures import TABULAR_SHARE
from wetside.development.shelf import Standing, Trouble
from wetside.development.testing import latest_check, verdict
from wetside.units import clock_text
from wetside_desk.evidence import PLAIN, VISIBLE, Evidence, Facts, Weighs, cut_short
from wetside_desk.shelf.through import Through

#: Fixer that film needs longer than it had, to the second.
_ROUNDING_SECONDS = 0.5


def fix_short(seen: Facts) -> Evidence:
    """Whether the film was fixed for too short a time: by the plan, by its fixer, by the sheet."""
    if not seen.known:
        return Evidence(Weighs.UNSEEN, "The steps of this run cannot be read.")
    found = cut_short(seen.fix_planned, seen.fix_actual, "fix")
    if found is not None:
        return found
    fixed = seen.fix_actual or 0.0
    for one in _first_baths(seen):
        clearing = one.clearing
        if clearing is not None and clearing.fix_seconds > fixed + _ROUNDING_SECONDS:
            says = f"{one.label}: {clearing.text}; this run fixed for {clock_text(fixed)}."
            return Evidence(Weighs.FOR, says)
    if seen.fix_doubt:
        return Evidence(Weighs.FOR, f"The sheet {seen.fix_doubt}.")
    says = f"Fixed as long as planned ({clock_text(fixed)})."
    return Evidence(Weighs.AGAINST, f"{says} Whether the fixer was good the time does not tell.")


def tired_fixer(seen: Facts) -> Evidence:
    """Whether the fixer was exhausted, too old or not known to be good."""
    for one in seen.bottles.of(Holds.FIXER):
        if (found := _unusable(one)) is not None:
            return found
    fixers = _first_baths(seen)
    for one in fixers:
        if (found := _tested_later(seen, one)) is not None:
            return found
    for one in fixers:
        stood = one.standing
        if stood is not None and _half_used(stood):
            says = (
                f"{_stood(one, stood)}; tabular films use up to twice as much of it "
                f"({TABULAR_SHARE.publication}, {TABULAR_SHARE.basis})."
            )
            return Evidence(Weighs.HINT, says)
    return _not_told(seen, Holds.FIXER, "time a film leader in it")


def _first_baths(seen: Facts) -> list[Through]:
    """The fixers that do the work: of two baths the first."""
    return [
        one
        for one in seen.bottles.of(Holds.FIXER)
        if one.standing is not None and one.standing.bottle.bath != 2
    ]


def _tested_later(seen: Facts, one: Through) -> Evidence | None:
    """The first test after the run: what cleared film then was no worse before."""
    if one.standing is None or not one.later:
        return None
    check = one.later[0]
    said = verdict(one.standing.bottle, check)
    if said.discard:
        return Evidence(Weighs.HINT, f"{one.label}, tested on {check.on}: {said.text}.")
    needed = 0.0 if said.clearing is None else said.clearing.fix_seconds
    if (seen.fix_actual or 0.0) + _ROUNDING_SECONDS < needed:
        return None
    return Evidence(Weighs.AGAINST, f"{one.label} still cleared film on {check.on}: {said.text}.")


def _half_used(stood: Standing) -> bool:
    capacity = stood.bottle.capacity_rolls
    if capacity is None or stood.left_rolls is None:
        return False
    return stood.left_rolls <= (1.0 - TABULAR_SHARE.value) * capacity


def tired_developer(seen: Facts) -> Evidence:
    """Whether the developer was exhausted or too old, or asked for a longer time than it had."""
    for one in seen.bottles.of(Holds.DEVELOPER):
        if (found := _unusable(one)) is not None:
            return found
        if (found := _not_lengthened(seen, one)) is not None:
            return found
    return _not_told(seen, Holds.DEVELOPER, "how strong it was is not logged")


def _not_lengthened(seen: Facts, one: Through) -> Evidence | None:
    """A reused developer that asked for more time, where the run had too little of it."""
    if one.standing is None or seen.longer_counted:
        return None
    times, had = one.standing.times_longer, 1.0 + (seen.middle or 0.0)
    lacks = 1.0 - had / times
    if times <= 1.0 + VISIBLE or lacks <= VISIBLE:
        return None
    says = (
        f"{one.label} asked for {times:.2f} times the time of the sheet "
        f"({one.standing.bottle.source}); this run had {had:.2f} times its development."
    )
    return Evidence(Weighs.FOR if lacks >= PLAIN else Weighs.HINT, says)


def dead_developer(seen: Facts) -> Evidence:
    """Whether the developer may have been dead: what is only tired still leaves an image."""
    for one in seen.bottles.of(Holds.DEVELOPER):
        if (found := _unusable(one)) is not None:
            return Evidence(Weighs.HINT, found.says)
    return _not_told(seen, Holds.DEVELOPER, "put a snippet of exposed film into it in room light")


def strong_developer(seen: Facts) -> Evidence:
    """How strong the developer was to be; how it was measured out nobody logs."""
    for one in seen.bottles.of(Holds.DEVELOPER):
        if one.standing is not None:
            strength = one.standing.bottle.strength
            says = f"{one.label} is {strength} by the shelf; what was measured out is not logged."
            return Evidence(Weighs.UNSEEN, says)
    return Evidence(Weighs.UNSEEN, "How the developer was mixed is not logged.")


def weak_stop(seen: Facts) -> Evidence:
    """Whether developer was carried into the fixer."""
    if seen.stopped is False:
        return Evidence(Weighs.FOR, "The sheet has no stop bath or rinse before the fixer.")
    for one in seen.bottles.of(Holds.STOP):
        if (found := _unusable(one)) is not None:
            return found
        if one.standing is not None:
            for notice in one.standing.notices:
                if notice.trouble is Trouble.SPENT_SOON:
                    return Evidence(Weighs.HINT, f"{notice.text}, by then.")
    return _not_told(seen, Holds.STOP, "look at the colour in its bottle")


def _unusable(one: Through) -> Evidence | None:
    """What stopped the use of a bottle when the run went through it."""
    stood = one.standing
    notices = () if stood is None else [notice for notice in stood.notices if notice.stops]
    if stood is None or not notices:
        return None
    trouble = notices[0].trouble
    bottle = stood.bottle
    if trouble is Trouble.TOO_OLD:
        return Evidence(Weighs.FOR, f"{one.label} was too old since {stood.last_good_day}.")
    check = latest_check(bottle)
    if trouble is Trouble.TEST_FAILED and check is not None:
        says = f"{one.label}, tested on {check.on}: {verdict(bottle, check).text}."
        return Evidence(Weighs.FOR, says)
    return Evidence(Weighs.FOR, f"{one.label} was used up before this run: {_rolls(stood)}.")


def _not_told(seen: Facts, holds: Holds, instead: str) -> Evidence:
    """What is known of the bottle of a kind where nothing speaks for or against it."""
    if holds in seen.bottles.unserved:
        says = f"The shelf had no {holds} that could take this run, so it went through another one."
        return Evidence(Weighs.HINT, says)
    there = seen.bottles.of(holds)
    if not there:
        return Evidence(Weighs.UNSEEN, f"No {holds} is on record for this run; {instead}.")
    one = there[0]
    if one.standing is None:
        says = f"{one.label} was mixed anew since; how it was then is not known."
        return Evidence(Weighs.UNSEEN, says)
    return Evidence(Weighs.UNSEEN, f"{_stood(one, one.standing)}; {instead}.")


def _stood(one: Through, stood: Standing) -> str:
    days = (one.on - stood.bottle.mixed_on).days
    age = f"{days} day{'' if days == 1 else 's'} old"
    if stood.bottle.use is Usage.ONCE:
        return f"{one.label} was {age}"
    return f"{one.label} was {age} and had taken {_rolls(stood)}"


def _rolls(stood: Standing) -> str:
    bottle: Bottle = stood.bottle
    if bottle.capacity_rolls is None or stood.left_rolls is None:
        return f"{stood.rolls:.3g} rolls"
    taken = bottle.capacity_rolls - stood.left_rolls
    return f"{taken:.3g} of its {bottle.capacity_rolls:.3g} rolls"
