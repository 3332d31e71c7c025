"""A failed roll explained: from the outcome and the log to causes, evidence and a remedy. Pure.

The rules are the table `RULES`; the page /rules shows it as it stands. A rule belongs to
outcomes, with a weight for how often it is behind them, and looks into the log for evidence
for or against. Causes with evidence come first; causes that the log cannot see stay in the
list, marked so, because most ruined rolls were ruined where no probe looks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from wetside_desk.review import Review

#: Factors by which development speeds up for ten degrees, a low and a high one. Printed charts
#: run from 1.4 to 3.8; most lie between these (Carestream Dental, Intraoral Processing
#: Guidelines: 2.9; USAF T.O. 33B-1-1, table 6-16: 1.9).
COEFFICIENTS = (2.0, 3.0)
#: More or less development than this is visible in a print.
_VISIBLE = 0.08


class Weighs(StrEnum):
    """What the log says of a cause."""

    FOR = "the log shows it"
    UNSEEN = "the log cannot see it"
    AGAINST = "the log speaks against it"


@dataclass(frozen=True, slots=True)
class Facts:
    """What the rules look at. None = not known. Seconds and degrees Celsius.

    ``development`` is how much more (above 0) or less development there was than the sheet
    asks for, as a share, from the lower and the upper coefficient.
    """

    develop_planned: float | None = None
    develop_actual: float | None = None
    poured_off: float | None = None
    inside: bool | None = None
    development: tuple[float, float] | None = None
    fix_planned: float | None = None
    fix_actual: float | None = None
    wash_planned: float | None = None
    wash_actual: float | None = None
    had_wet: bool | None = None
    late: tuple[str, ...] = ()
    bath_jump: float | None = None
    missed_cues: int = 0
    power_lost: bool = False


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a rule found in the log."""

    weighs: Weighs
    says: str


@dataclass(frozen=True, slots=True)
class Rule:
    """One cause. ``outcomes`` maps outcome to weight, 1 to 10."""

    name: str
    cause: str
    outcomes: Mapping[str, int]
    change: str
    source: str
    look: Callable[[Facts], Evidence]


@dataclass(frozen=True, slots=True)
class Finding:
    """A rule applied to one run."""

    rule: Rule
    evidence: Evidence


def facts(review: Review, missed_cues: int = 0, bath_jump: float | None = None) -> Facts:
    """What the rules look at, from the review of a run.

    ``bath_jump`` is the largest difference between the developer and a later bath.
    """
    summary = review.summary
    if summary is None:
        return Facts(missed_cues=missed_cues)
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
    )


def explain(outcome: str, seen: Facts) -> list[Finding]:
    """Causes of an outcome, the likeliest first; empty for an outcome nobody need explain."""
    order = {Weighs.FOR: 0, Weighs.UNSEEN: 1, Weighs.AGAINST: 2}
    found = [Finding(rule, rule.look(seen)) for rule in RULES if outcome in rule.outcomes]
    return sorted(
        found,
        key=lambda finding: (order[finding.evidence.weighs], -finding.rule.outcomes[outcome]),
    )


def _unseen(says: str) -> Callable[[Facts], Evidence]:
    evidence = Evidence(Weighs.UNSEEN, says)
    return lambda _: evidence


def _percent(share: tuple[float, float]) -> str:
    low, high = sorted(abs(round(100 * part)) for part in share)
    return f"{low} %" if low == high else f"{low} to {high} %"


def _less(seen: Facts) -> Evidence:
    if seen.development is None:
        return Evidence(Weighs.UNSEEN, "The pouring or the time was not logged.")
    if max(seen.development) < -_VISIBLE / 2 and min(seen.development) < -_VISIBLE:
        return Evidence(
            Weighs.FOR, f"About {_percent(seen.development)} less development than the sheet."
        )
    return Evidence(Weighs.AGAINST, _amount(seen))


def _more(seen: Facts) -> Evidence:
    if seen.development is None:
        return Evidence(Weighs.UNSEEN, "The pouring or the time was not logged.")
    if min(seen.development) > _VISIBLE / 2 and max(seen.development) > _VISIBLE:
        return Evidence(
            Weighs.FOR, f"About {_percent(seen.development)} more development than the sheet."
        )
    return Evidence(Weighs.AGAINST, _amount(seen))


