"""What the log of a run says for or against a cause of a failed roll. Pure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from wetside.units import in_unit
from wetside_desk.formats import degrees

#: More or less development than this is visible in a print.
_VISIBLE = 0.08

#: Ordinary developers begin to fog above it (the source is in `wetside_desk.causes`).
_FOG_CELSIUS = 25.0

#: So much more development fogs at any temperature (common practice).
_FOG_SHARE = 0.5


class Weighs(StrEnum):
    """What the log says of a cause."""

    FOR = "the log shows it"
    UNSEEN = "the log cannot see it"
    AGAINST = "the log speaks against it"


@dataclass(frozen=True, slots=True)
class Facts:
    """What the rules look at. None = not known. Seconds and degrees Celsius.

    ``unit`` is the one in which temperatures are said, C or F.

    ``development`` is how much more (above 0) or less development there was than the sheet
    asks for, as a share, from the lower and the upper coefficient.
    """

    develop_planned: float | None = None
    develop_actual: float | None = None
    poured_celsius: float | None = None
    poured_off: float | None = None
    inside: bool | None = None
    development: tuple[float, float] | None = None
    fix_planned: float | None = None
    fix_actual: float | None = None
    wash_planned: float | None = None
    wash_actual: float | None = None
    had_wet: bool | None = None
    late: tuple[str, ...] = ()
    missed_cues: int = 0
    power_lost: bool = False
    unit: str = "C"


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a rule found in the log."""

    weighs: Weighs
    says: str


def unseen(says: str) -> Callable[[Facts], Evidence]:
    """A cause that no probe sees; ``says`` tells what to look at instead."""
    found = Evidence(Weighs.UNSEEN, says)
    return lambda _: found


def _percent(share: tuple[float, float]) -> str:
    low, high = sorted(abs(round(100 * part)) for part in share)
    return f"{low} %" if low == high else f"{low} to {high} %"


def less(seen: Facts) -> Evidence:
    """Whether there was too little development."""
    if seen.development is None:
        return Evidence(Weighs.UNSEEN, "The pouring or the time was not logged.")
    if max(seen.development) < -_VISIBLE / 2 and min(seen.development) < -_VISIBLE:
        return Evidence(
            Weighs.FOR, f"About {_percent(seen.development)} less development than the sheet."
        )
    return Evidence(Weighs.AGAINST, _amount(seen))


def more(seen: Facts) -> Evidence:
    """Whether there was too much development."""
    if seen.development is None:
        return Evidence(Weighs.UNSEEN, "The pouring or the time was not logged.")
    if min(seen.development) > _VISIBLE / 2 and max(seen.development) > _VISIBLE:
        return Evidence(
            Weighs.FOR, f"About {_percent(seen.development)} more development than the sheet."
        )
    return Evidence(Weighs.AGAINST, _amount(seen))


def hot(seen: Facts) -> Evidence:
    """Whether the developer was so warm, or worked so long, that film fogs."""
    poured, development = seen.poured_celsius, seen.development
    if development is not None and min(development) > _FOG_SHARE:
        return Evidence(
            Weighs.FOR, f"About {_percent(development)} more development than the sheet."
        )
    if poured is None:
        return Evidence(Weighs.UNSEEN, "The pouring was not logged.")
    weighs = Weighs.FOR if poured > _FOG_CELSIUS else Weighs.AGAINST
    said = in_unit(f"{poured:.1f} degC", fahrenheit=seen.unit == "F")
    return Evidence(weighs, f"The developer was poured at {said}.")


def _amount(seen: Facts) -> str:
    off = ""
    if seen.poured_off is not None:
        off = f", poured {degrees(seen.poured_off, seen.unit, sign='+')} off the target"
    over = (seen.develop_actual or 0.0) - (seen.develop_planned or 0.0)
    return f"Developed {over:+.0f} s against the sheet{off}."


def short(planned: float | None, actual: float | None, name: str) -> Evidence:
    """Whether a step was left out, broken off or cut short."""
    if planned is None:
        return Evidence(Weighs.FOR, f"The sheet has no {name} step, or it was not reached.")
    if actual is None:
        return Evidence(Weighs.FOR, f"The {name} step was begun and not ended.")
    if actual < 0.9 * planned:
        return Evidence(Weighs.FOR, f"{name.capitalize()} {actual:.0f} s of {planned:.0f} s.")
    return Evidence(Weighs.AGAINST, f"{name.capitalize()} as long as planned ({actual:.0f} s).")


def missed(seen: Facts) -> Evidence:
    """Whether cues were missed."""
    if seen.missed_cues or seen.power_lost:
        why = "the power was lost" if seen.power_lost else f"{seen.missed_cues} cues were missed"
        return Evidence(Weighs.FOR, f"During this run {why}.")
    return Evidence(Weighs.UNSEEN, "Every cue was given; whether it was followed is not logged.")


def late_drain(seen: Facts) -> Evidence:
    """Whether developer or stop bath were changed late."""
    late = [name for name in seen.late if name in {"develop", "stop"}]
    if late:
        return Evidence(Weighs.FOR, f"The next bath came late after: {', '.join(late)}.")
    return Evidence(Weighs.AGAINST, "Developer and stop bath were changed in time.")


def no_wet(seen: Facts) -> Evidence:
    """Whether the wetting agent was left out."""
    if seen.had_wet is False:
        return Evidence(Weighs.FOR, "No wetting agent was used in this run.")
    return Evidence(Weighs.UNSEEN, "A wetting agent was used; its strength is not logged.")
