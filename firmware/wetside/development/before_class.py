"""What a teacher should know before a class begins, not in the middle of it.

The class is played through with the very rules that count its runs, tank by tank.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from wetside.development.bottles import Bottle, ShelfFile
from wetside.development.figures import FIX_RATIO
from wetside.development.shelf import (
    Need,
    Notice,
    Standing,
    Trouble,
    Use,
    count_run,
    shows_longer,
    standings,
    working_millilitres,
)
from wetside.development.testing import clearing_now
from wetside.units import clock_text, volume_text

#: Most serious first.
_GRAVITY = (
    Trouble.MISSING,
    Trouble.NOT_ENOUGH,
    Trouble.TEST_FAILED,
    Trouble.EXHAUSTED,
    Trouble.TOO_OLD,
    Trouble.SPENT_SOON,
    Trouble.FIX_SHORT,
    Trouble.LONGER,
    Trouble.TEST_DUE,
    Trouble.AGES_SOON,
    Trouble.DOUBT,
    Trouble.DATE,
)


@dataclass(frozen=True, slots=True)
class Lesson:
    """A class to come.

    ``at_once`` tanks are filled at the same time, at most as many as there are stations.
    ``fix_seconds`` is how long the sheet fixes from the full tank; None asks nothing of it.
    """

    on: date
    tanks: int
    rolls_per_tank: float
    at_once: int
    needs: tuple[Need, ...]
    fix_seconds: float | None = None

    def __post_init__(self) -> None:
        if self.tanks < 0 or self.at_once < 1 or self.rolls_per_tank <= 0:
            raise ValueError("a lesson has no fewer than 0 tanks, 1 at once, and some film in each")


def _played(
    shelf: ShelfFile, uses: Sequence[Use], lesson: Lesson
) -> tuple[list[Use], dict[str, int]]:
    """Uses after the lesson, and how many tanks each kind serves."""
    after = list(uses)
    served = {str(need.holds): 0 for need in lesson.needs}
    for tank in range(lesson.tanks):
        counted, missing = count_run(
            shelf,
            after,
            run=f"lesson {lesson.on} tank {tank + 1}",
            on=lesson.on,
            rolls=lesson.rolls_per_tank,
            needs=lesson.needs,
        )
        after.extend(counted)
        lacking = {notice.bottle for notice in missing}
        for kind in served:
            served[kind] += kind not in lacking
    return after, served


def _volume_at_once(now: Iterable[Standing], need: Need, at_once: int, unit: str) -> list[Notice]:
    usable = [one for one in now if one.bottle.holds is need.holds and one.usable]
    wanted = need.millilitres * at_once
    notices = []
    for what, second in ((str(need.holds), False), (f"{need.holds}, bath 2", True)):
        bottles = [one for one in usable if (one.bottle.bath == 2) is second]
        held = sum(working_millilitres(one.bottle, one.left_millilitres) for one in bottles)
        if not bottles or held >= wanted - 0.5:
            continue
        text = (
            f"{what}: {volume_text(held, unit)} at hand, "
            f"{at_once} tanks at once take {volume_text(wanted, unit)}"
        )
        notices.append(Notice(str(need.holds), Trouble.NOT_ENOUGH, text))
    return notices


def _fix_short(bottle: Bottle, lesson: Lesson) -> list[Notice]:
    """Whether film needs this fixer for longer than the sheet has it: twice the clearing time."""
    clearing = clearing_now(bottle)
    # of two baths the first does nearly all of the work, and it is the one that is tested
    if clearing is None or lesson.fix_seconds is None or bottle.bath == 2:
        return []
    if clearing.fix_seconds <= lesson.fix_seconds + 0.5:
        return []
    text = (
        f"{bottle.label}: {clearing.text}, the sheet fixes for {clock_text(lesson.fix_seconds)} "
        f"({FIX_RATIO.publication}); lengthen its fix step"
    )
    return [Notice(bottle.label, Trouble.FIX_SHORT, text)]


def _longer(now: Standing, later: Standing) -> list[Notice]:
    """How much longer a reused developer takes, and how that grows while the class uses it."""
    if not shows_longer(later.times_longer / now.times_longer):
        return [notice for notice in now.notices if notice.trouble is Trouble.LONGER]
    text = (
        f"{now.bottle.label}: develop {now.times_longer:.2f} times as long as the sheet says, "
        f"after this class {later.times_longer:.2f} times ({now.bottle.source})"
    )
    return [Notice(now.bottle.label, Trouble.LONGER, text)]


def before_class(
    shelf: ShelfFile, uses: Sequence[Use], lesson: Lesson, unit: str = "mL"
) -> tuple[Notice, ...]:
    """Everything wrong with the shelf for a lesson, the most serious first.

    Parameters
    ----------
    shelf
        The bottles.
    uses
        All uses on record.
    lesson
        What is planned. Tests that would fall due during it are told as due now.
    unit
        Of the volumes in the notices, mL or fl oz.
    """
    kinds = {need.holds for need in lesson.needs}
    now = standings(shelf, uses, lesson.on)
    after_uses, served = _played(shelf, uses, lesson)
    after = standings(shelf, after_uses, lesson.on)
    notices: list[Notice] = []
    for need in lesson.needs:
        kind = str(need.holds)
        if not any(one.bottle.holds is need.holds and one.usable for one in now):
            text = f"{need.holds}: no bottle that may be used"
            notices.append(Notice(kind, Trouble.MISSING, text))
        elif served[kind] < lesson.tanks:
            text = f"{need.holds}: serves {served[kind]} of {lesson.tanks} tanks; mix before class"
            notices.append(Notice(kind, Trouble.NOT_ENOUGH, text))
        at_once = max(1, min(lesson.at_once, lesson.tanks))
        notices.extend(_volume_at_once(now, need, at_once, unit))
    for one, later in zip(now, after, strict=True):
        if one.bottle.holds not in kinds:
            continue
        notices.extend(notice for notice in one.notices if notice.trouble is not Trouble.LONGER)
        if one.usable:
            notices.extend((*_fix_short(one.bottle, lesson), *_longer(one, later)))
        due_now = any(notice.trouble is Trouble.TEST_DUE for notice in one.notices)
        notices.extend(
            notice
            for notice in later.notices
            if notice.trouble is Trouble.TEST_DUE and not due_now and one.usable
        )
    return tuple(sorted(notices, key=lambda notice: _GRAVITY.index(notice.trouble)))
