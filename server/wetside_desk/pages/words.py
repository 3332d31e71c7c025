"""The trade's plain words for what journal and live file hold. Pure."""

from __future__ import annotations

from wetside.readings import Condition, Place
from wetside.units import celsius_to_fahrenheit, clock_text, day_text
from wetside_desk import formats

#: Stands where something is not known.
NOTHING = "\N{EN DASH}"

STATES = {
    "idle": "No run is open",
    "tempering": "Tempering",
    "ready": "Ready: pour the developer",
    "pouring": "Pouring in",
    "running": "Running",
    "draining": "Draining",
    "handover": "Next solution now",
    "late": "Late: the film waits",
    "holding": "On hold",
    "interrupted": "Interrupted by a power cut",
    "finished": "Finished",
    "abandoned": "Given up",
}

STEPS = {
    "temper": "Temper",
    "develop": "Develop",
    "stop": "Stop bath",
    "fix": "Fix",
    "rinse": "Rinse",
    "clear": "Clearing bath",
    "wash": "Wash",
    "wet": "Wetting agent",
    "hang": "Hang",
}

#: What film is in during a step.
SOLUTIONS = {
    "develop": "developer",
    "stop": "stop bath",
    "fix": "fixer",
    "rinse": "rinse",
    "clear": "clearing bath",
    "wash": "wash",
    "wet": "wetting agent",
}

EVENTS = {
    "begin": "Run begun",
    "now": "Poured in",
    "end-early": "Step ended early",
    "hold": "Put on hold",
    "resume": "Gone on",
    "abandon": "Given up",
    "soon": "Ready soon",
    "entered-window": "Developer inside the window",
    "window-closing": "Window closing",
    "left-window": "Developer left the window",
    "will-not-reach": "Will not get there without help",
    "check-dip-advised": "Check dip advised",
    "filled": "Tank full",
    "agitate": "Agitate",
    "rest": "Rest",
    "prepare-next": "Prepare the next",
    "drain-due": "Drain",
    "end-due": "Step over",
    "late-due": "Late",
    "power-lost": "Power lost",
    "unwatched": "Ready no more: nobody watched the developer for a while",
    "continue": "Gone on after the power cut",
    "station-started": "Station started",
    "probe-condition": "Probe",
    "place": "Probe moved",
    "lights": "Display lights",
    "display-fault": "Display fault",
    "effective-development": "How much it was developed",
    "end-moved": "End moved for the tank's warmth",
    "choice-shown": "Wait or pour was asked",
    "refused": "A press was refused",
    "give-up-asked": "Giving up was asked",
    "end-asked": "Ending the step early was asked",
    "hush": "Tones quieted",
    "tones": "Tones as chosen at the desk",
    "run-taken-up": "Run taken up again",
    "run-unreadable": "Run ended: it cannot be read",
    "station-stopped": "Station stopped",
    "journal-set-aside": "Journal set aside",
    "buzzer-fault": "Buzzer",
    "buttons-fault": "Buttons",
    "live-fault": "Live file",
    "journal-fault": "Journal",
    "journal-back": "Journal writes again",
    "journal-refused": "Journal could not keep entries",
}

#: The press that begins the last step pours nothing.
HUNG = "Hung up"

CONDITIONS = {
    Condition.FINE: "reads as it should again",
    Condition.POWER_ON: "gave the value that stands in it when power comes on, not the water's",
    Condition.FAILED: "could not be read",
    Condition.IMPLAUSIBLE: "gave a value that cannot be",
    Condition.VANISHED: "does not answer any more",
    Condition.BUS_GONE: "cannot be asked: the bus of the probes is gone",
    Condition.STALE: "gave no new reading",
    Condition.IN_AIR: "is in the air",
    Condition.STUCK: "repeats one value",
    Condition.UNMOVED: "seems not to have moved as was said",
}

PLACES = {
    Place.UNKNOWN: "is at a place that nobody told",
    Place.DEVELOPER: "is in the developer",
    Place.BATH: "is in the bath",
    Place.AIR: "is in the air",
}

