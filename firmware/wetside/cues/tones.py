"""A tone is a rhythm of a passive piezo: told apart by its beat first, by its pitch second."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Note:
    """One sound or silence; ``hertz`` None is silence."""

    hertz: float | None
    seconds: float


@dataclass(frozen=True, slots=True)
class Tone:
    """Notes in order, played ``times`` times."""

    notes: tuple[Note, ...]
    times: int = 1

    @property
    def seconds(self) -> float:
        """Length of the whole tone."""
        return self.times * sum(note.seconds for note in self.notes)
