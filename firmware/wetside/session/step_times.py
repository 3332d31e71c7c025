"""What a sheet's steps and times leave to be doubted: left out, too short, too long."""

from __future__ import annotations

from collections.abc import Iterator

from wetside.development.figures import (
    FIX_LEAST_SECONDS,
    FIX_MOST_SECONDS,
    WASH_AFTER_CLEARING_SECONDS,
    WASH_MINIMUM_SECONDS,
    Figure,
)
from wetside.session.sheet import Sheet, StepKind
from wetside.units import clock_text

#: So many fills of water are a wash by dilution, which no time measures (wetside.development.wash).
_FILLS = 3


def notes(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """Keys and sentences about steps and times that a teacher should look at; no mistakes."""
    return (*_between(sheet), *short_fixing(sheet), *_long_fixing(sheet), *washing(sheet))


def stopped(sheet: Sheet) -> bool:
    """Whether a stop bath or rinse stands between developer and fixer."""
    (first, *_) = _places(sheet, StepKind.FIX)
    return any(sheet.step[place].kind is not StepKind.DEVELOP for place in range(1, first))


def _seconds(sheet: Sheet, places: list[int]) -> float:
    return sum(sheet.step[place].seconds or 0.0 for place in places)


def _places(sheet: Sheet, *kinds: StepKind) -> list[int]:
    return [place for place, step in enumerate(sheet.step) if step.kind in kinds]


def _between(sheet: Sheet) -> Iterator[tuple[str, str]]:
    if not stopped(sheet):
        (first, *_) = _places(sheet, StepKind.FIX)
        said = "no stop bath or rinse before it: developer is carried into the fixer"
        yield f"step[{first + 1}]", f"{said} (common practice)"


def short_fixing(sheet: Sheet) -> Iterator[tuple[str, str]]:
    """Key and sentence where it fixes for too short a time."""
    places = _places(sheet, StepKind.FIX)
    seconds = _seconds(sheet, places)
    if seconds < FIX_LEAST_SECONDS.value:
        said = _said("fixes", seconds, "less than", FIX_LEAST_SECONDS)
        yield f"step[{places[0] + 1}].seconds", said


def _long_fixing(sheet: Sheet) -> Iterator[tuple[str, str]]:
    places = _places(sheet, StepKind.FIX)
    seconds = _seconds(sheet, places)
    if seconds > FIX_MOST_SECONDS.value:
        said = _said("fixes", seconds, "more than", FIX_MOST_SECONDS)
        yield f"step[{places[0] + 1}].seconds", said


def washing(sheet: Sheet) -> Iterator[tuple[str, str]]:
    """Key and sentence where it washes for too short a time, or not at all."""
    last = _places(sheet, StepKind.FIX, StepKind.CLEAR)[-1]
    places = [place for place in _places(sheet, StepKind.WASH) if place > last]
    if not places:
        said = "no wash after fixer and clearing bath: the film keeps them; is it washed elsewhere?"
        yield "step", f"{said} (common practice)"
        return
    cleared = bool(_places(sheet, StepKind.CLEAR))
    least = WASH_AFTER_CLEARING_SECONDS if cleared else WASH_MINIMUM_SECONDS
    seconds = _seconds(sheet, places)
    if len(places) < _FILLS and seconds < least.value:
        yield f"step[{places[0] + 1}].seconds", _said("washes", seconds, "less than", least)


def _said(does: str, seconds: float, than: str, figure: Figure) -> str:
    return (
        f"{does} for {clock_text(seconds)}, {than} {clock_text(figure.value)} "
        f"({figure.what}; {figure.publication}, {figure.basis})"
    )
