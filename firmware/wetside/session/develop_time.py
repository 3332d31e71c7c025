"""What a sheet's developing time leaves to be doubted: under five minutes, outside its table."""

from __future__ import annotations

from wetside.development.limits import Caution, Refused, Warned, short_warning
from wetside.session.sheet import Sheet

#: Whose the least developing time is.
_SHORT_SOURCE = "film makers' data sheets, from memory"


def notes(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """Keys and sentences about the developing time that a teacher should look at; no mistakes."""
    return tuple(_note(warned) for warned in _warnings(sheet))


def _warnings(sheet: Sheet) -> tuple[Warned, ...]:
    develop = sheet.develop
    law = develop.development
    if law is None:
        return short_warning((develop.seconds or 0.0) - develop.fill_seconds)
    found = law.time_at(law.nominal_celsius)
    return () if isinstance(found, Refused) else found.warnings


def _note(warned: Warned) -> tuple[str, str]:
    if warned.caution is Caution.SHORT:
        return "step[2].seconds", f"{warned.text} ({_SHORT_SOURCE})"
    return "step[2].development.nominal_celsius", warned.text