FLAGS = {
    "poured-outside-window": "poured outside the window",
    "held": "was on hold",
    "power-lost": "power lost",
    "no-adjusted-time": "time not adjusted",
    "end-moved": "end moved for the tank's warmth",
}


def state(word: str) -> str:
    """A state in words; an unknown one stays as it is."""
    return STATES.get(word, word)


def step(word: str) -> str:
    """A step in words; an unknown one stays as it is."""
    return STEPS.get(word, word)


def event(word: str) -> str:
    """A kind of event in words; an unknown one stays as it is."""
    return EVENTS.get(word, word)


def _the_probe(name: str) -> str:
    return "The probe" if name == "probe" else f"Probe {name}"


def trouble(probe: str, condition: str) -> str:
    """What is the matter with a probe, without a full stop; an unknown condition stays as it is.

    Examples
    --------
    >>> trouble("probe", "probe vanished"), trouble("bath", "fine")
    ('The probe does not answer any more', 'Probe bath reads as it should again')
    """
    if condition not in CONDITIONS:
        return f"{_the_probe(probe)}: {condition}"
    return f"{_the_probe(probe)} {CONDITIONS[Condition(condition)]}"


def place(probe: str, where: str) -> str:
    """Where a probe is, without a full stop; an unknown place stays as it is."""
    if where not in PLACES:
        return f"{_the_probe(probe)}: {where}"
    return f"{_the_probe(probe)} {PLACES[Place(where)]}"


def flag(word: str) -> str:
    """A flag in words; a late step is the one that film stayed in, as the next bath came late.

    Examples
    --------
    >>> flag("late-stop"), flag("late-develop"), flag("ended-early-fix")
    ('too long in the stop bath', 'too long in the developer', 'fix ended early')
    """
    if word in FLAGS:
        return FLAGS[word]
    late, early = word.removeprefix("late-"), word.removeprefix("ended-early-")
    if late != word:
        return f"too long in the {SOLUTIONS.get(late, late)}"
    if early != word:
        return f"{step(early).lower()} ended early"
    return word.replace("-", " ")


def duration(seconds: float | None) -> str:
    """A duration as m:ss, a dash where it is not known."""
    return NOTHING if seconds is None else clock_text(seconds)


def over(seconds: float | None) -> str:
    """How much longer or shorter than planned, in words.

    Examples
    --------
    >>> over(4.2), over(-30.0), over(0.3)
    ('4 s over', '30 s short', 'on time')
    """
    if seconds is None:
        return ""
    if abs(seconds) < 1.0:
        return "on time"
    size = f"{abs(seconds):.0f} s" if abs(seconds) < 60 else clock_text(abs(seconds))
    return f"{size} over" if seconds > 0 else f"{size} short"


def against(seconds: float) -> str:
    """A difference from the plan as m:ss.

    Examples
    --------
    >>> against(216.4), against(-4.0), against(0.3)
    ('3:36 longer', '0:04 shorter', 'as planned')
    """
    if abs(seconds) < 1.0:
        return "as planned"
    return f"{clock_text(abs(seconds))} {'longer' if seconds > 0 else 'shorter'}"


def day(wall_seconds: float) -> str:
    """The local day as people write it, such as ``Wednesday 25 November 2026``."""
    when = formats.local(wall_seconds)
    return f"{when:%A} {when.day} {when:%B %Y}"


def clock(wall_seconds: float) -> str:
    """The local time of day, to the minute."""
    return f"{formats.local(wall_seconds):%H:%M}"


def short_date(wall_seconds: float) -> str:
    """The local day for lists and tables."""
    return day_text(formats.local(wall_seconds))


def span(first_wall_seconds: float, last_wall_seconds: float) -> str:
    """The local days from the first to the last, such as ``24 Nov 2026 to 25 Nov 2026``."""
    first, last = short_date(first_wall_seconds), short_date(last_wall_seconds)
    return first if first == last else f"{first} to {last}"


def temperature(celsius: float | None, unit: str = "C") -> str:
    """A temperature to a tenth in the wanted unit, a dash where it is not known."""
    if celsius is None:
        return NOTHING
    shown = celsius_to_fahrenheit(celsius) if unit == "F" else celsius
    return f"{shown:.1f} °{unit}"
