"""Numbers and short phrases as the display writes them. Pure."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from wetside.cues.lettering import width, wrap
from wetside.cues.panels import ROOM
from wetside.cues.snapshot import Snapshot
from wetside.development.spec import Development
from wetside.outlook import Temperature
from wetside.readings import Condition
from wetside.session.sheet import Afterwards, Step, StepKind
from wetside.units import celsius_to_fahrenheit, clock_text, in_unit

#: A tolerance is promised where 19 of 20 probes with this sd hold it.
PROMISED_SDS = 1.96

#: A line that has more than one thing to say changes after so many seconds.
PAGE_SECONDS = 4.0

#: What a probe's condition is called, and where to look.
CONDITIONS = {
    Condition.POWER_ON: ("probe restarted", "wait for a reading"),
    Condition.FAILED: ("probe: failed read", "look at its plug"),
    Condition.IMPLAUSIBLE: ("probe: odd value", "look at its plug"),
    Condition.VANISHED: ("probe unplugged", "look at its plug"),
    Condition.BUS_GONE: ("no probe answers", "look at plug and cable"),
    Condition.STALE: ("probe: old reading", "wait, look at its plug"),
    Condition.IN_AIR: ("probe in the air?", "put it back"),
    Condition.STUCK: ("probe repeats itself", "unplug, plug in again"),
    Condition.UNMOVED: ("probe not moved?", "if so, press probe"),
}


def lost(condition: Condition) -> dict[str, str]:
    """What the cue of a lost probe says: its condition, and what to do."""
    mend = CONDITIONS[condition][1] if condition in CONDITIONS else ""
    return {"condition": str(condition), "mend": mend}


def degrees(celsius: float, *, fahrenheit: bool) -> str:
    """A temperature as a bare number, never ``-0.0``."""
    value = celsius_to_fahrenheit(celsius) if fahrenheit else celsius
    text = f"{value:.1f}"
    return text.removeprefix("-") if float(text) == 0 else text


def temperature(celsius: float, *, fahrenheit: bool) -> str:
    """A temperature with its unit, for example ``20.1 °C``."""
    return f"{degrees(celsius, fahrenheit=fahrenheit)} {unit(fahrenheit=fahrenheit)}"


def briefly(sentence: str, *, fahrenheit: bool) -> str:
    """The first clause of a sentence of the core, its temperatures in the unit that is shown."""
    return in_unit(re.split(r"[;:] ", sentence, maxsplit=1)[0], fahrenheit=fahrenheit)


def unit(*, fahrenheit: bool) -> str:
    """The sign of the unit."""
    return "°F" if fahrenheit else "°C"


def difference(celsius: float, *, fahrenheit: bool) -> str:
    """A difference of temperatures with its unit, for example ``4.0 °C``."""
    return f"{celsius * 1.8 if fahrenheit else celsius:.1f} {unit(fahrenheit=fahrenheit)}"


def half_width(believed: Temperature) -> float:
    """What is promised about a temperature, in celsius: about 95 % lie inside +- this.

    Two standard deviations; what the probe may be off is among them.
    """
    return 2 * believed.sd


def unpromised(snapshot: Snapshot, tolerance_celsius: float | None) -> tuple[str, ...]:
    """What the probes cannot promise, in lines of the display; nothing where they can."""
    texts = () if snapshot.corrected else ("probe not yet corrected",)
    sd = snapshot.probe_sd_celsius
    wide = not snapshot.corrected or (tolerance_celsius or 1.0) < PROMISED_SDS * sd
    if tolerance_celsius is None or not wide:
        return texts
    off = difference(tolerance_celsius, fahrenheit=snapshot.fahrenheit)
    return (*texts, f"cannot promise ±{off}")


def plus_minus(celsius: float, *, fahrenheit: bool) -> str:
    """A half width as ``±0.2``, rounded up so that it is never promised too small."""
    value = celsius * 1.8 if fahrenheit else celsius
    up = math.ceil(round(value * 10, 6)) / 10
    return f"±{up:.1f}" if up < 10 else f"±{math.ceil(up):d}"


def overdevelops(law: Development | None, celsius: float | None) -> tuple[str, ...]:
    """What the nominal time makes of a developer that its law gives no time for, in one line.

    Rounded to tens of percent, because the law is carried on beyond its range.
    """
    if law is None or celsius is None:
        return ()
    share = law.nominal_share(celsius)
    percent = 10 * round(10 * abs(share - 1))
    how = "overdevelops" if share > 1 else "underdevelops"
    if percent == 0:
        return (f"{how} a little",)
    return (f"{how} ~{percent:.0f} %" if percent <= 100 else f"{how} > 100 %",)


def wait_text(seconds: float | None) -> str:
    """A wait as a clock, or a sign that it is not known."""
    return "?" if seconds is None else clock_text(max(0.0, seconds))


def span_text(low: float | None, high: float | None) -> str:
    """An interval of waits, for example ``1:36 to 2:31``."""
    if low is None and high is None:
        return "not within the hour"
    if high is None:
        return f"{wait_text(low)} or later"
    return f"{wait_text(low)} to {wait_text(high)}"


def page(texts: Sequence[str], seconds: float) -> str:
    """One of the texts by turns, the first at 0 ``seconds``.

    A text that is wider than a line comes in pieces, marked where they were parted.
    """
    pieces: list[str] = []
    for text in texts:
        if width(text) <= ROOM:
            pieces.append(text)
            continue
        parts = wrap(text, ROOM - 2 * width("…"))
        ends = ["…"] * (len(parts) - 1)
        pieces += [
            f"{begin}{part}{end}"
            for begin, part, end in zip(["", *ends], parts, [*ends, ""], strict=True)
        ]
    return pieces[int(max(0.0, seconds) // PAGE_SECONDS) % len(pieces)] if pieces else ""


def title(step: Step) -> str:
    """What a step is called on the screen: the solution, or the step where there is none."""
    return step.solution or str(step.kind)


def afterwards(step: Step) -> str:
    """Where the solution goes when it is poured out, or nothing."""
    if step.kind in {StepKind.RINSE, StepKind.WASH} and step.afterwards is Afterwards.DISCARD:
        return "into the sink"
    return {
        Afterwards.DISCARD: "use once, do not keep",
        Afterwards.RETURN: "back to its bottle",
        Afterwards.COLLECT: "into the waste bottle",
        None: "",
    }[step.afterwards]
