"""The form for the few changes that a sheet usually needs: its fields as texts and as values."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from wetside.development.spec import parse_clock
from wetside.errors import UnitsError
from wetside.session.sheet import Sheet, StepKind
from wetside.units import celsius_to_fahrenheit, clock_text, volume_text
from wetside_desk.files.usual_edits import Usual, only
from wetside_desk.pages import forms, opened
from wetside_desk.pages.forms import Fields
from wetside_desk.store.preferences import Preferences

#: What people read beside each field.
LABELS = {
    "name": "Name on the display",
    "title": "Title",
    "celsius": "Target temperature",
    "develop": "Developing time, from the full tank",
    "fix": "Fix, from pouring in to the empty tank",
    "wash": "Wash, from pouring in to the empty tank",
    "volume": "Volume in the tank",
}


def shown(sheet: Sheet, prefs: Preferences) -> dict[str, str]:
    """What stands in the sheet, by the names of the fields; without what the form cannot change."""
    target = sheet.temper.celsius or 0.0
    target = celsius_to_fahrenheit(target) if prefs.temperature == "F" else target
    fields = {"name": sheet.name, "title": sheet.title, "celsius": f"{target:.1f}"}
    develop = sheet.develop
    fields["develop"] = clock_text((develop.seconds or 0.0) - develop.fill_seconds)
    for name, kind in (("fix", StepKind.FIX), ("wash", StepKind.WASH)):
        step = only(sheet, kind)
        if step is not None and step.seconds is not None:
            fields[name] = clock_text(step.seconds)
    volume = sheet.temper.volume_millilitres
    fields["volume"] = "" if volume is None else volume_text(volume, prefs.volume)
    return fields


_KINDS = {StepKind.DEVELOP: "develop", StepKind.FIX: "fix", StepKind.WASH: "wash"}


def refused(sheet: Sheet, place: str, why: str) -> forms.Refused:
    """A problem at a field, or at a key of the sheet that a field changes; other keys stay."""
    name = place if place in LABELS else _field_of(sheet, place)
    return forms.Refused(LABELS.get(name, name), why, name if name in LABELS else "")


def _field_of(sheet: Sheet, place: str) -> str:
    for number, step in enumerate(sheet.step, start=1):
        if place == f"step[{number}].seconds" and step.kind in _KINDS:
            return _KINDS[step.kind]
        if place == f"step[{number}].volume_millilitres":
            return "volume"
        if place == f"step[{number}].celsius" and step.kind is StepKind.TEMPER:
            return "celsius"
    return place


def changes(form: Fields, stood: dict[str, str]) -> dict[str, str]:
    """The fields that were changed; one that was emptied changes nothing.

    ``stood`` is what stands in the sheet now.
    """
    return {name: text for name, text in opened.changes(form, stood).items() if text}


def read(given: Mapping[str, str], prefs: Preferences) -> Usual:
    """What the fields that were changed say.

    Raises
    ------
    Wrong
        Names the fields that cannot be used.
    """
    wrong: list[tuple[str, str]] = []

    def value(name: str, parse: Callable[[str], float]) -> float | None:
        if name not in given:
            return None
        try:
            return parse(given[name])
        except UnitsError as error:
            wrong.append((name, str(error)))
            return None

    made = Usual(
        name=given.get("name"),
        title=given.get("title"),
        celsius=value("celsius", lambda text: round(forms.celsius_of(text, prefs.temperature), 2)),
        develop_seconds=value("develop", parse_clock),
        fix_seconds=value("fix", parse_clock),
        wash_seconds=value("wash", parse_clock),
        millilitres=value(
            "volume", lambda text: round(forms.millilitres_of(text, prefs.volume), 1)
        ),
    )
    if wrong:
        raise forms.Wrong(wrong)
    return made
