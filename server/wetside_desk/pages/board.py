"""The words of the board: what the class needs to know of a station at one glance. Pure.

The page and the stream that keeps it fresh both come from `words`, so that a page without
script says the same as one with it.
"""

from __future__ import annotations

import json

from wetside.units import clock_text, in_unit
from wetside_desk.live import Live, LiveOutlook, LiveQuantiles, Presence, StationNow
from wetside_desk.pages import words as plain

_NOBODY = "It starts with the device at the sink. Is that switched on?"

_NEEDS = {
    "ready": "Pour the developer: the window is open.",
    "handover": "Pour the next solution.",
    "late": "The film waits for the next solution.",
    "holding": "The run is on hold.",
    "interrupted": "The power was lost. Somebody must decide at the sink whether to go on.",
}


def words(now: StationNow, unit: str = "C") -> dict[str, str]:
    """Every text of the board; an empty one is hidden. Temperatures are in ``unit``, C or F.

    ``tone`` is calm, ready, hand (needs somebody) or off; ``said`` changes only when
    something new is to be read aloud, so it carries no running seconds.
    """
    live = now.live
    if live is None or now.presence is not Presence.RUNNING:
        return {
            **_EMPTY,
            "tone": "off",
            "head": "Not running",
            "said": "The station is not running.",
            "note": _NOBODY if now.presence is Presence.ABSENT else now.says,
            "station": live.station if live else "",
        }
    found = {
        **_EMPTY,
        "station": live.station,
        "sheet": (live.sheet.title or live.sheet.name) if live.sheet else "",
        "head": _head(live),
        "big": _big(live),
        "range": _range(live),
        "next": f"Next: {live.next}" if live.next else "",
        "developer": _temperature(live.outlook, "developer", unit) if _tempers(live) else "",
        "bath": _temperature(live.outlook, "bath", unit) if _bath_is_known(live) else "",
        "needs": _needs(live),
        "advice": _advice(live, unit),
        "note": "Lights out: the display shows nothing while film is open." if live.dark else "",
        "screen": live.screen.text,
        "picture": live.picture,
    }
    found["tone"] = _tone(live, found["needs"])
    found["said"] = ". ".join(part for part in (found["head"], found["needs"]) if part)
    return found


def text(now: StationNow, unit: str = "C") -> str:
    """`words` as JSON, for the stream."""
    return json.dumps(words(now, unit), ensure_ascii=False)


_EMPTY = dict.fromkeys(
    (
        "station",
        "sheet",
        "head",
        "big",
        "range",
        "next",
        "developer",
        "bath",
        "needs",
        "advice",
        "note",
        "screen",
        "picture",
        "tone",
        "said",
    ),
    "",
)


def _head(live: Live) -> str:
    if live.step is not None and live.state in {"pouring", "running", "draining"}:
        name = plain.step(live.step.kind)
        if live.state == "running":
            return f"{name}: agitate" if live.step.agitating else name
        return f"{name}: {plain.state(live.state).lower()}"
    return plain.state(live.state)


def _big(live: Live) -> str:
    outlook = live.outlook
    if live.only_a_dip_tells:
        return ""
    if live.state == "tempering" and outlook is not None:
        return plain.NOTHING if outlook.ready_in.p50 is None else clock_text(outlook.ready_in.p50)
    if live.state == "ready" and outlook is not None:
        return "" if outlook.leaves_in.p50 is None else clock_text(outlook.leaves_in.p50)
    if live.step is not None and live.step.planned_seconds is not None:
        return clock_text(live.step.planned_seconds - live.step.elapsed_seconds)
    return ""


def _range(live: Live) -> str:
    if live.only_a_dip_tells:
        return "it may be ready now"
    if live.state == "tempering" and live.outlook is not None:
        return _ready_range(live.outlook.ready_in)
    if live.state == "ready" and live.outlook is not None:
        return _window_range(live.outlook.leaves_in)
    if live.step is not None and live.step.planned_seconds is not None:
        return f"left of {clock_text(live.step.planned_seconds)}"
    return ""


def _ready_range(quantiles: LiveQuantiles) -> str:
    if quantiles.p05 is None:
        return "will not get there within the hour without help"
    late = clock_text(quantiles.p95) if quantiles.p95 is not None else "more than an hour"
    return f"until ready; between {clock_text(quantiles.p05)} and {late}"


def _window_range(quantiles: LiveQuantiles) -> str:
    if quantiles.p50 is None:
        return "stays inside the window"
    early = clock_text(quantiles.p05) if quantiles.p05 is not None else "a while"
    return f"until the window closes; at least {early}"


def _tempers(live: Live) -> bool:
    """Whether there is a developer to speak of: none without a roll, or after the pour."""
    return live.state in {"tempering", "ready"}


def _bath_is_known(live: Live) -> bool:
    """Without a roll the bath is told only while a probe is in it."""
    return _tempers(live) or "bath" in live.places.values()


def _temperature(outlook: LiveOutlook | None, which: str, unit: str) -> str:
    found = None if outlook is None else getattr(outlook, which)
    if found is None:
        return ""
    spread = 2 * found.sd * (1.8 if unit == "F" else 1.0)
    return f"{plain.temperature(found.celsius, unit)} ± {spread:.1f}"


def _needs(live: Live) -> str:
    needs = []
    if live.state in _NEEDS:
        needs.append(_NEEDS[live.state])
    if live.only_a_dip_tells:
        needs.append("Dip the probe into the developer, and press probe: nothing else tells.")
    if _needs_help(live):
        needs.append("The bath will not bring the developer there without help.")
    needs += [f"{plain.trouble(probe, said)}." for probe, said in sorted(live.troubles.items())]
    needs += [warning if warning.endswith(".") else f"{warning}." for warning in live.warnings]
    return " ".join(needs)


#: As the display counts it (firmware/wetside/cues/tempering.py).
_NEVER_SHOWN = 0.5


def _needs_help(live: Live) -> bool:
    outlook = live.outlook
    if live.state != "tempering" or live.only_a_dip_tells:
        return False
    return outlook is not None and outlook.never > _NEVER_SHOWN


def _advice(live: Live, unit: str) -> str:
    """The best way there, as the display gives it."""
    ways = live.advice.ways if live.advice is not None else ()
    if not _needs_help(live) or not ways or not ways[0].words:
        return ""
    best = in_unit(ways[0].words, fahrenheit=unit == "F")
    best = f"{best[0].upper()}{best[1:]}"
    then = ways[0].ready_in
    return f"{best}." if then is None else f"{best}; it is ready then in {clock_text(then)}."


def _tone(live: Live, needs: str) -> str:
    if live.state == "ready":
        return "ready"
    return "hand" if needs else "calm"
