"""The shapes of the API's answers; names carry their units."""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from wetside.clock import Moment
from wetside.journal.schema import EventRow, RunRow
from wetside_desk import formats
from wetside_desk.review import Check, Promise, Review


class _Answer(BaseModel):
    model_config = ConfigDict(frozen=True)


class When(_Answer):
    """One moment. ``utc`` may be believed when ``trusted``; ``seconds`` counts from ``boot``."""

    utc: str
    trusted: bool
    seconds: float
    boot: str

    @classmethod
    def of(cls, moment: Moment) -> "When":
        """From the journal's moment."""
        return cls(
            utc=formats.iso_utc(moment.wall_seconds),
            trusted=moment.trusted,
            seconds=round(moment.seconds, 3),
            boot=moment.boot,
        )


class RunBrief(_Answer):
    """A run as lists show it. Members are null while they are not known."""

    id: str
    station: str
    sheet: str
    title: str
    state: str
    began: When
    ended: When | None = None
    listed_utc: str = Field(description="time under which the run is sorted and found by day")
    window_hit: bool | None = Field(
        default=None, description="whether the developer was poured inside the window"
    )
    poured_celsius: float | None = None
    target_celsius: float | None = None
    tolerance_celsius: float | None = None
    planned_develop_seconds: float | None = None
    actual_develop_seconds: float | None = None
    flags: list[str] = []
    href: str

    @classmethod
    def of(cls, row: RunRow) -> "RunBrief":
        """From the journal's row."""
        listed = row.listed_wall_seconds
        return cls(
            id=row.id,
            station=row.station,
            sheet=row.sheet_name,
            title=row.sheet_title,
            state=row.state,
            began=When.of(row.began),
            ended=When.of(row.ended) if row.ended else None,
            listed_utc=formats.iso_utc(row.began.wall_seconds if listed is None else listed),
            window_hit=row.window_hit,
            poured_celsius=row.poured_celsius,
            target_celsius=row.target_celsius,
            tolerance_celsius=row.tolerance_celsius,
            planned_develop_seconds=row.planned_develop_seconds,
            actual_develop_seconds=row.actual_develop_seconds,
            flags=list(row.flags),
            href=f"/v1/runs/{row.id}",
        )


class RunList(_Answer):
    """One page of runs, latest first; ``next`` is the address of the next page."""

    runs: list[RunBrief]
    next: str | None = None


class StepAnswer(_Answer):
    """One step, planned and actual; ``over_seconds`` below zero means shorter than planned."""

    kind: str
    began_after_seconds: float
    planned_seconds: float | None = None
    actual_seconds: float | None = None
    over_seconds: float | None = None


class EventAnswer(_Answer):
    """One event; ``after_seconds`` since the run began, null where that is not known."""

    seq: int
    kind: str
    after_seconds: float | None
    when: When
    detail: dict[str, Any]


class ForecastAnswer(_Answer):
    """What was forecast at one moment; all times in seconds since the run began."""

    after_seconds: float
    ready_p05: float | None
    ready_p50: float | None
    ready_p95: float | None
    leaves_p05: float | None
    leaves_p50: float | None
    leaves_p95: float | None
    never: float
    developer_celsius: float | None
    developer_sd: float | None
    bath_celsius: float | None
    bath_sd: float | None

    @classmethod
    def of(cls, promise: Promise) -> "ForecastAnswer":
        """From a forecast on the run's axis."""

        def tenth(value: float | None) -> float | None:
            return None if value is None else round(value, 1)

        return cls(
            after_seconds=round(promise.after_seconds, 3),
            ready_p05=tenth(promise.ready.p05),
            ready_p50=tenth(promise.ready.p50),
            ready_p95=tenth(promise.ready.p95),
            leaves_p05=tenth(promise.leaves.p05),
            leaves_p50=tenth(promise.leaves.p50),
            leaves_p95=tenth(promise.leaves.p95),
            never=promise.never,
            developer_celsius=promise.developer_celsius,
            developer_sd=promise.developer_sd,
            bath_celsius=promise.bath_celsius,
            bath_sd=promise.bath_sd,
        )


class ForecastCheckAnswer(_Answer):
    """A forecast against what happened, made at ``share`` of the wait.

    ``late_seconds`` is how much later than the median it happened; ``held`` says whether it
    happened inside the 5-95 % interval.
    """

    share: float
    after_seconds: float
    promised_seconds: float | None
    late_seconds: float | None
    held: bool

    @classmethod
    def of(cls, check: Check) -> "ForecastCheckAnswer":
        """From a check."""
        return cls(
            share=check.share,
            after_seconds=round(check.after_seconds, 3),
            promised_seconds=check.promised_seconds,
            late_seconds=check.late_seconds,
            held=check.held,
        )


class Happened(_Answer):
    """What the forecasts were about, in seconds since the run began; null = did not happen."""

    entered_after_seconds: float | None
    left_after_seconds: float | None
    poured_after_seconds: float | None


class RunAnswer(RunBrief):
    """One run with everything that was logged of it except the readings themselves."""

    axis_certain: bool = Field(
        description="false when a power cut of unknown length lies inside the run"
    )
    steps: list[StepAnswer]
    events: list[EventAnswer]
    happened: Happened
    forecasts: list[ForecastAnswer]
    checks: list[ForecastCheckAnswer]
    trace: str = Field(description="address of the readings as CSV")


def steps_of(review: Review) -> list[StepAnswer]:
    """The steps of a run, planned and actual."""
    if review.summary is None:
        return []
    return [
        StepAnswer(
            kind=str(step.kind),
            began_after_seconds=round(step.began_after_seconds, 3),
            planned_seconds=step.planned_seconds,
            actual_seconds=_rounded(step.actual_seconds),
            over_seconds=_rounded(step.over_seconds),
        )
        for step in review.summary.steps
    ]


def event_of(review: Review, row: EventRow) -> EventAnswer:
    """One event; the sheet inside ``begin`` stays in, so that the run explains itself."""
    return EventAnswer(
        seq=row.seq,
        kind=row.kind,
        after_seconds=_rounded(review.after(row)),
        when=When.of(row.moment),
        detail=dict(row.detail),
    )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)
