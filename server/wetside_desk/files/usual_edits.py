"""The few changes that a sheet usually needs, made in its text so that it stays in agreement. Pure.

The target stands in three keys of a sheet, and its developing time in the step and in the law of
development; one changed alone is refused. Where name and title say the target, they go along.
Comments and layout stay as they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from wetside.development.law import SAME_CELSIUS
from wetside.development.limits import Refused
from wetside.development.spec import Development
from wetside.session.sheet import Sheet, Step, StepKind
from wetside.units import clock_text, parse_celsius
from wetside_desk.files import edits, naming

_SAME_RATIO = 1e-6
_LONGEST_SOURCE = 200


@dataclass(frozen=True, slots=True)
class Usual:
    """What is to be changed; None leaves a thing as it is.

    ``develop_seconds`` count from the full tank, as publications do; ``fix_seconds`` and
    ``wash_seconds`` are those of the step. ``millilitres`` is for every step that takes as much
    as the developer. A ``name`` or ``title`` that is not given follows the target.
    """

    name: str | None = None
    title: str | None = None
    celsius: float | None = None
    develop_seconds: float | None = None
    fix_seconds: float | None = None
    wash_seconds: float | None = None
    millilitres: float | None = None


class CannotChange(ValueError):
    """The change is one that the sheet's own law does not allow."""


def only(sheet: Sheet, kind: StepKind) -> Step | None:
    """The step of a kind where there is one and no more."""
    found = [step for step in sheet.step if step.kind is kind]
    return found[0] if len(found) == 1 else None


def changed(text: str, sheet: Sheet, wanted: Usual) -> str:
    """The text of a sheet with these changes.

    Raises
    ------
    CannotChange
        The law of development has no time for that temperature.
    CannotEdit
        The text cannot be changed key by key.
    """
    for path, values in _changes(sheet, wanted):
        text = edits.change_at(text, path, values)
    return text


def _changes(sheet: Sheet, wanted: Usual) -> Iterator[tuple[str, dict[str, edits.Value]]]:
    head = _head(sheet, wanted)
    if head:
        yield "", head
    for number, step in enumerate(sheet.step, start=1):
        values = _of_step(sheet, step, wanted)
        if values:
            yield f"step[{number}]", values
    law = sheet.develop.development
    if law is not None and (wanted.celsius is not None or wanted.develop_seconds is not None):
        yield "step[2].development", _of_law(sheet, law, wanted)


def _head(sheet: Sheet, wanted: Usual) -> dict[str, edits.Value]:
    """Name and title where they are to be others."""
    name, title = wanted.name, wanted.title
    if wanted.celsius is not None:
        now = sheet.setup().target_celsius
        name = name or naming.name_at(sheet.name, now, wanted.celsius)
        title = title or naming.title_at(sheet.title, now, wanted.celsius)
    given = {"name": (name, sheet.name), "title": (title, sheet.title)}
    return {key: new for key, (new, old) in given.items() if new and new != old}


def _of_step(sheet: Sheet, step: Step, wanted: Usual) -> dict[str, edits.Value]:
    values: dict[str, edits.Value] = {}
    if wanted.celsius is not None and (
        step.kind is StepKind.TEMPER
        or (step.kind is StepKind.DEVELOP and step.celsius == sheet.temper.celsius)
    ):
        values["celsius"] = wanted.celsius
    if step.kind is StepKind.DEVELOP:
        seconds = _develop_seconds(sheet, wanted)
        if seconds is not None:
            values["seconds"] = round(seconds + step.fill_seconds)
    if step.kind is StepKind.FIX and wanted.fix_seconds is not None:
        values["seconds"] = round(wanted.fix_seconds)
    if step.kind is StepKind.WASH and wanted.wash_seconds is not None:
        values["seconds"] = round(wanted.wash_seconds)
    if wanted.millilitres is not None and (
        step.kind is StepKind.TEMPER
        or (
            step.volume_millilitres is not None
            and step.volume_millilitres == sheet.temper.volume_millilitres
        )
    ):
        values["volume_millilitres"] = wanted.millilitres
    return values


def _develop_seconds(sheet: Sheet, wanted: Usual) -> float | None:
    """The time from the full tank that is to be; None where it stays."""
    if wanted.develop_seconds is not None:
        return wanted.develop_seconds
    law = sheet.develop.development
    if law is None or wanted.celsius is None:
        return None
    return _law_seconds(law, wanted.celsius)


def _law_seconds(law: Development, celsius: float) -> float:
    found = law.time_at(celsius)
    if isinstance(found, Refused):
        raise CannotChange(f"its development gives no time for it: {found.reason}")
    return found.seconds


def _of_law(sheet: Sheet, law: Development, wanted: Usual) -> dict[str, edits.Value]:
    celsius = law.nominal_celsius if wanted.celsius is None else wanted.celsius
    now = _law_seconds(law, celsius)
    seconds = _develop_seconds(sheet, wanted) or now
    ratio = seconds / now
    bare = ratio * law.law().seconds_at(celsius)
    values: dict[str, edits.Value] = {"nominal_celsius": celsius}
    if law.table is None:
        values["nominal_time"] = clock_text(bare)
    if abs(ratio - 1.0) < _SAME_RATIO:
        return values
    if law.table is not None:
        values["table"] = [
            [row, clock_text(bare if _same(row, celsius) else ratio * _seconds(law, row))]
            for row, _ in law.table
        ]
    own = law.source.startswith("teacher's own")
    values["source"] = law.source if own else f"teacher's own, after {law.source}"[:_LONGEST_SOURCE]
    return values


def _same(row: str, celsius: float) -> bool:
    return abs(parse_celsius(row) - celsius) <= SAME_CELSIUS


def _seconds(law: Development, row: str) -> float:
    """The time that stands in a row of the table."""
    return law.law().seconds_at(parse_celsius(row))
