"""Classes to come, against the shelf: what a teacher should know before one begins."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from wetside.development import mixing
from wetside.development.before_class import Lesson
from wetside.development.bottles import Bottle, Holds, ShelfFile, Usage
from wetside.development.mixing import Dilution, Planned, WeekNeed
from wetside.session.sheet import Sheet, StepKind
from wetside_desk.bells.timing import Coming
from wetside_desk.shelf.counting import Passage, needs_of
from wetside_desk.store.class_plan import ClassPlan


def whole(sheet: Sheet) -> Passage:
    """What a run through a whole sheet takes."""
    return needs_of(sheet, sheet.step)


def fix_seconds(sheet: Sheet) -> float:
    """How long a sheet fixes in all, from the full tank to the empty one."""
    fixes = [step for step in sheet.step if step.kind is StepKind.FIX]
    return sum((step.seconds or 0.0) - step.fill_seconds for step in fixes)


def tanks_of(students: int, plan: ClassPlan) -> int:
    """Tanks of a class."""
    return math.ceil(students / plan.students_per_tank)


def lesson(sheet: Sheet, on: date, tanks: int, plan: ClassPlan) -> Lesson:
    """A class on a day: so many tanks through one sheet."""
    took = whole(sheet)
    at_once = plan.stations * plan.tanks_per_station
    return Lesson(on, tanks, took.rolls, max(1, at_once), took.needs, fix_seconds(sheet))


@dataclass(frozen=True, slots=True)
class Stock:
    """What a week takes of one kind of solution.

    ``bottle`` is the one whose strength and capacity were taken. Where the shelf has none of the
    kind, ``need`` is that of a solution used once, and no concentrate is known. ``millilitres``
    are the fillings alone. Each bath of a two-bath fixer is a stock of its own.
    """

    holds: Holds
    bottle: Bottle | None
    need: WeekNeed
    tanks: int
    millilitres: float


def week(
    shelf: ShelfFile, sheet: Sheet, classes: Sequence[Coming], plan: ClassPlan
) -> tuple[Stock, ...]:
    """How much stock the classes of a week take, a tenth added for spills."""
    took = whole(sheet)
    tanks = [tanks_of(coming.period.students, plan) for coming in classes]
    at_once = plan.stations * plan.tanks_per_station
    found = []
    for need in took.needs:
        planned = [Planned(count, took.rolls, need.millilitres) for count in tanks]
        found += [
            Stock(
                need.holds,
                bottle,
                _week(bottle, planned, at_once),
                sum(tanks),
                sum(tanks) * need.millilitres,
            )
            for bottle in _examples(shelf, need.holds)
        ]
    return tuple(found)


def _examples(shelf: ShelfFile, holds: Holds) -> tuple[Bottle | None, ...]:
    """The first bottle of a kind; of a two-bath fixer the first of each bath."""
    there = [one for one in shelf.bottle if one.holds is holds]
    first = there[0] if there else None
    if first is None or first.bath is None:
        return (first,)
    return tuple(next((one for one in there if one.bath == bath), None) for bath in (1, 2))


def _week(bottle: Bottle | None, planned: list[Planned], at_once: int) -> WeekNeed:
    if bottle is None:
        return replace(
            mixing.week_once(planned, Dilution.parse("stock")), concentrate_millilitres=()
        )
    dilution = Dilution.parse(bottle.strength)
    if bottle.use is Usage.ONCE or bottle.rolls_per_litre is None:
        return mixing.week_once(planned, dilution)
    capacity = None if bottle.bath == 2 else bottle.rolls_per_litre
    return mixing.week_reused(planned, dilution, capacity, at_once)