def _amount(seen: Facts) -> str:
    off = "" if seen.poured_off is None else f", poured {seen.poured_off:+.1f} °C off the target"
    over = (seen.develop_actual or 0.0) - (seen.develop_planned or 0.0)
    return f"Developed {over:+.0f} s against the sheet{off}."


def _short(planned: float | None, actual: float | None, name: str) -> Evidence:
    if planned is None:
        return Evidence(Weighs.FOR, f"The sheet has no {name} step, or it was not reached.")
    if actual is None:
        return Evidence(Weighs.FOR, f"The {name} step was begun and not ended.")
    if actual < 0.9 * planned:
        return Evidence(Weighs.FOR, f"{name.capitalize()} {actual:.0f} s of {planned:.0f} s.")
    return Evidence(Weighs.AGAINST, f"{name.capitalize()} as long as planned ({actual:.0f} s).")


def _missed(seen: Facts) -> Evidence:
    if seen.missed_cues or seen.power_lost:
        why = "the power was lost" if seen.power_lost else f"{seen.missed_cues} cues were missed"
        return Evidence(Weighs.FOR, f"During this run {why}.")
    return Evidence(Weighs.UNSEEN, "Every cue was given; whether it was followed is not logged.")


def _late_drain(seen: Facts) -> Evidence:
    late = [name for name in seen.late if name in {"develop", "stop"}]
    if late:
        return Evidence(Weighs.FOR, f"The next bath came late after: {', '.join(late)}.")
    return Evidence(Weighs.AGAINST, "Developer and stop bath were changed in time.")


def _jump(seen: Facts) -> Evidence:
    if seen.bath_jump is None:
        return Evidence(Weighs.UNSEEN, "No probe was in the later baths.")
    if seen.bath_jump > 5.0:
        return Evidence(Weighs.FOR, f"Baths differed by {seen.bath_jump:.1f} °C.")
    return Evidence(Weighs.AGAINST, f"Baths differed by {seen.bath_jump:.1f} °C at most.")


def _no_wet(seen: Facts) -> Evidence:
    if seen.had_wet is False:
        return Evidence(Weighs.FOR, "No wetting agent was used in this run.")
    return Evidence(Weighs.UNSEEN, "A wetting agent was used; its strength is not logged.")


_PRACTICE = "common practice"
_NAVY = "US Navy, NAVEDTRA 14209, p. 10-24"
_ARMY = "US Army Signal Center, SS0509-8"

