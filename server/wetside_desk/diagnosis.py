"""A failed roll explained: from the outcome and the log to causes, evidence and a remedy. Pure.

The rules are the table `wetside_desk.causes.RULES`. A rule belongs to outcomes, with a weight
for how often it is behind them, and looks into the log for evidence for or against. Causes
with evidence come first; causes that the log cannot see stay in the list, marked so, because
most ruined rolls were ruined where no probe looks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from wetside.session.sheet import StepKind
from wetside.session.summary import StepOutcome
from wetside_desk.causes import RULES, Rule
from wetside_desk.evidence import Evidence, Facts, Weighs
from wetside_desk.review import Review

#: Factors by which development speeds up for ten degrees, a low and a high one. Printed charts
#: run from 1.4 to 3.8; most lie between these (Carestream Dental, Intraoral Processing
#: Guidelines: 2.9; USAF T.O. 33B-1-1, table 6-16: 1.9).
COEFFICIENTS = (2.0, 3.0)


_TIMED = (StepKind.DEVELOP, StepKind.FIX, StepKind.WASH)


@dataclass(frozen=True, slots=True)
class Finding:
    """A rule applied to one run."""

    rule: Rule
    evidence: Evidence


def facts(review: Review, unit: str = "C") -> Facts:
    """What the rules look at, from the review of a run; ``unit`` is the teacher's, C or F."""
    missed = sum(event.detail.get("missed") is True for event in review.events)
    summary = review.summary
    if summary is None:
        return Facts(missed_cues=missed, unit=unit)
    develop, fix, wash = (_together(summary.steps, kind) for kind in _TIMED)
    off = (
        summary.poured_celsius - summary.target_celsius
        if summary.poured_celsius is not None
        else None
    )
    planned, actual = develop
    development = None
    if planned and actual and off is not None:
        first, second = (
            actual / planned * coefficient ** (off / 10.0) - 1.0 for coefficient in COEFFICIENTS
        )
        development = (min(first, second), max(first, second))
    told = review.session.developed
    if told is not None:  # the station's own figure knows the tank's way as well
        development = (told.low / 100.0 - 1.0, told.high / 100.0 - 1.0)
    return Facts(
        develop_planned=planned,
        develop_actual=actual,
        poured_celsius=summary.poured_celsius,
        poured_off=off,
        inside=summary.window_hit,
        development=development,
        fix_planned=fix[0],
        fix_actual=fix[1],
        wash_planned=wash[0],
        wash_actual=wash[1],
        had_wet=any(step.kind is StepKind.WET for step in summary.steps),
        late=tuple(
            flag.removeprefix("late-") for flag in summary.flags if flag.startswith("late-")
        ),
        missed_cues=missed,
        power_lost="power-lost" in summary.flags,
        unit=unit,
    )


def _together(steps: Iterable[StepOutcome], kind: StepKind) -> tuple[float | None, float | None]:
    """Seconds planned and taken by all steps of a kind (two fixers, two washes); None where none.

    What was taken is None while one of them is not known.
    """
    mine = [step for step in steps if step.kind is kind]
    planned = [step.planned_seconds for step in mine if step.planned_seconds is not None]
    taken = [step.actual_seconds for step in mine if step.actual_seconds is not None]
    whole = bool(mine) and len(planned) == len(mine)
    return sum(planned) if whole else None, sum(taken) if len(taken) == len(mine) > 0 else None


def explain(outcome: str, seen: Facts) -> list[Finding]:
    """Causes of an outcome, the likeliest first; empty for an outcome nobody need explain."""
    order = {Weighs.FOR: 0, Weighs.UNSEEN: 1, Weighs.AGAINST: 2}
    found = [Finding(rule, rule.look(seen)) for rule in RULES if outcome in rule.outcomes]
    return sorted(
        found,
        key=lambda finding: (order[finding.evidence.weighs], -finding.rule.outcomes[outcome]),
    )
