"""What a teacher does with bottles: test, mix anew, change, take away. Each writes the file."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from wetside.development.bottles import Bottle, Colour, ShelfFile
from wetside.development.shelf import standing
from wetside_desk import house, schooltime
from wetside_desk.context import Desk
from wetside_desk.files import edits
from wetside_desk.files.edits import Value
from wetside_desk.files.papers import Written
from wetside_desk.problems import ProblemError
from wetside_desk.store import audit, uses

#: The keys of a bath 1 that was bath 2, taken away.
_NEVER_SECOND: Mapping[str, Value] = {"rolls_as_second_bath": None, "moved_up_on": None}


def find(desk: Desk, label: str) -> tuple[house.Read[ShelfFile], int, Bottle]:
    """The shelf, the place of a bottle in its file, counted from one, and the bottle.

    Raises
    ------
    ProblemError
        No such bottle, or the shelf file has mistakes.
    """
    read = house.counted_shelf(desk)
    if read.problems:
        raise ProblemError(
            "file-refused", "The shelf file has mistakes; mend it as text before anything else."
        )
    if read.content is not None:
        for place, bottle in enumerate(read.content.bottle, start=1):
            if bottle.label == label:
                return read, place, bottle
    raise ProblemError("bottle-not-found", f"There is no bottle {label!r} on the shelf.")


def _write(desk: Desk, read: house.Read[ShelfFile], text: str, seen: str, who: str) -> Written:
    return house.write(desk, read.paper, text, seen, who)


def note_test(
    desk: Desk,
    label: str,
    on: date,
    who: str,
    *,
    clearing_seconds: float | None = None,
    colour: Colour | None = None,
    fresh: bool = False,
) -> Bottle:
    """Write a test of a bottle into the shelf file, with the rolls through it so far.

    ``fresh`` says that the bath is fresh: its time is what later ones are compared with.

    Raises
    ------
    ProblemError
        No such bottle, or the test does not belong to it.
    """
    read, place, bottle = find(desk, label)
    text = read.written.text
    if fresh and clearing_seconds is not None:
        text = edits.change(text, "bottle", place, {"fresh_clearing_seconds": clearing_seconds})
    else:
        rolls = standing(bottle, house.current_uses(desk), on).rolls
        values: dict[str, Value] = {"on": on}
        if clearing_seconds is not None:
            values["clearing_seconds"] = round(clearing_seconds, 1)
        if colour is not None:
            values["colour"] = str(colour)
        text = edits.add_under(text, "bottle", place, "check", {**values, "rolls": round(rolls, 2)})
    _write(desk, read, text, read.written.tag, who)
    return find(desk, label)[2]


def _not_to_come(on: date) -> None:
    today = schooltime.now().date()
    if on > today:
        raise ProblemError(
            "invalid-request", f"{on} is still to come: by this device's clock it is {today}."
        )


def _new_filling(on: date) -> dict[str, Value]:
    """What an emptied and filled bottle begins with; tests and rolls before belong to the old."""
    return {
        "mixed_on": on,
        "opened_on": None,
        "rolls_before": None,
        **_NEVER_SECOND,
        "fresh_clearing_seconds": None,
        "check": None,
    }


def mix_anew(desk: Desk, label: str, on: date, who: str) -> Bottle:
    """The bottle was emptied, rinsed and filled: tests, uses and what went before count no more.

    The fresh clearing time goes too, as it belongs to the filling that was tested.

    Raises
    ------
    ProblemError
        No such bottle, or a day that is still to come.
    """
    _not_to_come(on)
    read, place, _ = find(desk, label)
    text = edits.change(read.written.text, "bottle", place, _new_filling(on))
    _write(desk, read, text, read.written.tag, who)
    uses.renew(desk.database, label, on)
    audit.add(desk.database, who, "bottle mixed anew", label)
    return find(desk, label)[2]


def move_up(desk: Desk, exhausted: str, second: str, on: date, who: str) -> tuple[Bottle, Bottle]:
    """Bath 2 becomes bath 1, and the bottle that was bath 1 holds new fixer as bath 2.

    ``exhausted`` is the label of bath 1, emptied and filled on the day ``on``; ``second`` that
    of bath 2. What went through bath 2 before that day, or by now where it is today, is no part of
    its capacity as bath 1.

    Returns
    -------
    bath 1, bath 2
        As they are now.

    Raises
    ------
    ProblemError
        A bottle is missing, is not that bath, or the day is still to come.
    """
    _not_to_come(on)
    read, place, bottle = find(desk, exhausted)
    _, second_place, next_first = find(desk, second)
    for one, bath in ((bottle, 1), (next_first, 2)):
        if one.bath != bath:
            raise ProblemError(
                "invalid-request", f"{one.label!r} is not bath {bath} of a two-bath fixer."
            )
    today = on == schooltime.now().date()
    until = [use for use in house.current_uses(desk) if use.on < on or (today and use.on == on)]
    rolls = round(standing(next_first, until, on).rolls, 2)
    text = edits.change(read.written.text, "bottle", place, {**_new_filling(on), "bath": 2})
    values: dict[str, Value] = {"bath": 1, **_NEVER_SECOND}
    if rolls:
        values |= {"rolls_as_second_bath": rolls, "moved_up_on": on}
    text = edits.change(text, "bottle", second_place, values)
    _write(desk, read, text, read.written.tag, who)
    uses.renew(desk.database, exhausted, on)
    audit.add(desk.database, who, "bath 2 became bath 1", f"{second}, new fixer in {exhausted}")
    return find(desk, second)[2], find(desk, exhausted)[2]


def change(desk: Desk, label: str, values: Mapping[str, Value], seen: str, who: str) -> None:
    """Change keys of a bottle; a new label keeps the uses of the old one.

    A later day of mixing is a new filling, through which nothing went while it was bath 2.
    """
    read, place, bottle = find(desk, label)
    mixed = values.get("mixed_on")
    if isinstance(mixed, date) and mixed > bottle.mixed_on:
        values = {**_NEVER_SECOND, **values}
    text = edits.change(read.written.text, "bottle", place, values)
    _write(desk, read, text, seen, who)
    new = values.get("label")
    if isinstance(new, str) and new != label:
        uses.rename(desk.database, label, new)


def put(desk: Desk, values: Mapping[str, Value], seen: str, who: str) -> None:
    """Put one more bottle onto the shelf; the file is made where there is none."""
    read = house.counted_shelf(desk)
    text = edits.add(read.written.text or edits.EMPTY, "bottle", values)
    _write(desk, read, text, seen, who)
    house.counted_shelf(desk)  # from now on its runs count


def take(desk: Desk, label: str, seen: str, who: str) -> None:
    """Take a bottle off the shelf; what was counted onto it stays on record."""
    read, place, _ = find(desk, label)
    _write(desk, read, edits.take(read.written.text, "bottle", place), seen, who)
