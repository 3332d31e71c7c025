"""The bottles that a run went through, as they stood when it did. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from wetside.development.bottles import Bottle, Check, Holds, ShelfFile
from wetside.development.clearing import Clearing
from wetside.development.shelf import Standing, Use, none_serves, standing
from wetside.development.testing import clearing_now


@dataclass(frozen=True, slots=True)
class Through:
    """One bottle, by its label, on the day of the run.

    ``holds`` is None where the bottle is off the shelf, ``standing`` where that filling is no
    more. ``standing`` knows the rolls before this run and the tests until its day; ``later`` are
    the tests that certainly came after it, the first of them first.
    """

    label: str
    on: date
    holds: Holds | None = None
    standing: Standing | None = None
    later: tuple[Check, ...] = ()

    @property
    def clearing(self) -> Clearing | None:
        """What the clearing time of a fixer said by then; None where it was never timed."""
        return None if self.standing is None else clearing_now(self.standing.bottle)


@dataclass(frozen=True, slots=True)
class Bottles:
    """What the shelf knows of a run; ``unserved`` are kinds of which no bottle could take it."""

    through: tuple[Through, ...] = ()
    unserved: frozenset[Holds] = frozenset()

    def of(self, holds: Holds) -> tuple[Through, ...]:
        """The bottles of a kind."""
        return tuple(one for one in self.through if one.holds is holds)


def bottles(
    there: ShelfFile, current: Sequence[Use], mine: Iterable[Use], missing: Iterable[str]
) -> Bottles:
    """The bottles of one run.

    Parameters
    ----------
    there
        The shelf as it is now.
    current
        Uses of the fillings that stand there.
    mine, missing
        The uses of the run, of earlier fillings too, and what was noted as not counted.
    """
    lines = tuple(missing)
    return Bottles(
        tuple(_through(there, current, use) for use in mine),
        frozenset(
            holds for holds in Holds if any(line.startswith(none_serves(holds)) for line in lines)
        ),
    )


def _through(there: ShelfFile, current: Sequence[Use], mine: Use) -> Through:
    bottle = next((one for one in there.bottle if one.label == mine.bottle), None)
    if bottle is None:
        return Through(mine.bottle, mine.on)
    filling = [use for use in current if use.bottle == mine.bottle]
    if all(use.run != mine.run for use in filling):
        return Through(mine.bottle, mine.on, bottle.holds)
    # a run's id begins with its time
    before = [use for use in filling if (use.on, use.run) < (mine.on, mine.run)]
    tests = tuple(check for check in bottle.check if check.on <= mine.on)
    stood = standing(bottle.model_copy(update={"check": tests}), before, mine.on)
    return Through(mine.bottle, mine.on, bottle.holds, stood, _later(bottle, mine.on, stood.rolls))


def _later(bottle: Bottle, on: date, rolls: float) -> tuple[Check, ...]:
    """Tests after a run: of its own day those that more rolls than went before it came before."""
    found = [
        check
        for check in bottle.check
        if check.on > on or (check.on == on and check.rolls is not None and check.rolls > rolls)
    ]
    return tuple(sorted(found, key=lambda check: check.on))
