"""Which bottle a run went through, put right by the teacher."""

from wetside.development.bottles import Bottle, ShelfFile, Usage
from wetside.development.shelf import Use, drawn_for
from wetside_desk.context import Desk
from wetside_desk.problems import ProblemError
from wetside_desk.review import review
from wetside_desk.shelf import acts, counting
from wetside_desk.shelf.counting import Passage
from wetside_desk.store import uses


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
    drawn = 0.0 if bottle.use is not Usage.ONCE else _drawn(_passage(desk, use.run), bottle)
    return Use(use.run, new, use.on, use.rolls, drawn)


def _passage(desk: Desk, run: str) -> Passage | None:
    """What a run took by its own sheet; None where the journal does not tell."""
    row = desk.reader.run(run)
    if row is None:
        return None
    return counting.passage(review(row.began, desk.reader.events(run)).session)


def _drawn(took: Passage | None, bottle: Bottle) -> float:
    for need in () if took is None else took.needs:
        if need.holds is bottle.holds:
            return drawn_for(bottle, need.millilitres)
    raise ProblemError(
        "invalid-request",
        f"The journal does not tell how much {bottle.holds} that run took, "
        f"so it cannot be drawn from {bottle.label!r}.",
    )
