"""What an editor of sheets asks: what is wrong, what changed, which version is this. Pure."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher

from wetside.errors import SheetError
from wetside.session import schedule
from wetside.session.events import Kind
from wetside.session.sheet import Sheet, Step, parse

#: A value in a sheet: text, number, truth or a list of sentences; None = not given.
Value = str | float | bool | tuple[str, ...] | None


@dataclass(frozen=True, slots=True)
class Change:
    """One key that differs; ``before`` or ``after`` is None where the key is not given there.

    ``key`` counts steps as they stand in the newer sheet; a step that went is counted as it
    stood in the older one.
    """

    key: str
    before: Value
    after: Value


@dataclass(frozen=True, slots=True)
class Cue:
    """One cue on the clock of a whole run.

    ``seconds`` counts from pouring the developer, with no time lost between the steps;
    ``index`` is the step's place in the sheet, ``offset_seconds`` counts from its begin.
    """

    seconds: float
    index: int
    offset_seconds: float
    kind: Kind


@dataclass(frozen=True, slots=True)
class Checked:
    """A text that was looked at: the sheet, or (place, reason) of everything wrong with it."""

    sheet: Sheet | None
    problems: tuple[tuple[str, str], ...] = ()


def check(text: str, name: str) -> Checked:
    """Look at the text of a sheet without raising."""
    try:
        return Checked(parse(text, name))
    except SheetError as error:
        return Checked(None, error.problems)


def fingerprint(sheet: Sheet) -> str:
    """Twelve hex digits that change when anything a run depends on changes.

    Comments and the order of keys do not count. Two sheets with one fingerprint take a roll
    through in the same way, so the sheet that a run kept can be told from later versions.
    """
    values = sheet.model_dump(mode="json", exclude_none=True)
    text = json.dumps(values, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def changes(before: Sheet, after: Sheet) -> tuple[Change, ...]:
    """Every key that differs between two sheets.

    Steps are paired by their kinds, in order, so that a step put in between does not make all
    later ones differ. A whole step that came or went is one change of ``step[n]``.
    """
    found = list(_compared("", _head(before), _head(after)))
    old, new = before.step, after.step
    pairs = SequenceMatcher(
        None, [step.kind for step in old], [step.kind for step in new], autojunk=False
    )
    for what, old_from, old_to, new_from, new_to in pairs.get_opcodes():
        if what == "equal":
            for left, right in zip(range(old_from, old_to), range(new_from, new_to), strict=True):
                found += _compared(f"step[{right + 1}].", _flat(old[left]), _flat(new[right]))
            continue
        found += [
            Change(f"step[{index + 1}]", _brief(old[index]), None)
            for index in range(old_from, old_to)
        ]
        found += [
            Change(f"step[{index + 1}]", None, _brief(new[index]))
            for index in range(new_from, new_to)
        ]
    return tuple(found)


def timeline(sheet: Sheet) -> tuple[Cue, ...]:
    """Every cue of a run whose pours come exactly when they are due, in order of time."""
    found: list[Cue] = []
    begins = 0.0
    for index, step in enumerate(sheet.step):
        found += [
            Cue(begins + entry.offset_seconds, index, entry.offset_seconds, entry.kind)
            for entry in schedule.of_step(step)
            if entry.kind is not Kind.LATE_DUE
        ]
        begins += step.seconds or 0.0
    return tuple(found)


def total_seconds(sheet: Sheet) -> float:
    """From pouring the developer to hanging, without what is lost between the steps."""
    return sum(step.seconds or 0.0 for step in sheet.step)


def _head(sheet: Sheet) -> Mapping[str, Value]:
    return dict(_leaves("", sheet.model_dump(mode="json", exclude={"step"})))


def _flat(step: Step) -> Mapping[str, Value]:
    return dict(_leaves("", step.model_dump(mode="json")))


def _leaves(prefix: str, table: Mapping[str, object]) -> Iterator[tuple[str, Value]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _leaves(f"{prefix}{key}.", value)
        elif isinstance(value, list):
            yield f"{prefix}{key}", tuple(str(item) for item in value)
        elif value is None or isinstance(value, str | bool | int | float):
            yield f"{prefix}{key}", value


def _compared(
    prefix: str, before: Mapping[str, Value], after: Mapping[str, Value]
) -> Iterator[Change]:
    for key in dict.fromkeys((*before, *after)):
        if before.get(key) != after.get(key):
            yield Change(f"{prefix}{key}", before.get(key), after.get(key))


def _brief(step: Step) -> str:
    time = "" if step.seconds is None else f", {step.seconds:g} s"
    return f"{step.kind}{time}"
