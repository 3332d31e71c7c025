"""What presses do at the station: events of the run, or something about the station itself."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from ulid import ULID

from wetside.clock import Clock
from wetside.outlook import Outlook, Setup
from wetside.ports import Parts
from wetside.session import presses, record
from wetside.session.chemistry import choice_object, pour_detail
from wetside.session.events import Event, Json, Kind
from wetside.session.machine import receive
from wetside.session.presses import Act, Button, Press
from wetside.session.run import STOOD_STATES, Session, State
from wetside.session.sheet import Sheet
from wetside.session.sheetbook import Offer
from wetside.session.signals import Cue, CueName
from wetside.station.developer import DeveloperWatch
from wetside.station.diary import Diary
from wetside.station.senses import Senses
from wetside.station.speech import Speech
from wetside.units import clock_text

#: Target of the idle display when no sheet is there.
_NO_SHEET = Setup(target_celsius=20.0)

#: What is said when the sheet on the display is not the one that is there any more.
_CHANGED = "the sheet changed, look again"

#: A short press of now so soon after one that was taken is of the same hand and means nothing;
#: nor does a long one begin another run.
_SAME_HAND_SECONDS = 2.0

#: What is said when the present state would take a press that the one it went down in did not.
_TOO_EARLY = "too early"

#: What a press comes to: an event of the run, or none, and cues that answer it.
Answer = tuple[Event | None, tuple[Cue, ...]]


def setup_of(offered: Sheet | None) -> Setup:
    """What the thermal core is told while nothing runs."""
    return offered.setup() if offered else _NO_SHEET


class Hands:
    """Answers the three buttons of one station.

    Parameters
    ----------
    clock, parts, diary
        The edges that a press may touch.
    senses, developer, speech
        What is known of the bath and the developer, and what is being said.
    sheets
        What can be processed; the first is offered first.
    renew
        Gives the sheets as they are now, or None where they never change.
    lights_out
        Whether the display begins dark.
    """

    def __init__(
        self,
        clock: Clock,
        parts: Parts,
        diary: Diary,
        senses: Senses,
        developer: DeveloperWatch,
        speech: Speech,
        sheets: Sequence[Offer],
        renew: Callable[[], Sequence[Offer]] | None = None,
        *,
        lights_out: bool = False,
    ) -> None:
        self.lights_out = lights_out
        parts.screen.dark(on=lights_out)
        self.last_touch = clock.now()
        self.address_asked: float | None = None
        self._clock = clock
        self._parts = parts
        self._diary = diary
        self._senses = senses
        self._developer = developer
        self._speech = speech
        self._sheets = list(sheets)
        self._renew = renew
        self._offer = self._sheets[0] if self._sheets else None
        self._asked: presses.Question | None = None
        self._taken_seconds = -math.inf

    @property
    def offered(self) -> Sheet | None:
        """The sheet that the display shows, and no other one is begun."""
        return self._offer.sheet if self._offer else None

    def pressed(self, session: Session, press: Press, then: Session | None = None) -> Answer:
        """Answer a press; ``then`` is the session in which it went down, if another."""
        then = then or session
        self.last_touch = press.seconds
        asked = presses.meaning(then, press, self._asked)
        self._asked = self.address_asked = None
        if self._same_hand(press, asked) or presses.overtaken(asked, session):
            return None, ()
        if isinstance(asked, Act):
            return None, self._act(asked, session, press.seconds)
        if asked is Kind.BEGIN:
            return self._begin(session, press.seconds)
        event = Event(asked, press.seconds, _said_with(asked, then, self._senses.outlook))
        if _is_refused(session, event):
            return event, ()
        if _is_refused(then, event):
            return None, self._refuse(press.seconds, _TOO_EARLY, session)
        if press.button is Button.NOW:
            self._taken_seconds = press.seconds
        return event, ()

    def _same_hand(self, press: Press, asked: Kind | Act) -> bool:
        """Whether this is the second press of one that was just taken."""
        if press.button is not Button.NOW or (press.long and asked is not Kind.BEGIN):
            return False
        return press.seconds - self._taken_seconds < _SAME_HAND_SECONDS

    def _act(self, act: Act, session: Session, seconds: float) -> tuple[Cue, ...]:
        if act is Act.MOVE_PROBE:
            where = {name: str(place) for name, place in self._senses.move().items()}
            self._log("place", {"at": seconds, **where}, session)
        elif act is Act.LIGHTS:
            self.lights_out = not self.lights_out
            self._parts.screen.dark(on=self.lights_out)
            self._log("lights", {"at": seconds, "out": self.lights_out}, session)
        elif act is Act.HUSH:
            self._parts.sounder.hush()
            self._speech.hush()
            self._log("hush", {"at": seconds}, session)
        elif act is Act.NEXT_SHEET:
            self._read_again()
            self._show(self._of_file(further=1))
        elif act is Act.ADDRESS:
            self.address_asked = seconds
        elif act is Act.ASK_ABANDON:
            self._asked = presses.Question(act, seconds)
            stands = session.state in STOOD_STATES
            why = "the roll stands" if stands else "this cannot wait"
            self._log("give-up-asked", {"at": seconds, "why": why}, session)
            return (Cue(CueName.GIVE_UP_ASKED, seconds, {"why": why}),)
        elif act is Act.ASK_END:
            self._asked = presses.Question(act, seconds)
            why = _to_go(session, seconds)
            self._log("end-asked", {"at": seconds, "why": why}, session)
            return (Cue(CueName.END_ASKED, seconds, {"why": why}),)
        elif act is Act.TOO_EARLY:
            return self._ask(seconds, session)
        return ()

    def _refuse(self, seconds: float, reason: str, session: Session) -> tuple[Cue, ...]:
        self._log("refused", {"at": seconds, "reason": reason}, session)
        return (Cue(CueName.REFUSED, seconds, {"reason": reason}),)

    def _ask(self, seconds: float, session: Session) -> tuple[Cue, ...]:
        """Somebody pressed before the window: show both ways, or say that it is too early."""
        if self._senses.only_a_dip_tells:
            return self._refuse(seconds, "dip; or hold to pour", session)
        choice = self._developer.choice
        if choice is None:
            return self._refuse(seconds, "not ready; hold to pour", session)
        self._log("choice-shown", {"at": seconds, **choice_object(choice)}, session)
        wait, pour = choice.lines
        return (Cue(CueName.CHOICE, seconds, {"wait": wait, "pour": pour}),)

    def _begin(self, session: Session, seconds: float) -> Answer:
        self._read_again()
        if self._offer is None or self._offer not in self._sheets:
            self._show(self._of_file())
            why = _CHANGED if self._sheets else "no sheet is there"
            return None, self._refuse(seconds, why, session)
        self._diary.began = began = self._clock.moment()
        self._taken_seconds = seconds
        run = str(ULID.from_timestamp(began.wall_seconds))
        return record.begin(seconds, run, self._offer.sheet), ()

    def _read_again(self) -> None:
        """Take the sheets as the desk left them; what is offered stays what the display shows."""
        if self._renew is not None:
            self._sheets = list(self._renew())

    def _of_file(self, further: int = 0) -> Offer | None:
        """The sheet in the offered file as it is now, or so many further on; else the first."""
        if not self._sheets:
            return None
        files = [one.file for one in self._sheets]
        if self._offer is None or self._offer.file not in files:
            return self._sheets[0]
        return self._sheets[(files.index(self._offer.file) + further) % len(files)]

    def _show(self, offer: Offer | None) -> None:
        """Offer another sheet: the display shows it, and its target is what is tempered for."""
        if offer != self._offer:
            self._offer = offer
            self._senses.forget(setup_of(self.offered))

    def _log(self, kind: str, detail: Mapping[str, Json], session: Session) -> None:
        self._diary.log(kind, detail, session)


def _is_refused(session: Session, event: Event) -> bool:
    _, cues = receive(session, event)
    return any(cue.name is CueName.REFUSED for cue in cues)


def _to_go(session: Session, seconds: float) -> str:
    """How much of the present step is still to come, as the display says it."""
    left, step = session.remaining(seconds), session.present
    if left is None or step is None:
        return "it is not over"
    return f"{step.kind}: {clock_text(max(0.0, left))} to go"


def _said_with(kind: Kind, session: Session, outlook: Outlook | None) -> dict[str, Json]:
    """What a press carries: the developer as it is poured, or that nobody watched it lately."""
    if kind in {Kind.RESUME, Kind.CONTINUE} and session.before is State.READY:
        return {"unwatched": True}
    pours = kind is Kind.NOW and session.state in {State.TEMPERING, State.READY}
    if not pours or session.sheet is None:
        return {}
    inside = session.state is State.READY
    return {"in_window": inside, **pour_detail(session.sheet, outlook, inside=inside)}