RULES: tuple[Rule, ...] = (
    Rule(
        "less-development",
        "Too little development: too cold, too short, or both",
        {"thin": 8, "blank": 2},
        "Pour only inside the window and start the clock with the pouring. For this film the "
        "exposed images can be printed on a harder grade.",
        "charts of time and temperature, such as USAF T.O. 33B-1-1, table 6-16",
        _less,
    ),
    Rule(
        "more-development",
        "Too much development: too warm, too long, or both",
        {"dense": 8},
        "Wait for the window, and drain at the drain cue: the developer works until the stop "
        "bath is in.",
        "charts of time and temperature, such as USAF T.O. 33B-1-1, table 6-16",
        _more,
    ),
    Rule(
        "underexposed",
        "Underexposed in the camera",
        {"thin": 6, "blank": 5},
        "Look at the edge numbers: black numbers and empty frames mean that development was "
        "right and light was missing. Check the film speed set on the camera.",
        _PRACTICE,
        _unseen("The camera is not logged. Edge numbers tell."),
    ),
    Rule(
        "overexposed",
        "Overexposed in the camera",
        {"dense": 6},
        "Dense frames between clear edges mean too much light. Check the film speed set on the "
        "camera.",
        _PRACTICE,
        _unseen("The camera is not logged. Edge density tells."),
    ),
    Rule(
        "tired-developer",
        "Developer exhausted, too dilute or wrongly mixed",
        {"thin": 6, "blank": 4},
        "Mix fresh, test a snippet of exposed film in room light before the next roll, and write "
        "the mixing date on the bottle.",
        _PRACTICE,
        _unseen("The state of the solution is not logged here; look at the bottle's date."),
    ),
    Rule(
        "fixer-first",
        "Fixer or stop bath poured before the developer",
        {"blank": 7},
        "Stand the bottles in their order and read the label aloud before pouring. Film that was "
        "fixed first has no edge numbers.",
        _PRACTICE,
        _unseen("What was poured is not logged. Missing edge numbers tell."),
    ),
    Rule(
        "never-exposed",
        "The film did not go through the camera",
        {"blank": 7},
        "Edge numbers present and every frame clear: watch the rewind knob turn when winding on.",
        _PRACTICE,
        _unseen("The camera is not logged. Edge numbers tell."),
    ),
    Rule(
        "agitation-missed",
        "Agitation left out, or too gentle",
        {"uneven": 8, "streaks": 4, "thin": 2},
        "Move the tank at every agitate cue, turning it right over; knock it on the edge at the "
        "start, so that no air bells stay.",
        _NAVY,
        _missed,
    ),
    Rule(
        "agitation-violent",
        "Agitation too strong or too regular",
        {"streaks": 8, "uneven": 3},
        "Turn the tank over calmly, about one turn in two seconds, and turn it a little in the "
        "hand each time.",
        _PRACTICE,
        _unseen("How the tank was moved is not logged."),
    ),
    Rule(
        "slow-change",
        "The change from developer to stop bath took long",
        {"uneven": 6, "dense": 3},
        "Have the stop bath ready in its measure when the prepare cue comes; begin to pour out "
        "with ten seconds left.",
        _NAVY,
        _late_drain,
    ),
    Rule(
        "too-little-solution",
        "The reel was not covered",
        {"uneven": 7},
        "Measure the volume on the sheet for this tank before class; fill up with empty reels "
        "where fewer reels are developed.",
        "US Navy, NAVEDTRA 14209 (empty reels fill the tank)",
        _unseen("The volume poured is not logged. A straight edge along one side tells."),
    ),
    Rule(
        "fix-short",
        "Fixing too short, or the fixer exhausted",
        {"milky": 9, "stained": 4},
        "Fix again in fresh fixer, now: it can be saved. Fix twice the clearing time, and test "
        "the fixer with the film leader before class.",
        _NAVY,
        lambda seen: _short(seen.fix_planned, seen.fix_actual, "fix"),
    ),
    Rule(
        "wash-short",
        "Washing too short",
        {"stained": 6},
        "Wash again, now, and hang again. With a clearing bath five minutes do.",
        f"{_ARMY}, p. 18",
        lambda seen: _short(seen.wash_planned, seen.wash_actual, "wash"),
    ),
    Rule(
        "no-wetting-agent",
        "Drops dried on the film",
        {"stained": 7},
        "Soak in water, dip in wetting agent mixed with clean water, hang, and do not wipe unless "
        "the sponge is soft and clean.",
        "US Navy, NAVEDTRA 14209 (uneven drops change density)",
        _no_wet,
    ),
    Rule(
        "baths-differ",
        "Baths of very different temperature",
        {"uneven": 2, "other": 3, "scratched": 1},
        "Keep all baths within 3 °C of the developer, and let the wash change slowly.",
        f"{_ARMY}, p. 14 (all baths as near as possible, or the emulsion wrinkles)",
        _jump,
    ),
    Rule(
        "light-leak",
        "Light reached the film before it was fixed",
        {"fogged": 9, "blank": 1},
        "Load in full dark, look for light after five minutes in the room, check the tank's lid "
        "and centre column.",
        _PRACTICE,
        _unseen("Light is not logged. Fog on the edges too means the tank or the room."),
    ),
    Rule(
        "hot-developer-fog",
        "Developer much too warm, or much too long",
        {"fogged": 4},
        "Keep the developer below 24 to 25 °C; above that ordinary developers begin to fog.",
        "a Korean text on non-destructive testing, p. 182 (fog above 25 °C)",
        _more,
    ),
    Rule(
        "reel-loading",
        "Film turns touched each other on the reel",
        {"stuck": 9, "uneven": 1, "blank": 1},
        "Practise with a spoilt film in daylight, with the reel quite dry.",
        _PRACTICE,
        _unseen("Loading is not logged. Undeveloped patches with sharp edges tell."),
    ),
    Rule(
        "handling",
        "Grit or fingers touched the wet emulsion",
        {"scratched": 9},
        "Rinse reel and clips, do not squeeze the film between fingers, hang where nobody passes.",
        _PRACTICE,
        _unseen("Handling is not logged. Straight lines along the film come from the camera."),
    ),
)
