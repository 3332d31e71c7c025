"""A failed roll explained: from the outcome, the log and the shelf to causes and a remedy. Pure.

The rules are the table `wetside_desk.causes.RULES`. A rule belongs to outcomes, with a weight
for how often it is behind them, and looks for evidence for or against. What is found raises or
lowers that weight and does not stand above it: most ruined rolls were ruined where no probe looks,
so a small finding is no match for a likelier cause.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from wetside.development import baths
from wetside.development.agitation import Why
from wetside.session import step_times, warmth
from wetside.session.events import Kind
from wetside.session.sheet import Sheet, StepKind
from wetside.session.summary import RunSummary, StepOutcome
from wetside_desk.causes import RULES, Rule
from wetside_desk.evidence import Evidence, Facts, Weighs
from wetside_desk.review import Review
from wetside_desk.shelf.through import Bottles

#: Factors by which development speeds up for ten degrees, a low and a high one. Printed charts
#: run from 1.4 to 3.8; most lie between these (Carestream Dental, Intraoral Processing
#: Guidelines: 2.9; USAF T.O. 33B-1-1, table 6-16: 1.9).
COEFFICIENTS = (2.0, 3.0)


#: So many times a weight counts by what is known (judgement); what is refuted goes to the end.
COUNTS = {
    Weighs.FOR: 3.0,
    Weighs.HINT: 1.5,
    Weighs.UNSEEN: 1.0,
    Weighs.LITTLE: 0.5,
    Weighs.AGAINST: 0.0,
}


@dataclass(frozen=True, slots=True)
class Finding:
    """A rule applied to one run."""

    rule: Rule
    evidence: Evidence


def facts(review: Review, unit: str = "C", bottles: Bottles | None = None) -> Facts:
    """What the rules look at, from the review of a run and the bottles that it went through.

    ``unit`` is the teacher's, C or F.
    """
    there = Bottles() if bottles is None else bottles
    summary, sheet = review.summary, review.session.sheet
    if summary is None or sheet is None:
        return Facts(known=False, bottles=there, unit=unit)
    develop = next((step for step in summary.steps if step.kind is StepKind.DEVELOP), None)
    actual = None if develop is None else develop.actual_seconds
    fix, wash = (_together(sheet, summary.steps, kind) for kind in (StepKind.FIX, StepKind.WASH))
    poured, law = summary.poured_celsius, sheet.develop.development
    return Facts(
        develop_planned=sheet.develop.seconds,
        develop_actual=actual,
        poured_celsius=poured,
        poured_off=None if poured is None else poured - summary.target_celsius,
        inside=summary.window_hit,
        development=_development(review, sheet, summary, actual),
        fix_planned=fix[0],
        fix_actual=fix[1],
        wash_planned=wash[0],
        wash_actual=wash[1],
        had_wet=any(step.kind is StepKind.WET for step in summary.steps),
        stop_late=_stop_late(summary, develop),
        missed_agitation=sum(_missed_agitation(review, summary)),
        power_lost=any(
            event.kind == Kind.POWER_LOST and _step_at(summary, review.after(event)) is develop
            for event in review.events
            if develop is not None
        ),
        fix_doubt=_said(step_times.short_fixing(sheet)),
        wash_doubt=_said(step_times.washing(sheet)),
        wide_baths=_wide(sheet, poured),
        stopped=step_times.stopped(sheet),
        has_wash=any(step.kind is StepKind.WASH for step in sheet.step),
        longer_counted=law is not None and any(one.why is Why.REUSE for one in law.factor),
        bottles=there,
        unit=unit,
    )


def _said(notes: Iterable[tuple[str, str]]) -> str:
    return "; ".join(said for _, said in notes)


def _development(
    review: Review, sheet: Sheet, summary: RunSummary, actual: float | None
) -> tuple[float, float] | None:
    """How much more or less development there was than the sheet's own time and target make."""
    told = review.session.developed
    if told is not None:  # the station's own figure knows the tank's way as well
        return told.low / 100.0 - 1.0, told.high / 100.0 - 1.0
    planned, poured = sheet.develop.seconds, summary.poured_celsius
    if not planned or not actual or poured is None:
        return None
    off = poured - summary.target_celsius
    first, second = (
        actual / planned * coefficient ** (off / 10.0) - 1.0 for coefficient in COEFFICIENTS
    )
    return min(first, second), max(first, second)


def _stop_late(summary: RunSummary, develop: StepOutcome | None) -> float:
    """How late the bath after the developer came; 0 where that was within what is allowed."""
    if develop is None or f"late-{StepKind.DEVELOP}" not in summary.flags:
        return 0.0
    return max(develop.over_seconds or 0.0, 0.0)


def _missed_agitation(review: Review, summary: RunSummary) -> Iterator[bool]:
    for event in review.events:
        if event.kind == Kind.AGITATE and event.detail.get("missed") is True:
            step = _step_at(summary, review.after(event))
            yield step is not None and step.kind is StepKind.DEVELOP


def _step_at(summary: RunSummary, after: float | None) -> StepOutcome | None:
    """The step in which a moment of the run lies; None where it cannot be told."""
    if after is None:
        return None
    begun = [step for step in summary.steps if step.began_after_seconds <= after]
    return begun[-1] if begun else None


def _wide(sheet: Sheet, poured: float | None) -> tuple[str, ...]:
    """Which baths of the sheet lie too far from the developer as it was poured."""
    developer = sheet.setup().target_celsius if poured is None else poured
    return tuple(step.text for step in baths.too_large(developer, warmth.other_baths(sheet)))


def _together(
    sheet: Sheet, steps: Iterable[StepOutcome], kind: StepKind
) -> tuple[float | None, float | None]:
    """Seconds planned and taken by all steps of a kind (two fixers, two washes).

    Planned is None where none of them was reached, taken while one is not over.
    """
    wanted = [step.seconds or 0.0 for step in sheet.step if step.kind is kind]
    taken = [step.actual_seconds for step in steps if step.kind is kind]
    if not taken:
        return None, None
    over = [seconds for seconds in taken if seconds is not None]
    return sum(wanted), sum(over) if len(over) == len(taken) else None


def explain(outcome: str, seen: Facts) -> list[Finding]:
    """Causes of an outcome, the likeliest first; empty where the table has none."""
    found = [Finding(rule, rule.look(seen)) for rule in RULES if outcome in rule.outcomes]

    def counts(finding: Finding) -> float:
        return COUNTS[finding.evidence.weighs] * finding.rule.outcomes[outcome]

    return sorted(found, key=counts, reverse=True)
