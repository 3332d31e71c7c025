"""The table of causes: which outcomes each is behind, what to look for, what to change. Pure.

The page /rules shows it as it stands. To add a cause, add a row; what it looks for in the log
is a function of `wetside_desk.evidence`, on the shelf one of `wetside_desk.bottle_evidence`.
Temperatures stand in degrees Celsius, as `wetside.units.in_unit` reads them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from wetside_desk import bottle_evidence, evidence
from wetside_desk.evidence import Evidence, Facts


@dataclass(frozen=True, slots=True)
class Rule:
    """One cause. ``outcomes`` maps outcome to weight, 1 to 10."""

    name: str
    cause: str
    outcomes: Mapping[str, int]
    change: str
    source: str
    look: Callable[[Facts], Evidence]


_PRACTICE = "common practice"
_NAVY = "US Navy, NAVEDTRA 14209, p. 10-24"
_NAVY_CLEARING = "US Navy, NAVEDTRA 14209 (twice the clearing time, tested with the leader)"
_ARMY = "US Army Signal Center, SS0509-8"

RULES: tuple[Rule, ...] = (
    Rule(
        "less-development",
        "Too little development: too cold, too short, or both",
        {"thin": 8},
        "Pour only inside the window and start the clock with the pouring. For this film the "
        "exposed images can be printed on a harder grade.",
        "charts of time and temperature, such as USAF T.O. 33B-1-1, table 6-16",
        evidence.less,
    ),
    Rule(
        "more-development",
        "Too much development: too warm, too long, or both",
        {"dense": 8},
        "Wait for the window, and drain at the drain cue: the developer works until the stop "
        "bath is in.",
        "charts of time and temperature, such as USAF T.O. 33B-1-1, table 6-16",
        evidence.more,
    ),
    Rule(
        "hardly-any-development",
        "Hardly any development: broken off at once, or nearly cold",
        {"blank": 6},
        "Look at the edge numbers: without them the developer did not work. Film is not blank for "
        "a tenth too little.",
        _PRACTICE,
        evidence.hardly_any,
    ),
    Rule(
        "underexposed",
        "Underexposed in the camera",
        {"thin": 6, "blank": 5},
        "Look at the edge numbers: black numbers and empty frames mean that development was "
        "right and light was missing. Check the film speed set on the camera.",
        _PRACTICE,
        evidence.unseen("The camera is not logged. Edge numbers tell."),
    ),
    Rule(
        "overexposed",
        "Overexposed in the camera",
        {"dense": 6},
        "Dense frames between clear edges mean too much light. Check the film speed set on the "
        "camera.",
        _PRACTICE,
        evidence.unseen("The camera is not logged. Edge density tells."),
    ),
    Rule(
        "tired-developer",
        "Developer exhausted, too dilute or wrongly mixed",
        {"thin": 6},
        "Mix fresh, test a snippet of exposed film in room light before the next roll, and give a "
        "reused developer the longer time that the shelf says.",
        _PRACTICE,
        bottle_evidence.tired_developer,
    ),
    Rule(
        "dead-developer",
        "Developer dead, or another solution in its place",
        {"blank": 4},
        "Test a snippet of exposed film in room light before the next roll: it turns black within "
        "minutes. Mix fresh.",
        _PRACTICE,
        bottle_evidence.dead_developer,
    ),
    Rule(
        "strong-developer",
        "Developer too strong or wrongly mixed",
        {"dense": 5},
        "Measure concentrate and water once more by the strength on the shelf; a developer for "
        "paper is far too strong for film.",
        _PRACTICE,
        bottle_evidence.strong_developer,
    ),
    Rule(
        "fixer-first",
        "Fixer poured before the developer",
        {"blank": 7},
        "Stand the bottles in their order and read the label aloud before pouring. Film that was "
        "fixed first has no edge numbers.",
        _PRACTICE,
        evidence.unseen("What was poured is not logged. Missing edge numbers tell."),
    ),
    Rule(
        "stop-first",
        "Stop bath poured before the developer",
        {"thin": 2, "uneven": 2},
        "Stand the bottles in their order and read the label aloud before pouring. Stop bath takes "
        "no image away, but what the film holds of it slows the developer.",
        _PRACTICE,
        evidence.unseen("What was poured is not logged."),
    ),
    Rule(
        "never-exposed",
        "The film did not go through the camera",
        {"blank": 7},
        "Edge numbers present and every frame clear: watch the rewind knob turn when winding on.",
        _PRACTICE,
        evidence.unseen("The camera is not logged. Edge numbers tell."),
    ),
    Rule(
        "agitation-missed",
        "Agitation left out, or too gentle",
        {"uneven": 8, "streaks": 4, "thin": 2},
        "Move the tank at every agitate cue, turning it right over; knock it on the edge at the "
        "start, so that no air bells stay.",
        _NAVY,
        evidence.missed,
    ),
    Rule(
        "agitation-violent",
        "Agitation too strong or too regular",
        {"streaks": 8, "uneven": 3, "dense": 3},
        "Turn the tank over calmly, about one turn in two seconds, and turn it a little in the "
        "hand each time.",
        _PRACTICE,
        evidence.unseen("How the tank was moved is not logged."),
    ),
    Rule(
        "slow-change",
        "The change from developer to the next bath took long",
        {"uneven": 6},
        "Have the stop bath ready in its measure when the prepare cue comes; begin to pour out "
        "with ten seconds left.",
        _NAVY,
        evidence.slow_change,
    ),
    Rule(
        "too-little-solution",
        "The reel was not covered",
        {"uneven": 7, "milky": 3},
        "Measure the volume on the sheet for this tank before class; fill up with empty reels "
        "where fewer reels are developed.",
        "US Navy, NAVEDTRA 14209 (empty reels fill the tank)",
        evidence.unseen("The volume poured is not logged. A straight edge along one side tells."),
    ),
    Rule(
        "tired-fixer",
        "Fixer exhausted, too old, too weak or wrongly mixed",
        {"milky": 9, "stained": 4},
        "Fix again in fresh fixer, now: it can be saved. Test the fixer with the film leader "
        "before each class, and mix new at twice the fresh clearing time.",
        _NAVY_CLEARING,
        bottle_evidence.tired_fixer,
    ),
    Rule(
        "fix-short",
        "Fixing too short",
        {"milky": 7, "stained": 3},
        "Fix again in fresh fixer, now: it can be saved. Fix twice the clearing time of this film "
        "in this fixer; tabular films take longer than others.",
        _NAVY_CLEARING,
        bottle_evidence.fix_short,
    ),
    Rule(
        "no-stop",
        "Developer carried into the fixer: no stop bath, or a spent one",
        {"stained": 4},
        "Use a stop bath or a rinse between the two, and mix the stop bath new when its indicator "
        "turns.",
        _PRACTICE,
        bottle_evidence.weak_stop,
    ),
    Rule(
        "wash-short",
        "Washing too short",
        {"stained": 6, "milky": 2},
        "Wash again, now, and hang again: a pink base mostly leaves with it. With a clearing bath "
        "five minutes do.",
        f"{_ARMY}, p. 18; the pink base: common practice",
        evidence.wash_short,
    ),
    Rule(
        "no-wetting-agent",
        "Drops dried on the film",
        {"stained": 7},
        "Soak in water, dip in wetting agent mixed with clean water, hang, and do not wipe unless "
        "the sponge is soft and clean.",
        "US Navy, NAVEDTRA 14209 (uneven drops change density)",
        evidence.no_wet,
    ),
    Rule(
        "baths-differ",
        "Baths of very different temperature",
        {"wrinkled": 9, "uneven": 2, "scratched": 1},
        "Keep all baths within 3.0 degrees of the developer, and let the wash change slowly.",
        f"{_ARMY}, p. 14 (all baths as near as possible, or the emulsion wrinkles); 3 degC: "
        "makers' sheets, from memory",
        evidence.wide_baths,
    ),
    Rule(
        "soft-emulsion",
        "Baths so warm, or so strong, that the emulsion swelled",
        {"wrinkled": 5, "scratched": 2},
        "Above 23.9 degC a stop bath needs a salt against swelling; cooler baths spare it. Handle "
        "warm film by its edges.",
        f"{_ARMY}, p. 15",
        evidence.soft,
    ),
    Rule(
        "light-leak",
        "Light reached the film before it was fixed",
        {"fogged": 9},
        "Load in full dark, look for light after five minutes in the room, check the tank's lid "
        "and centre column.",
        _PRACTICE,
        evidence.unseen("Light is not logged. Fog on the edges too means the tank or the room."),
    ),
    Rule(
        "hot-developer-fog",
        "Developer much too warm, or much too long",
        {"fogged": 4},
        "Keep the developer below 24 to 25 degC; above that ordinary developers begin to fog.",
        "a Korean text on non-destructive testing, p. 182 (fog above 25 degC)",
        evidence.hot,
    ),
    Rule(
        "reel-loading",
        "Film turns touched each other on the reel",
        {"stuck": 9, "milky": 3, "uneven": 1},
        "Practise with a spoilt film in daylight, with the reel quite dry.",
        _PRACTICE,
        evidence.unseen("Loading is not logged. Patches with sharp edges tell."),
    ),
    Rule(
        "handling",
        "Grit or fingers touched the wet emulsion",
        {"scratched": 9},
        "Rinse reel and clips, do not squeeze the film between fingers, hang where nobody passes.",
        _PRACTICE,
        evidence.unseen(
            "Handling is not logged. Straight lines along the film come from the camera."
        ),
    ),
)
