"""What happened in a run, row by row, each with the step in which it did. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from wetside.journal.schema import EventRow
from wetside.session.events import Kind
from wetside.session.sheet import StepKind
from wetside_desk.pages import steps, telling, words
from wetside_desk.review import Review

#: A step and the press that began it are written at one moment, give or take rounding.
_NEAR_SECONDS = 0.05


@dataclass(frozen=True, slots=True)
class Row:
    """One event in words; ``step`` is empty where the steps cannot be read."""

    after_seconds: float | None
    step: str
    event: str
    detail: str


def rows(seen: Review, unit: str = "C") -> list[Row]:
    """Every event of a run; ``unit`` is the teacher's, C or F."""
    kinds = [] if seen.summary is None else [str(step.kind) for step in seen.summary.steps]
    names = steps.names(kinds)
    return [
        Row(
            seen.after(event),
            names[at] if names else "",
            _said(seen, event, at),
            telling.detail(event.detail, unit, event.kind),
        )
        for event, at in _with_steps(seen)
    ]


def _with_steps(seen: Review) -> Iterator[tuple[EventRow, int]]:
    """Each event with the number of its step: a press that begins a step belongs to that one."""
    begins = [step.began_after_seconds for step in seen.summary.steps] if seen.summary else []
    at = 0
    for event in seen.events:
        after = seen.after(event)
        while after is not None and at + 1 < len(begins):
            pressed = _NEAR_SECONDS if event.kind == Kind.NOW else -_NEAR_SECONDS
            if begins[at + 1] > after + pressed:
                break
            at += 1
        yield event, at


def _said(seen: Review, event: EventRow, at: int) -> str:
    """The event in words, with the solution that it is about."""
    sheet = seen.session.sheet
    if sheet is None or not seen.session.steps:
        return words.event(event.kind)
    if event.kind == Kind.NOW and sheet.step[at].kind is StepKind.HANG:
        return words.HUNG
    about = at + 1 if event.kind == Kind.PREPARE else at
    if event.kind not in {Kind.NOW, Kind.PREPARE} or about >= len(sheet.step):
        return words.event(event.kind)
    step = sheet.step[about]
    return f"{words.event(event.kind)}: {step.solution or words.step(str(step.kind)).lower()}"
