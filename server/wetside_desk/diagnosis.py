"""A failed roll explained: from the outcome and the log to causes, evidence and a remedy. Pure.

The rules are the table `wetside_desk.causes.RULES`. A rule belongs to outcomes, with a weight
for how often it is behind them, and looks into the log for evidence for or against. Causes
with evidence come first; causes that the log cannot see stay in the list, marked so, because
most ruined rolls were ruined where no probe looks.
"""

from __future__ import annotations

from dataclasses import dataclass

from wetside_desk.causes import RULES, Rule
from wetside_desk.evidence import Evidence, Facts, Weighs
from wetside_desk.review import Review

#: Factors by which development speeds up for ten degrees, a low and a high one. Printed charts
#: run from 1.4 to 3.8; most lie between these (Carestream Dental, Intraoral Processing
#: Guidelines: 2.9; USAF T.O. 33B-1-1, table 6-16: 1.9).
COEFFICIENTS = (2.0, 3.0)


@dataclass(frozen=True, slots=True)
class Finding:
    """A rule applied to one run."""

    rule: Rule
    evidence: Evidence


def facts(
    review: Review, missed_cues: int = 0, bath_jump: float | None = None, unit: str = "C"
) -> Facts:
    """What the rules look at, from the review of a run; ``unit`` is the teacher's, C or F.

    ``bath_jump`` is the largest difference between the developer and a later bath.
    """
    summary = review.summary
    if summary is None:
        return Facts(missed_cues=missed_cues, unit=unit)
    steps = {str(step.kind): step for step in summary.steps}
    develop, fix, wash = steps.get("develop"), steps.get("fix"), steps.get("wash")
    off = (
        summary.poured_celsius - summary.target_celsius
        if summary.poured_celsius is not None
        else None
    )
    planned = develop.planned_seconds if develop else None
    actual = develop.actual_seconds if develop else None
    development = None
    if planned and actual and off is not None:
        first, second = (
            actual / planned * coefficient ** (off / 10.0) - 1.0 for coefficient in COEFFICIENTS
        )
        development = (min(first, second), max(first, second))
    for event in review.events:  # the station's own figure knows the tank's way as well
        low, high = event.detail.get("low"), event.detail.get("high")
        if event.kind == "effective-development" and isinstance(low, float | int):
            assert isinstance(high, float | int)  # noqa: S101  # both or none, as session/effect.py
            development = (low / 100.0 - 1.0, high / 100.0 - 1.0)
    return Facts(
        develop_planned=planned,
        develop_actual=actual,
        poured_off=off,
        inside=summary.window_hit,
        development=development,
        fix_planned=fix.planned_seconds if fix else None,
        fix_actual=fix.actual_seconds if fix else None,
        wash_planned=wash.planned_seconds if wash else None,
        wash_actual=wash.actual_seconds if wash else None,
        had_wet="wet" in steps,
        late=tuple(
            flag.removeprefix("late-") for flag in summary.flags if flag.startswith("late-")
        ),
        bath_jump=bath_jump,
        missed_cues=missed_cues,
        power_lost="power-lost" in summary.flags,
        unit=unit,
    )


def explain(outcome: str, seen: Facts) -> list[Finding]:
    """Causes of an outcome, the likeliest first; empty for an outcome nobody need explain."""
    order = {Weighs.FOR: 0, Weighs.UNSEEN: 1, Weighs.AGAINST: 2}
    found = [Finding(rule, rule.look(seen)) for rule in RULES if outcome in rule.outcomes]
    return sorted(
        found,
        key=lambda finding: (order[finding.evidence.weighs], -finding.rule.outcomes[outcome]),
    )
