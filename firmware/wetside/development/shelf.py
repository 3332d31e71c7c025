"""What each bottle has done and can still do, and what a class should know before it begins."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from wetside.development.bottles import Bottle, Holds, ShelfFile, Usage
from wetside.development.doubts import doubts
from wetside.development.figures import CARRY_OVER
from wetside.development.mixing import Dilution
from wetside.development.testing import MOVE_UP, latest_check, verdict
from wetside.units import day_text, volume_text

#: A smaller factor on the developing time is not worth telling.
_LEAST_LONGER = 1.005

#: Rolls that rounding took must neither refuse nor spare a bottle: two thirds of a roll for each
#: film of 24 exposures never add up exactly.
_ROUNDING_ROLLS = 1e-6


class Trouble(StrEnum):
    """What can be wrong with a bottle or a shelf."""

    EXHAUSTED = "exhausted"
    FIX_SHORT = "fix too short"
    LONGER = "develop longer"
    NOT_ENOUGH = "not enough"
    TOO_OLD = "too old"
    AGES_SOON = "ages soon"
    DOUBT = "doubt"
    TEST_DUE = "test due"
    TEST_FAILED = "test failed"
    SPENT_SOON = "spent soon"
    MISSING = "missing"
    DATE = "date"


@dataclass(frozen=True, slots=True)
class Notice:
    """One warning; ``bottle`` is its label, or what is missing."""

    bottle: str
    trouble: Trouble
    text: str

    @property
    def stops(self) -> bool:
        """Whether the bottle is not to be used."""
        return self.trouble in {Trouble.EXHAUSTED, Trouble.TOO_OLD, Trouble.TEST_FAILED}


@dataclass(frozen=True, slots=True)
class Use:
    """One run that went through one bottle.

    ``run`` and ``bottle`` together count once, however often they are reported.
    ``drawn_millilitres`` was taken and not returned (a solution used once).
    """

    run: str
    bottle: str
    on: date
    rolls: float
    drawn_millilitres: float = 0.0


@dataclass(frozen=True, slots=True)
class Standing:
    """A bottle on one day.

    Parameters
    ----------
    bottle
        The bottle.
    rolls
        Rolls of 80 square inches through it, those from before included.
    left_rolls
        Rolls it still takes by capacity; None for a solution used once and for a bath 2.
    left_millilitres
        Volume left: less what was drawn, or what rolls carried out of a first bath.
    dilution_left
        Part of the original strength left after carry-over from the bath before.
    last_good_day
        Last day by its age limits; None if it has none.
    times_longer
        Factor on the developing time for a reused developer.
    notices
        What is wrong with it.
    """

    bottle: Bottle
    rolls: float
    left_rolls: float | None
    left_millilitres: float
    dilution_left: float
    last_good_day: date | None
    times_longer: float
    notices: tuple[Notice, ...]

    @property
    def usable(self) -> bool:
        """Whether nothing stops its use."""
        return not any(notice.stops for notice in self.notices)


@dataclass(frozen=True, slots=True)
class Need:
    """What one run takes from one kind of bottle: the filling of the tank."""

    holds: Holds
    millilitres: float


def _counted(uses: Iterable[Use], label: str) -> list[Use]:
    found: dict[str, Use] = {}
    for use in uses:
        if use.bottle == label:
            found.setdefault(use.run, use)
    return sorted(found.values(), key=lambda use: use.on)


def _last_good_day(bottle: Bottle, uses: Sequence[Use]) -> date | None:
    days: list[date] = []
    if bottle.keeps_full_days is not None:
        days.append(bottle.mixed_on + timedelta(days=bottle.keeps_full_days))
    opened = bottle.opened_on
    if opened is None and uses:
        opened = uses[0].on
    if opened is None and bottle.rolls_before > 0:
        opened = bottle.mixed_on
    if opened is not None and bottle.keeps_opened_days is not None:
        days.append(opened + timedelta(days=bottle.keeps_opened_days))
    return min(days, default=None)


def carried(bottle: Bottle, rolls: float) -> tuple[float, float]:
    """Volume left and part of the strength left after ``rolls`` wet passages.

    Each roll brings the last bath's liquid in and takes as much of this one out
    (Torzynski 2004: 10 mL). Into a developer it comes dry and only takes.
    """
    each = CARRY_OVER.value
    if bottle.use is Usage.ONCE:
        return bottle.millilitres, 1.0
    if bottle.holds is Holds.DEVELOPER:
        return max(0.0, bottle.millilitres - each * rolls), 1.0
    if bottle.bath == 2:  # what comes in is fixer as well
        return bottle.millilitres, 1.0
    share = min(each / bottle.millilitres, 0.99)
    return bottle.millilitres, math.exp(_taken(bottle, rolls) * math.log1p(-share))


def _taken(bottle: Bottle, rolls: float) -> float:
    """Of the rolls through a bottle those that it took as what it is now, bath 1 or a lone bath."""
    return max(0.0, rolls - bottle.rolls_as_second_bath)


def _above_rounding(rolls: float) -> float:
    return rolls if rolls > _ROUNDING_ROLLS else 0.0


def _age(bottle: Bottle, last: date | None, on: date) -> list[Notice]:
    if on < bottle.mixed_on:
        mixed, today = day_text(bottle.mixed_on), day_text(on)
        text = f"{bottle.label}: mixed on {mixed}, today is {today}; is the clock right?"
        return [Notice(bottle.label, Trouble.DATE, text)]
    if last is None:
        return []
    if on > last:
        text = f"{bottle.label}: too old since {day_text(last)} ({bottle.source}); mix new"
        return [Notice(bottle.label, Trouble.TOO_OLD, text)]
    if (last - on).days <= 3:
        text = f"{bottle.label}: good until {day_text(last)} ({bottle.source})"
        return [Notice(bottle.label, Trouble.AGES_SOON, text)]
    return []


def _tests(bottle: Bottle, mine: Sequence[Use], rolls: float) -> list[Notice]:
    label, tested_at = bottle.label, bottle.rolls_before
    latest = latest_check(bottle)
    if latest is not None:
        said = verdict(bottle, latest)
        if said.discard:
            return [Notice(label, Trouble.TEST_FAILED, f"{label}: {said.text}")]
        if said.soon:
            return [Notice(label, Trouble.SPENT_SOON, f"{label}: {said.text}")]
        tested_at += sum(use.rolls for use in mine if use.on <= latest.on)
        tested_at = tested_at if latest.rolls is None else latest.rolls
    if bottle.fresh_clearing_seconds is None or rolls - tested_at < bottle.check_every_rolls:
        return []
    text = f"{label}: {rolls - tested_at:g} rolls since its last clearing-time test"
    return [Notice(label, Trouble.TEST_DUE, text)]


def _first_test(bottle: Bottle, rolls: float) -> list[Notice]:
    if bottle.holds is not Holds.FIXER or bottle.use is Usage.ONCE:
        return []
    if bottle.fresh_clearing_seconds is not None:
        return []
    how = "time a little fresh fixer of that strength" if rolls else "time it before any film"
    text = f"{bottle.label}: no clearing time of the fresh bath to compare with; {how}"
    return [Notice(bottle.label, Trouble.TEST_DUE, text)]


def _longer(bottle: Bottle, times: float) -> list[Notice]:
    if not shows_longer(times):
        return []
    text = f"{bottle.label}: develop {times:.2f} times as long as the sheet says ({bottle.source})"
    return [Notice(bottle.label, Trouble.LONGER, text)]


def shows_longer(times: float) -> bool:
    """Whether a factor on the developing time is worth telling."""
    return times > _LEAST_LONGER


def standing(bottle: Bottle, uses: Iterable[Use], on: date) -> Standing:
    """What a bottle has done until now and is good for on a day.

    Parameters
    ----------
    bottle
        The bottle as the shelf file has it.
    uses
        All uses on record; those of other bottles and repeated ones are ignored.
    on
        The day.
    """
    mine = _counted(uses, bottle.label)
    rolls = bottle.rolls_before + sum(use.rolls for use in mine)
    drawn = sum(use.drawn_millilitres for use in mine)
    volume, strength = carried(bottle, rolls)
    left_millilitres = max(0.0, volume - drawn)
    capacity = bottle.capacity_rolls
    left = None if capacity is None else _above_rounding(capacity - _taken(bottle, rolls))
    last = _last_good_day(bottle, mine)
    longer = 1.0 + bottle.longer_per_roll * rolls / bottle.litres
    notices = [
        *_age(bottle, last, on),
        *_longer(bottle, longer),
        *_tests(bottle, mine, rolls),
    ]
    if left == 0.0 or left_millilitres <= 0.0:
        limit = "is empty" if left != 0.0 else f"has taken its {capacity:g} rolls"
        then = MOVE_UP if bottle.bath == 1 else "mix new"
        text = f"{bottle.label}: {limit} ({bottle.source}); {then}"
        notices.insert(0, Notice(bottle.label, Trouble.EXHAUSTED, text))
    if not any(notice.stops for notice in notices):
        notices.extend(_first_test(bottle, rolls))
        notices.extend(
            Notice(bottle.label, Trouble.DOUBT, f"{bottle.label}: {said}")
            for said in doubts(bottle)
        )
    return Standing(bottle, rolls, left, left_millilitres, strength, last, longer, tuple(notices))


def standings(shelf: ShelfFile, uses: Iterable[Use], on: date) -> tuple[Standing, ...]:
    """Every bottle of the shelf on a day, in the order of the file."""
    all_uses = list(uses)
    return tuple(standing(bottle, all_uses, on) for bottle in shelf.bottle)


def working_millilitres(bottle: Bottle, left_millilitres: float) -> float:
    """Working solution that what is left in a bottle makes."""
    dilution = Dilution.parse(bottle.strength)
    # Reused bottles hold the working solution itself; a bottle used once holds its stock.
    if bottle.use is not Usage.ONCE:
        return left_millilitres
    return left_millilitres * dilution.parts / sum(dilution.concentrates)


def drawn_for(bottle: Bottle, filling_millilitres: float) -> float:
    """Stock that a filling takes from a bottle; 0 where the solution comes back."""
    if bottle.use is not Usage.ONCE:
        return 0.0
    dilution = Dilution.parse(bottle.strength)
    return filling_millilitres * sum(dilution.concentrates) / dilution.parts


def _serves(one: Standing, need: Need, rolls: float) -> bool:
    volume = working_millilitres(one.bottle, one.left_millilitres)
    # Millilitres that rounding took must not refuse a bottle.
    enough = volume >= need.millilitres - 0.5
    room = one.left_rolls is None or one.left_rolls >= rolls - _ROUNDING_ROLLS
    return one.usable and enough and room


def count_run(
    shelf: ShelfFile,
    uses: Sequence[Use],
    *,
    run: str,
    on: date,
    rolls: float,
    needs: Iterable[Need],
    unit: str = "mL",
) -> tuple[tuple[Use, ...], tuple[Notice, ...]]:
    """Count a run onto the right bottles.

    The oldest usable bottle of a kind is taken first; both baths of a two-bath fixer are used.
    ``unit`` is that of the volumes in the notices, mL or fl oz.

    Returns
    -------
    uses, notices
        What to record, and what could not be counted because no bottle serves.
    """
    now = standings(shelf, uses, on)
    counted: list[Use] = []
    missing: list[Notice] = []
    for need in needs:
        chosen = _chosen(now, need, rolls)
        if not chosen:
            volume = volume_text(need.millilitres, unit)
            film = f"{rolls:.3g} roll{'s' if rolls != 1 else ''}"
            text = f"{none_serves(need.holds)} {film} and {volume}"
            missing.append(Notice(str(need.holds), Trouble.MISSING, text))
        counted.extend(
            Use(run, one.bottle.label, on, rolls, drawn_for(one.bottle, need.millilitres))
            for one in chosen
        )
    return tuple(counted), tuple(missing)


def none_serves(holds: Holds) -> str:
    """How a notice begins that says that a run found no bottle of that kind."""
    return f"no bottle of {holds} serves"


def _chosen(now: Sequence[Standing], need: Need, rolls: float) -> list[Standing]:
    serving = [one for one in now if one.bottle.holds is need.holds and _serves(one, need, rolls)]
    serving.sort(key=lambda one: one.bottle.mixed_on)
    first = [one for one in serving if one.bottle.bath in {None, 1}][:1]
    if first and first[0].bottle.bath == 1:
        second = [one for one in serving if one.bottle.bath == 2][:1]
        return [*first, *second] if second else []
    return first
