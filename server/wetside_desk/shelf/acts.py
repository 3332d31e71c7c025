"""What a teacher does with bottles: test, mix anew, change, take away. Each writes the file."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from wetside.development.bottles import Bottle, Colour, ShelfFile
from wetside.development.shelf import standing
from wetside_desk import house
from wetside_desk.context import Desk
from wetside_desk.files import edits
from wetside_desk.files.edits import Value
from wetside_desk.files.papers import Written
from wetside_desk.problems import ProblemError
from wetside_desk.store import audit, uses


def find(desk: Desk, label: str) -> tuple[house.Read[ShelfFile], int, Bottle]:
    """The shelf, the place of a bottle in its file, counted from one, and the bottle.

    Raises
    ------
    ProblemError
        No such bottle, or the shelf file has mistakes.
    """
    read = house.shelf(desk)
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


def mix_anew(desk: Desk, label: str, on: date, who: str) -> Bottle:
    """The bottle was emptied, rinsed and filled: tests, uses and what went before count no more.

    The fresh clearing time goes too, as it belongs to the filling that was tested.
    """
    read, place, _ = find(desk, label)
    text = edits.change(
        read.written.text,
        "bottle",
        place,
        {
            "mixed_on": on,
            "opened_on": None,
            "rolls_before": None,
            "fresh_clearing_seconds": None,
            "check": None,
        },
    )
    _write(desk, read, text, read.written.tag, who)
    uses.renew(desk.database, label, on)
    audit.add(desk.database, who, "bottle mixed anew", label)
    return find(desk, label)[2]


def change(desk: Desk, label: str, values: Mapping[str, Value], seen: str, who: str) -> None:
    """Change keys of a bottle; a new label keeps the uses of the old one."""
    read, place, _ = find(desk, label)
    text = edits.change(read.written.text, "bottle", place, values)
    _write(desk, read, text, seen, who)
    new = values.get("label")
    if isinstance(new, str) and new != label:
        uses.rename(desk.database, label, new)


def put(desk: Desk, values: Mapping[str, Value], seen: str, who: str) -> None:
    """Put one more bottle onto the shelf; the file is made where there is none."""
    read = house.shelf(desk)
    text = edits.add(read.written.text or edits.EMPTY, "bottle", values)
    _write(desk, read, text, seen, who)
    house.shelf(desk)  # from now on its runs count


def take(desk: Desk, label: str, seen: str, who: str) -> None:
    """Take a bottle off the shelf; what was counted onto it stays on record."""
    read, place, _ = find(desk, label)
    _write(desk, read, edits.take(read.written.text, "bottle", place), seen, who)
