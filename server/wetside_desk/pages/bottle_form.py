"""The form of a bottle: what it calls its fields, what stands in them, what was changed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from datetime import date

from starlette.datastructures import FormData

from wetside.development import figures
from wetside.development.bottles import Bottle
from wetside.development.figures import Figure
from wetside.units import LITRES_PER_QUART, volume_text
from wetside_desk.files.edits import Value
from wetside_desk.pages.forms import Reader

#: What people read beside each field, and what a message calls it.
LABELS: Mapping[str, str] = {
    "label": "Label on the bottle",
    "holds": "Holds",
    "strength": "Strength",
    "millilitres": "Volume",
    "mixed_on": "Mixed on",
    "use": "Is used",
    "rolls_per_litre": "Rolls for each litre",
    "rolls_before": "Rolls through it before",
    "source": "Who says how long it lasts",
    "keeps_full_days": "Keeps full, days",
    "keeps_opened_days": "Keeps opened, days",
    "opened_on": "Opened on",
    "fresh_clearing_seconds": "Fixer: clearing time when fresh, seconds",
    "check_every_rolls": "Fixer: test after rolls",
    "bath": "Two baths: which of them",
    "rolls_as_second_bath": "Two baths: rolls through it while it was bath 2",
    "moved_up_on": "Two baths: became bath 1 on",
    "longer_per_roll": "Reused developer: longer for each roll, part",
    "check": "Test",
    "clearing_seconds": "Seconds until the film was clear",
    "colour": "Colour of the indicator",
}

#: What takes the place of these labels where volumes are in fluid ounces.
_OF_QUARTS = {"rolls_per_litre": "Rolls for each quart"}

#: Figures shown under a field, for a bottle whose label says nothing.
FIGURES: Mapping[str, tuple[Figure, ...]] = {
    "rolls_per_litre": (
        figures.ACID_FIXER_ROLLS,
        figures.ALKALINE_FIXER_ROLLS,
        figures.TABULAR_SHARE,
        figures.STOP_ROLLS,
        figures.CLEARING_BATH_ROLLS,
        figures.REUSED_DEVELOPER_ROLLS,
    ),
    "keeps_full_days": (figures.FIXER_DAYS, figures.STOCK_DAYS),
    "keeps_opened_days": (figures.FIXER_PART_FULL_DAYS, figures.STOCK_PART_FULL_DAYS),
    "longer_per_roll": (figures.REUSE_TIME,),
}


def labels(unit: str) -> Mapping[str, str]:
    """`LABELS` where volumes are in ``unit``, mL or fl oz."""
    return {**LABELS, **_OF_QUARTS} if unit == "fl oz" else LABELS


def figures_of(unit: str) -> Mapping[str, tuple[Figure, ...]]:
    """`FIGURES` where volumes are in ``unit``."""
    if unit != "fl oz":
        return FIGURES
    return {name: tuple(_of_quarts(one) for one in found) for name, found in FIGURES.items()}


def _of_quarts(figure: Figure) -> Figure:
    if figure.unit != "rolls per litre":
        return figure
    value = float(f"{figure.value * LITRES_PER_QUART:.3g}")
    return replace(figure, value=value, unit="rolls per quart")


def _rolls_for_each(reader: Reader, name: str) -> Value:
    """Rolls per litre, from those per quart where volumes are in fluid ounces."""
    value = reader.number(name)
    return value if value is None or reader.unit == "mL" else round(value / LITRES_PER_QUART, 2)


def _longer_for_each(reader: Reader, name: str) -> Value:
    """A part for each roll through a litre, from that of a quart."""
    value = reader.number(name)
    return value if value is None or reader.unit == "mL" else round(value * LITRES_PER_QUART, 4)


_READ: Mapping[str, Callable[[Reader, str], Value]] = {
    "label": Reader.text,
    "holds": Reader.text,
    "strength": Reader.text,
    "millilitres": Reader.millilitres,
    "mixed_on": Reader.day,
    "opened_on": Reader.day,
    "use": Reader.text,
    "bath": Reader.number,
    "rolls_per_litre": _rolls_for_each,
    "rolls_before": Reader.number,
    "rolls_as_second_bath": Reader.number,
    "moved_up_on": Reader.day,
    "keeps_full_days": Reader.number,
    "keeps_opened_days": Reader.number,
    "longer_per_roll": _longer_for_each,
    "fresh_clearing_seconds": Reader.number,
    "check_every_rolls": Reader.number,
    "source": Reader.text,
}

#: By how much a value of the file is multiplied to be that of a quart.
_TO_QUARTS = {"rolls_per_litre": LITRES_PER_QUART, "longer_per_roll": 1.0 / LITRES_PER_QUART}

#: Keys that are nought where they are left out; the form shows a nought that was written.
_NOUGHT = {"rolls_before", "rolls_as_second_bath", "longer_per_roll"}


def shown(bottle: Bottle | None, unit: str, today: date) -> dict[str, str]:
    """The text of each field: of a bottle, or what an empty form begins with.

    ``unit`` is that of volumes, mL or fl oz. They are rounded as everywhere.
    """
    if bottle is None:
        begin = {"strength": "stock", "mixed_on": f"{today}", "source": "label of the bottle"}
        return {name: begin.get(name, "") for name in _READ}
    found: dict[str, str] = {}
    for name in _READ:
        value = getattr(bottle, name)
        left_out = name not in bottle.model_fields_set
        if value is None or (name in _NOUGHT and left_out):
            found[name] = ""
        elif name == "millilitres":
            found[name] = volume_text(value, unit)
        elif unit == "fl oz" and name in _TO_QUARTS:
            found[name] = f"{value * _TO_QUARTS[name]:.3g}"
        else:
            found[name] = f"{value:g}" if isinstance(value, float) else str(value)
    return found


def values(form: FormData, unit: str, changed: Collection[str] | None) -> dict[str, Value]:
    """What was filled in, for the file; None takes a key away.

    ``changed`` are the fields of a bottle that are not what the form was opened with: the others
    change nothing, and nothing is rounded by saving. None for a new bottle.

    Raises
    ------
    Wrong
        Fields that cannot be used.
    """
    reader = Reader(form, unit)
    found = {
        name: read(reader, name)
        for name, read in _READ.items()
        if changed is None or name in changed
    }
    reader.done()
    return found
