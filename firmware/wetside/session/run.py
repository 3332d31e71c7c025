"""Where a run stands: values only. The machine makes the next one, the screens read it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from wetside.session.outage import Outage
from wetside.session.sheet import Sheet, Step, StepKind


class State(StrEnum):
    """Where a run stands."""

    IDLE = "idle"
    TEMPERING = "tempering"
    READY = "ready"
    POURING = "pouring"
    RUNNING = "running"
    DRAINING = "draining"
    HANDOVER = "handover"
    LATE = "late"
    HOLDING = "holding"
    INTERRUPTED = "interrupted"
    FINISHED = "finished"
    ABANDONED = "abandoned"


#: States of a run that is over; no run is open in these and when idle.
ENDED_STATES = frozenset({State.FINISHED, State.ABANDONED})
#: States in which a run stands until somebody goes on with it.
STOOD_STATES = frozenset({State.HOLDING, State.INTERRUPTED})


@dataclass(frozen=True, slots=True)
class Developed:
    """What the develop step amounted to, in percent of the nominal development.

    ``low`` and ``high`` hold it with 90 % probability; ``text`` says all three.
    """

    percent: float
    low: float
    high: float
    text: str


@lru_cache(maxsize=64)
def _lasting(step: Step, seconds: float) -> Step:
    return step.model_copy(update={"seconds": seconds})


@dataclass(frozen=True, slots=True)
class StepRecord:
    """What a step was to be and what it was; times are monotonic seconds of the session.

    ``ended`` is None while the step lasts. For tempering ``planned_seconds`` is None; for a
    developer poured outside the window it may differ from the sheet's.
    """

    kind: StepKind
    planned_seconds: float | None
    began: float
    ended: float | None = None

    @property
    def actual_seconds(self) -> float | None:
        """How long it lasted, or None while it lasts."""
        return None if self.ended is None else self.ended - self.began

    @property
    def over_seconds(self) -> float | None:
        """How much longer than planned it lasted (below zero: shorter).

        None where nothing was planned or it still lasts.
        """
        actual, planned = self.actual_seconds, self.planned_seconds
        return None if actual is None or planned is None else actual - planned


@dataclass(frozen=True, slots=True)
class Session:
    """Everything about a run that decides what happens next.

    Times are monotonic seconds of the present boot: POWER_LOST shifts them.
    ``before`` is the state to go back to from HOLDING or INTERRUPTED; ``went_on`` is when a present
    step that may wait was last gone on with, None while it never waited. ``in_window`` says
    whether the developer was poured inside the window, None before it is poured.
    ``poured_celsius``, ``poured_sd`` and ``poured_bath_celsius`` are what was believed then.
    ``way`` says whether the student waited or poured now, where there was a choice;
    ``no_time_reason`` why no time could be given for pouring now.
    ``developed`` is what the develop step amounted to, once it is over.
    ``outage`` is how long the power was off while INTERRUPTED, where that is known; ``gap_text``
    says it.
    """

    state: State = State.IDLE
    run: str | None = None
    sheet: Sheet | None = None
    step: int = 0
    cursor: int = 0
    before: State | None = None
    went_on: float | None = None
    window_entered: float | None = None
    in_window: bool | None = None
    poured_celsius: float | None = None
    poured_sd: float | None = None
    poured_bath_celsius: float | None = None
    way: str | None = None
    no_time_reason: str | None = None
    developed: Developed | None = None
    agitating: bool = False
    steps: tuple[StepRecord, ...] = ()
    flags: tuple[str, ...] = ()
    gap_text: str | None = None
    outage: Outage | None = None

    @property
    def present(self) -> Step | None:
        """The present step as it is timed, None when idle.

        It is the sheet's own, save that it lasts as long as was decided at the pour or since.
        """
        if self.sheet is None:
            return None
        step = self.sheet.step[self.step]
        if len(self.steps) != self.step + 1:
            return step
        seconds = self.steps[-1].planned_seconds
        return step if seconds is None or seconds == step.seconds else _lasting(step, seconds)

    @property
    def following(self) -> Step | None:
        """The step after the present one, None after the last."""
        if self.sheet is None or self.step + 1 >= len(self.sheet.step):
            return None
        return self.sheet.step[self.step + 1]

    @property
    def developing(self) -> StepRecord | None:
        """The develop step as it was begun, None before the developer is poured."""
        return next((one for one in self.steps if one.kind is StepKind.DEVELOP), None)

    @property
    def began(self) -> float | None:
        """When the present step began."""
        return self.steps[-1].began if self.steps else None

    def remaining(self, now: float) -> float | None:
        """Seconds to the planned end of the present step; None outside of a timed step."""
        step, began = self.present, self.began
        if step is None or step.seconds is None or began is None or self.steps[-1].ended:
            return None
        return began + step.seconds - now

    @property
    def adjusted(self) -> bool:
        """Whether the developer step lasts otherwise than the sheet says."""
        return any(
            record.kind is StepKind.DEVELOP and record.planned_seconds != step.seconds
            for record, step in zip(self.steps, self.sheet.step if self.sheet else (), strict=False)
        )
