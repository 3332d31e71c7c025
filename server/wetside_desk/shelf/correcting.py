"""Which bottle a run went through, put right by the teacher."""

from collections.abc import Sequence
from dataclasses import dataclass

from wetside.development.bottles import Bottle, Holds, ShelfFile, Usage
from wetside.development.shelf import Use, drawn_for, none_serves
from wetside.journal.schema import RunRow
from wetside_desk.context import Desk
from wetside_desk.problems import ProblemError
from wetside_desk.review import review
from wetside_desk.shelf import acts, counting
from wetside_desk.shelf.counting import Passage
from wetside_desk.store import uses


@dataclass(frozen=True, slots=True)
class Lack:
    """A kind of solution that a run took and that is on record with no bottle, or with one bath.

    ``bottles`` are the labels that it may be put right onto.
    """

    holds: Holds
    rolls: float
    bottles: tuple[str, ...]


def choices(there: ShelfFile, went: Sequence[Use], holds: Holds) -> tuple[Bottle, ...]:
    """Bottles of a kind that a run may have gone through besides those on record.

    Every one where none of the kind is on record; of a two-bath fixer the other bath. None for a
    run through a bottle that is not there any more, as that may have been of any kind.
    """
    by_label = {bottle.label: bottle for bottle in there.bottle}
    if any(use.bottle not in by_label for use in went):
        return ()
    of_kind = tuple(bottle for bottle in there.bottle if bottle.holds is holds)
    on_record = [by_label[use.bottle] for use in went]
    baths = {bottle.bath for bottle in on_record if bottle.holds is holds}
    if not baths:
        return of_kind
    if None in baths or len(baths) > 1:
        return ()
    return tuple(one for one in of_kind if one.bath is not None and one.bath not in baths)


def lacking(desk: Desk, there: ShelfFile, run: str, went: Sequence[Use]) -> tuple[Lack, ...]:
    """What a run took and no bottle on record gave, as far as the shelf keeps it.

    A bottle mixed on a later day is no choice, unless the run's clock was not set.

    Raises
    ------
    JournalError
        The journal cannot be read now.
    """
    if not any(choices(there, went, holds) for holds in Holds):
        return ()  # nothing to ask the journal for
    told = _told(desk, run)
    if told is None:
        return ()
    row, took = told
    found = [
        Lack(
            need.holds,
            took.rolls,
            tuple(
                bottle.label
                for bottle in choices(there, went, need.holds)
                if counting.day_at(row, bottle) >= bottle.mixed_on
            ),
        )
        for need in took.needs
    ]
    return tuple(lack for lack in found if lack.bottles)


def add(desk: Desk, run: str, new: str) -> None:
    """Say through which bottle a run went where none was counted for its kind.

    Raises
    ------
    ProblemError
        The run was not counted yet, took nothing of that kind, or it is on record already.
    """
    if not uses.counted(desk.database, [run]):
        raise ProblemError("invalid-request", "There is no run of that id that was counted.")
    read, _, bottle = acts.find(desk, new)
    there = read.content or ShelfFile(format=1)
    lacks = lacking(desk, there, run, uses.of_runs(desk.database, [run])[run])
    told = _told(desk, run)
    if told is None or not any(new in lack.bottles for lack in lacks):
        raise ProblemError(
            "invalid-request",
            f"That run took no {bottle.holds} that {new!r} could have given, or it is on record "
            "with another bottle.",
        )
    row, took = told
    drawn = _drawn(took, bottle)
    uses.move(
        desk.database, run, "", Use(run, new, counting.day_at(row, bottle), took.rolls, drawn)
    )
    uses.settle(desk.database, run, none_serves(bottle.holds))


def move(desk: Desk, run: str, old: str, new: str) -> None:
    """Say that a run went through another bottle than was counted, or (empty) through none.

    Raises
    ------
    ProblemError
        The run was not counted onto that bottle, or the other one is not of the same kind.
    """
    found = next(
        (use for use in uses.of_runs(desk.database, [run])[run] if use.bottle == old), None
    )
    if found is None:
        raise ProblemError("invalid-request", "That run was not counted onto that bottle.")
    uses.move(desk.database, run, old, _moved(desk, found, new) if new else None)


def _moved(desk: Desk, use: Use, new: str) -> Use:
    read, _, bottle = acts.find(desk, new)
    there = read.content or ShelfFile(format=1)
    before = next((one for one in there.bottle if one.label == use.bottle), None)
    if before is None:
        raise ProblemError(
            "invalid-request",
            f"{use.bottle!r} is not on the shelf any more, so what it held cannot be told.",
        )
    if before.holds is not bottle.holds:
        raise ProblemError(
            "invalid-request",
            f"{new!r} holds {bottle.holds} and {use.bottle!r} {before.holds}; "
            "a run is moved between bottles of one kind.",
        )
    if bottle.use is not Usage.ONCE:
        return Use(use.run, new, use.on, use.rolls)
    told = _told(desk, use.run)
    return Use(use.run, new, use.on, use.rolls, _drawn(told[1] if told else None, bottle))


def _told(desk: Desk, run: str) -> tuple[RunRow, Passage] | None:
    """A run and what it took by its own sheet; None where the journal does not tell."""
    row = desk.reader.run(run)
    if row is None:
        return None
    took = counting.passage(review(row.began, desk.reader.events(run)).session)
    return None if took is None else (row, took)


def _drawn(took: Passage | None, bottle: Bottle) -> float:
    for need in () if took is None else took.needs:
        if need.holds is bottle.holds:
            return drawn_for(bottle, need.millilitres)
    raise ProblemError(
        "invalid-request",
        f"The journal does not tell how much {bottle.holds} that run took, "
        f"so it cannot be drawn from {bottle.label!r}.",
    )
