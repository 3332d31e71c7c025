"""What a run came to, for the screen, the list of runs and the teacher. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from wetside.session.run import ENDED_STATES, Session, State
from wetside.session.sheet import StepKind

#: Film that waits longer than this between two steps was left standing (common practice).
LONGEST_HAND_OVER_SECONDS = 300.0


@dataclass(frozen=True, slots=True)
class StepOutcome:
    """One step, planned and actual.

    ``over_seconds`` is how much longer than planned it lasted (below zero: shorter), None
    where nothing was planned or the step still lasts.
    """

    kind: StepKind
    planned_seconds: float | None
    actual_seconds: float | None
    over_seconds: float | None
    began_after_seconds: float


@dataclass(frozen=True, slots=True)
class RunSummary:
    """A run in short.

    ``window_hit``: the developer was poured inside the window; None before it was poured.
    ``chosen`` is the way that was taken where the sheet has a law, "wait" or "pour now".
    ``effective_text`` is the development against nominal in words, None where it is not known.
    """

    run: str
    sheet: str
    title: str
    state: State
    window_hit: bool | None
    poured_celsius: float | None
    target_celsius: float
    tolerance_celsius: float
    began_seconds: float
    ended_seconds: float | None
    steps: tuple[StepOutcome, ...]
    flags: tuple[str, ...]
    chosen: str | None = None
    effective_text: str | None = None

    @property
    def total_seconds(self) -> float | None:
        """From the first press to the last, None while the run is open."""
        return None if self.ended_seconds is None else self.ended_seconds - self.began_seconds


def hand_overs(session: Session) -> tuple[float, ...]:
    """Seconds lost after the timed steps of a run, in order; none where holds or a cut hide them.

    A step ends when the next is poured, so what it lasted over its time is the hand-over. A step
    that somebody ended early tells nothing of it.
    """
    if {"held", "power-lost"} & set(session.flags):
        return ()
    over = (step.over_seconds for step in session.steps)
    return tuple(
        seconds
        for seconds in over
        if seconds is not None and 0.0 <= seconds <= LONGEST_HAND_OVER_SECONDS
    )


def summarise(session: Session) -> RunSummary | None:
    """The run of this session in short; None when there is none."""
    if session.sheet is None or session.run is None or not session.steps:
        return None
    setup = session.sheet.setup()
    began, developed = session.steps[0].began, session.developed
    return RunSummary(
        run=session.run,
        sheet=session.sheet.name,
        title=session.sheet.title,
        state=session.state,
        window_hit=session.in_window,
        poured_celsius=session.poured_celsius,
        target_celsius=setup.target_celsius,
        tolerance_celsius=setup.tolerance_celsius,
        began_seconds=began,
        ended_seconds=(session.steps[-1].ended if session.state in ENDED_STATES else None),
        steps=tuple(
            StepOutcome(
                kind=record.kind,
                planned_seconds=record.planned_seconds,
                actual_seconds=record.actual_seconds,
                over_seconds=record.over_seconds,
                began_after_seconds=record.began - began,
            )
            for record in session.steps
        ),
        flags=session.flags,
        chosen=session.way,
        effective_text=developed.text if developed else None,
    )
