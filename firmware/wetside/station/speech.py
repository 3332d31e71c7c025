"""Which of the cues of one turn is heard, what is repeated, and what stands on the screen.

Rules of the buzzer
-------------------
* Of one turn's cues the most urgent and latest is heard first, and behind it one that was less
  urgent, if it need not wait too long.
* A tone is not cut short by a less urgent cue as long as the run stands where it was begun.
* What is repeated waits for silence, alarms of the parts from their first time on.
* What the run repeats follows from its state alone (`session.telling.STANDING`): however it came
  into that state, it is said then, and again until the state is another one or somebody hushes it.

Rules of the screen
-------------------
* The latest message stands over the screen. Where an answer to a press and a call come within two
  seconds, the answer is seen for as long and the call stands behind it for its whole time; who
  chooses is not interrupted by a call that came before.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from wetside.cues import catalogue
from wetside.cues.tones import Tone
from wetside.cues.voicing import voiced
from wetside.session.run import Session, State
from wetside.session.signals import Cue, CueName
from wetside.session.telling import STANDING
from wetside.station.choices import Choices

#: A cue that comes later than this was missed: its moment is gone.
MISSED_AFTER_SECONDS = 2.0
#: What was said stands so long before something that can wait is shown over it.
SEEN_SECONDS = 2.0

#: What is said after all when a station comes back and finds that its moment was missed.
_STILL_TRUE = {State.DRAINING: CueName.DRAIN, **STANDING}

#: With these a press was taken, so that the message of one that was refused is over.
_TAKEN = frozenset({CueName.POUR_BEGUN, CueName.FINISHED, CueName.ABANDONED})

#: What somebody who has just pressed is waiting for.
_ASKED_FOR = catalogue.ANSWERS | {CueName.CHOICE}

#: Where the run's own repetition stands among those of the parts.
_RUN = "run"

#: A step and a state: where a run stands.
Place = tuple[int, State]


@dataclass(frozen=True, slots=True)
class Sounding:
    """A tone of the buzzer, and until when it sounds.

    ``urgency`` is that of its cue and ``place`` where the run stood; one that was repeated for a
    ``source`` has none and gives way to any cue.
    """

    until: float = -math.inf
    urgency: int = 0
    place: Place | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True)
class _Message:
    """A cue whose words stand over the screen from one moment to another."""

    cue: Cue
    begins: float
    ends: float


@dataclass(slots=True)
class Speech:
    """What is being said. ``repeats`` come again until answered: each its cue and next moment."""

    choices: Choices = field(default_factory=Choices)
    repeats: dict[str, tuple[CueName, float]] = field(default_factory=dict)
    sounding: Sounding = Sounding()
    _answer: _Message | None = None
    _call: _Message | None = None
    _waiting: tuple[Cue, float] | None = None
    _place: Place | None = None
    _spoke: float = -math.inf

    def say(self, cues: Sequence[Cue], session: Session, now: float) -> Tone | None:
        """The tone that begins with the cues of one turn, or None."""
        heard = [cue for cue in cues if now - cue.seconds <= MISSED_AFTER_SECONDS]
        if cues and not heard:
            heard = [cue for cue in cues[-1:] if _STILL_TRUE.get(session.state) is cue.name]
        for cue in heard:
            self._show(cue, heard, now)
        self._follow(session, heard, now)
        return self._first_of(heard, now)

    def _show(self, cue: Cue, heard: Sequence[Cue], now: float) -> None:
        """Put a cue's message over the screen, later where that screen shows a more urgent one."""
        self._spoke = now
        row = catalogue.row(cue.name)
        if row.show_seconds > 0:
            more = any(_on_screen(other) and _urgency(other) > row.urgency for other in heard)
            begins = now + (SEEN_SECONDS if more else 0.0)
            self._stand(_Message(cue, begins, begins + row.show_seconds))
        elif cue.name in _TAKEN:
            self._answer = self._call = None

    def _stand(self, message: _Message) -> None:
        """Let a message stand; an answer and a call that come together follow each other."""
        asked_for = message.cue.name in _ASKED_FOR
        before = self._call if asked_for else self._answer
        self._answer, self._call = (message, None) if asked_for else (None, message)
        if before is None or message.cue.name is CueName.CHOICE:
            return
        answer, call = (message, before) if asked_for else (before, message)
        if abs(answer.begins - call.begins) < SEEN_SECONDS:
            seen = answer.begins + SEEN_SECONDS
            self._answer = replace(answer, ends=min(answer.ends, seen))
            self._call = _Message(call.cue, seen, seen + call.ends - call.begins)

    def _follow(self, session: Session, heard: Sequence[Cue], now: float) -> None:
        """Repeat what the state of the session asks for; at once where it was not just said."""
        place = (session.step, session.state)
        if place == self._place:
            return
        self._place = place
        self.repeats.pop(_RUN, None)
        name = STANDING.get(session.state)
        if name is not None:
            said = any(cue.name is name for cue in heard)
            self.repeats[_RUN] = (name, now + (_again(name) if said else 0.0))

    def _first_of(self, heard: Sequence[Cue], now: float) -> Tone | None:
        alarms = {name for source, (name, _) in self.repeats.items() if source != _RUN}
        tones = self.choices.now.tones
        ranked = sorted(
            (cue for cue in reversed(heard) if cue.name not in alarms and voiced(cue.name, tones)),
            key=lambda cue: -_urgency(cue),
        )
        if not ranked:
            return None
        first, playing = ranked[0], self.sounding
        sounds = now < playing.until
        if sounds and playing.place == self._place and _urgency(first) < playing.urgency:
            self._waiting = (first, now + MISSED_AFTER_SECONDS)
            return None
        after = next((cue for cue in ranked if _urgency(cue) < _urgency(first)), None)
        self._waiting = None if after is None else (after, now + MISSED_AFTER_SECONDS)
        if sounds and playing.source in self.repeats:  # it was cut short, and comes again
            self.repeats[playing.source] = (self.repeats[playing.source][0], now)
        return self._begin(first.name, now, _urgency(first))

    def _begin(
        self, name: CueName, now: float, urgency: int = 0, source: str | None = None
    ) -> Tone | None:
        tone = voiced(name, self.choices.now.tones)
        if tone is not None:
            self.sounding = Sounding(now + tone.seconds, urgency, self._place, source)
        return tone

    def alarm(self, source: str, cue: Cue | None, now: float) -> None:
        """Sound this cue for a part as soon as it is silent and again, until None ends it."""
        self.repeats.pop(source, None)
        if cue is not None:
            self.repeats[source] = (cue.name, now)

    def repeat(self, now: float) -> Tone | None:
        """The tone whose time has come now that nothing else sounds, or None."""
        if now < self.sounding.until:
            return None
        waiting, self._waiting = self._waiting, None
        if waiting is not None and now <= waiting[1]:
            return self._begin(waiting[0].name, now, _urgency(waiting[0]))
        due = [(at, source) for source, (_, at) in self.repeats.items() if at <= now]
        if not due:
            return None
        source = min(due)[1]
        name = self.repeats[source][0]
        self.repeats[source] = (name, now + _again(name))
        return self._begin(name, now, source=source)

    def hush(self) -> None:
        """Be quiet, and repeat nothing of what stands now."""
        self.repeats.clear()
        self._waiting = None
        self.sounding = Sounding()

    def shown(self, now: float) -> Cue | None:
        """The message that stands over the screen now."""
        for one in (self._answer, self._call):
            if one is not None and one.begins <= now < one.ends:
                return one.cue
        return None

    def taken_in(self, now: float) -> bool:
        """Whether all that was said has been heard and has stood on the screen for a while."""
        messages = (one.ends for one in (self._answer, self._call) if one is not None)
        last = max(self.sounding.until, self._spoke, *messages)
        return now - last >= SEEN_SECONDS

    def next_due(self) -> float | None:
        """When something is to be said again, or after what sounds now; None if nothing is."""
        dues = [at for _, at in self.repeats.values()]
        if self._waiting is not None:
            dues.append(self.sounding.until)
        return max(min(dues), self.sounding.until) if dues else None


def _urgency(cue: Cue) -> int:
    return catalogue.row(cue.name).urgency


def _on_screen(cue: Cue) -> bool:
    """Whether the screen that stands there anyway says a cue."""
    return catalogue.row(cue.name).show_seconds == 0


def _again(name: CueName) -> float:
    """Seconds after which a cue that stands is said again."""
    return catalogue.row(name).repeat_seconds or math.inf
