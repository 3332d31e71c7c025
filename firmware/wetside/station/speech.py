"""Which of the cues of one turn is heard, what is repeated, and what stands on the screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from wetside.cues import catalogue
from wetside.cues.tones import Tone
from wetside.cues.voicing import voiced
from wetside.session.machine import Session, State
from wetside.session.signals import Cue, CueName
from wetside.station.choices import Choices

#: A cue that comes later than this was missed: its moment is gone.
MISSED_AFTER_SECONDS = 2.0

#: What is said after all when a station comes back and finds that its moment was missed.
_STILL_TRUE = {
    State.DRAINING: CueName.DRAIN,
    State.HANDOVER: CueName.NEXT_NOW,
    State.LATE: CueName.LATE,
}

#: With these a press was taken, so that the message of one that was refused is over.
_TAKEN = frozenset({CueName.POUR_BEGUN, CueName.FINISHED, CueName.ABANDONED})


@dataclass(slots=True)
class Speech:
    """What is being said. ``repeats`` are alarms that come again until answered."""

    choices: Choices = field(default_factory=Choices)
    message: Cue | None = None
    message_until: float = 0.0
    repeats: dict[str, tuple[Cue, float]] = field(default_factory=dict)

    def say(self, cues: Sequence[Cue], session: Session, now: float) -> Tone | None:
        """The tone to be heard for the cues of one turn, the most urgent and latest of them."""
        heard = [cue for cue in cues if now - cue.seconds <= MISSED_AFTER_SECONDS]
        if cues and not heard:
            heard = [cue for cue in cues[-1:] if _STILL_TRUE.get(session.state) is cue.name]
        for cue in heard:
            row = catalogue.row(cue.name)
            if row.show_seconds > 0:
                self.message, self.message_until = cue, now + row.show_seconds
            elif cue.name in _TAKEN:
                self.message = None
        tones = self.choices.now.tones
        sounding = [cue for cue in heard if voiced(cue.name, tones) is not None]
        if not sounding:
            return None
        loudest = max(
            enumerate(sounding), key=lambda pair: (catalogue.row(pair[1].name).urgency, pair[0])
        )[1]
        return voiced(loudest.name, tones)

    def standing(self, source: str, cue: Cue | None, now: float) -> None:
        """Repeat this cue for ``source`` until another takes its place, or None ends it."""
        self.repeats.pop(source, None)
        if cue is not None and (again := catalogue.row(cue.name).repeat_seconds) is not None:
            self.repeats[source] = (cue, now + again)

    def repeat(self, now: float) -> Tone | None:
        """The tone whose time has come again, or None."""
        due = [(at, source) for source, (_, at) in self.repeats.items() if at <= now]
        if not due:
            return None
        source = min(due)[1]
        cue = self.repeats[source][0]
        row = catalogue.row(cue.name)
        self.repeats[source] = (cue, now + (row.repeat_seconds or 0.0))
        return voiced(cue.name, self.choices.now.tones)

    def hush(self) -> None:
        """Nothing is repeated any more."""
        self.repeats.clear()

    def shown(self, now: float) -> Cue | None:
        """The message that stands over the screen now."""
        return self.message if now < self.message_until else None

    def next_due(self) -> float | None:
        """When something is to be repeated, or None."""
        return min((at for _, at in self.repeats.values()), default=None)
