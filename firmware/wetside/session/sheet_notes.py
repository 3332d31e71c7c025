"""Everything about a sheet that is no mistake and that a teacher should look at."""

from __future__ import annotations

from wetside.session import develop_time, step_times, warmth
from wetside.session.sheet import Sheet


def notes(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """Keys and sentences: of the developing time, of steps and times, of temperatures."""
    return (*develop_time.notes(sheet), *step_times.notes(sheet), *warmth.notes(sheet))
