"""What a check found, as a value."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class State(StrEnum):
    """How it stands."""

    FINE = "fine"
    LOOK = "look"  # works, but somebody should look
    MISSING = "missing"  # the station cannot do its work without


@dataclass(frozen=True, slots=True)
class Finding:
    """One line of the doctor: what was looked at, what was found, how to mend it."""

    part: str
    state: State
    found: str
    mend: str = ""
