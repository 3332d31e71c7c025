"""The developer from tempering to the end of its step: the choice, its tank, what came of it."""

from __future__ import annotations

from collections.abc import Sequence

from wetside.development.baths import Step as BathStep
from wetside.development.choose import Choice, Help
from wetside.development.tank import Stands
from wetside.outlook import Outlook, Temperature
from wetside.readings import Place, Reading
from wetside.session.agitation import Pattern
from wetside.session.chemistry import choice_of
from wetside.session.effect import Around, effect_detail, moved_end_detail
from wetside.session.events import Event, Kind
from wetside.session.machine import TABLE
from wetside.session.run import Session, State
from wetside.session.sheet import Sheet, StepKind
from wetside.session.warmth import wide_steps

#: The two ways are compared this often.
CHOICE_SECONDS = 1.0
#: Readings of the bath around the tank are kept this often.
JACKET_SECONDS = 5.0
#: The end of the step is thought over this often.
END_SECONDS = 20.0


class DeveloperWatch:
    """What the station knows of the developer beside the run itself.

    It may be lost with the process: the run and the journal hold what matters.

    Parameters
    ----------
    room
        The room's air, None where nobody measured it.
    """

    def __init__(self, room: Temperature | None) -> None:
        self.choice: Choice | None = None
        self.wide_steps: tuple[BathStep, ...] = ()
        self._room = room
        self._compared: float | None = None
        self._jacket: list[tuple[float, float]] = []
        self._jacket_probe: str | None = None
        self._step_began: float | None = None
        self._thought_over: float | None = None
        self._told: str | None = None

    def begin_run(self, sheet: Sheet) -> None:
        """A run begins, or is taken up: what was said of the one before no longer counts."""
        self.wide_steps = wide_steps(sheet)
        self.choice, self._compared, self._step_began = None, None, None

    def compare(
        self, session: Session, outlook: Outlook | None, now: float, help_: Help | None = None
    ) -> None:
        """Compare waiting, with what is advised, and pouring now, at most once in a while."""
        if session.state is not State.TEMPERING or session.sheet is None:
            self.choice, self._compared = None, None
            return
        if self._compared is None or now - self._compared >= CHOICE_SECONDS:
            self._compared = now
            self.choice = choice_of(session.sheet, outlook, help_)

    def hear(self, session: Session, readings: Sequence[Reading]) -> None:
        """Keep what a probe in the bath says while the tank stands in it."""
        step, began, sheet = session.present, session.began, session.sheet
        if step is None or began is None or step.kind is not StepKind.DEVELOP or sheet is None:
            return
        if began != self._step_began:
            self._step_began, self._jacket, self._jacket_probe = began, [], None
            self._thought_over = None
        if sheet.tank_stands is not Stands.BATH:
            return
        for reading in readings:
            if reading.place is not Place.BATH or reading.celsius is None:
                continue
            self._jacket_probe = self._jacket_probe or reading.probe
            since = reading.seconds - began
            kept = self._jacket[-1][0] if self._jacket else -JACKET_SECONDS
            if reading.probe == self._jacket_probe and since - kept >= JACKET_SECONDS:
                self._jacket.append((since, reading.celsius))

    def event(self, session: Session, now: float, *, taken_in: bool = True) -> Event | None:
        """What the run should be told now: its end is moved, or what the step amounted to.

        A new end is told only when all that was said before was ``taken_in``.
        """
        if Kind.DEVELOPED in TABLE[session.state]:
            done = self._effect(session, now)
            if done is not None:
                return done
        if session.state is not State.RUNNING:
            self._thought_over = None
            return None
        step = session.present
        if step is None or step.kind is not StepKind.DEVELOP:
            return None
        ordered = session.agitating and step.agitation.pattern is Pattern.INTERMITTENT
        if ordered or not taken_in:
            return None  # the message would not cover the order, or the end of one too soon
        if self._thought_over is not None and now - self._thought_over < END_SECONDS:
            return None
        self._thought_over = now
        detail = moved_end_detail(session, self._around())
        return None if detail is None else Event(Kind.END_MOVED, now, detail)

    def _effect(self, session: Session, now: float) -> Event | None:
        """Once for a run, when its develop step is over."""
        develop = session.developing
        if develop is None or develop.ended is None or session.developed is not None:
            return None
        if session.run == self._told:
            return None  # nothing can be said of it, and that will not change
        self._told = session.run
        detail = effect_detail(session, self._around())
        return None if detail is None else Event(Kind.DEVELOPED, now, detail)

    def _around(self) -> Around:
        return Around(self._room, tuple(self._jacket))
