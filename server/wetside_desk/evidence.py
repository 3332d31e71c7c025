"""What the log of a run says for or against a cause of a failed roll. Pure.

What the shelf says of the bottles is `wetside_desk.bottle_evidence`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

from wetside.development.figures import SALT_ABOVE_CELSIUS
from wetside.units import clock_text, in_unit
from wetside_desk.formats import degrees
from wetside_desk.shelf.through import Bottles

#: More or less development than this is visible in a print.
VISIBLE = 0.08

#: So much more or less by itself makes a film look dense or thin: about the fifth of the time that
#: is given or taken for one zone (common practice).
PLAIN = 0.2

#: With so little development no image comes (judgement: half of it still leaves a printable one).
_NOTHING = -0.7

#: Ordinary developers begin to fog above it (the source is in `wetside_desk.causes`).
_FOG_CELSIUS = 25.0

#: So much more development fogs at any temperature (common practice).
_FOG_SHARE = 0.5

#: A change of baths that took this part of the developing time was slow (judgement).
_SLOW = 0.1

#: A step that took less than this part of its time was cut short.
_WHOLE = 0.9


class Weighs(StrEnum):
    """What is known here of a cause."""

    FOR = "the log shows it"
    HINT = "something here points to it"
    UNSEEN = "the log cannot see it"
    LITTLE = "the log shows little of it"
    AGAINST = "the log speaks against it"


@dataclass(frozen=True, slots=True)
class Facts:
    """What the rules look at. None = not known. Seconds and degrees Celsius.

    ``known`` is False where the steps of the run cannot be read. ``unit`` is the one in which
    temperatures are said, C or F.

    ``development`` is how much more (above 0) or less development there was than the sheet
    asks for, as a share, from the lower and the upper coefficient. ``missed_agitation`` and
    ``power_lost`` are of the developing step alone; ``stop_late`` is how late the next bath came
    after it, 0 where it came in time.

    Sentences of the sheet: ``fix_doubt`` and ``wash_doubt`` say that it fixes or washes for too
    short a time, ``wide_baths`` which baths lie too far from the developer. ``stopped`` says
    whether a stop bath or rinse comes before the fixer, ``has_wash`` whether a wash is in it,
    ``longer_counted`` whether its time counts the reuse of the developer.
    """

    known: bool = True
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
    stop_late: float = 0.0
    missed_agitation: int = 0
    power_lost: bool = False
    fix_doubt: str = ""
    wash_doubt: str = ""
    wide_baths: tuple[str, ...] = ()
    stopped: bool | None = None
    has_wash: bool = True
    longer_counted: bool = False
    bottles: Bottles = field(default_factory=Bottles)
    unit: str = "C"

    @property
    def middle(self) -> float | None:
        """The middle of how much more or less development there was."""
        return None if self.development is None else sum(self.development) / 2.0


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a rule found."""

    weighs: Weighs
    says: str


_UNREAD = Evidence(Weighs.UNSEEN, "The steps of this run cannot be read.")


def unseen(says: str) -> Callable[[Facts], Evidence]:
    """A cause that no probe sees; ``says`` tells what to look at instead."""
    found = Evidence(Weighs.UNSEEN, says)
    return lambda _: found


def _percent(share: tuple[float, float]) -> str:
    low, high = sorted(abs(round(100 * part)) for part in share)
    return f"{low} %" if low == high else f"{low} to {high} %"


def less(seen: Facts) -> Evidence:
    """Whether there was too little development."""
    return _off(seen, -1.0, "less")


def more(seen: Facts) -> Evidence:
    """Whether there was too much development."""
    return _off(seen, 1.0, "more")


def _off(seen: Facts, sign: float, word: str) -> Evidence:
    if seen.development is None or seen.middle is None:
        return Evidence(Weighs.UNSEEN, "The pouring or the time was not logged.")
    near, far = sorted(sign * part for part in seen.development)
    if not (near > VISIBLE / 2 and far > VISIBLE):
        return Evidence(Weighs.AGAINST, _amount(seen))
    says = f"About {_percent(seen.development)} {word} development than the sheet."
    if sign * seen.middle >= PLAIN:
        return Evidence(Weighs.FOR, says)
    return Evidence(Weighs.LITTLE, f"{says} By itself that changes little.")


def hardly_any(seen: Facts) -> Evidence:
    """Whether there was so little development that no image came."""
    if seen.development is None:
        return Evidence(Weighs.UNSEEN, "The pouring or the time was not logged.")
    if max(seen.development) <= _NOTHING:
        says = f"About {_percent(seen.development)} less development than the sheet."
        return Evidence(Weighs.FOR, says)
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
    return Evidence(weighs, f"The developer was poured at {_warm(seen, poured)}.")


def soft(seen: Facts) -> Evidence:
    """Whether the developer was so warm that the emulsion swells in what follows."""
    poured = seen.poured_celsius
    if poured is not None and poured > SALT_ABOVE_CELSIUS.value:
        return Evidence(Weighs.HINT, f"The developer was poured at {_warm(seen, poured)}.")
    return Evidence(Weighs.UNSEEN, "No probe was in the later baths; their strength is not logged.")


def _warm(seen: Facts, celsius: float) -> str:
    return in_unit(f"{celsius:.1f} degC", fahrenheit=seen.unit == "F")


def _amount(seen: Facts) -> str:
    off = ""
    if seen.poured_off is not None:
        there = round(seen.poured_off, 1)
        off = ", poured on the target"
        if there:
            off = f", poured {degrees(there, seen.unit, sign='+')} off the target"
    if seen.develop_planned is None or seen.develop_actual is None:
        return f"About as much development as the sheet asks for{off}."
    planned, actual = clock_text(seen.develop_planned), clock_text(seen.develop_actual)
    return f"Developed {actual}, the sheet says {planned}{off}."


def cut_short(planned: float | None, actual: float | None, name: str) -> Evidence | None:
    """Whether a step was not reached, broken off or cut short; None where it was not."""
    if planned is None:
        return Evidence(Weighs.FOR, f"The run ended before the {name}.")
    if actual is None:
        return Evidence(Weighs.FOR, f"The {name} was begun and not ended.")
    if actual < _WHOLE * planned:
        says = f"The {name} lasted {clock_text(actual)} of {clock_text(planned)}."
        return Evidence(Weighs.FOR, says)
    return None


def wash_short(seen: Facts) -> Evidence:
    """Whether washing was left out or too short."""
    if not seen.known:
        return _UNREAD
    if not seen.has_wash:
        says = "The sheet has no wash; whether the film was washed elsewhere is not logged."
        return Evidence(Weighs.UNSEEN, says)
    found = cut_short(seen.wash_planned, seen.wash_actual, "wash")
    if found is not None:
        return found
    if seen.wash_doubt:
        return Evidence(Weighs.FOR, f"The sheet {seen.wash_doubt}.")
    says = f"Washed as long as planned ({clock_text(seen.wash_actual or 0.0)})."
    return Evidence(Weighs.AGAINST, says)


def missed(seen: Facts) -> Evidence:
    """Whether calls to move the tank were missed while the film developed."""
    if seen.power_lost:
        return Evidence(Weighs.FOR, "The power was lost while the film developed.")
    number = seen.missed_agitation
    if number > 1:
        return Evidence(Weighs.FOR, f"{number} calls to move the tank came too late.")
    if number:
        return Evidence(Weighs.LITTLE, "One call to move the tank came too late.")
    return Evidence(Weighs.UNSEEN, "Every call came; whether it was followed is not logged.")


def slow_change(seen: Facts) -> Evidence:
    """Whether the bath after the developer came late."""
    if not seen.known:
        return _UNREAD
    if seen.develop_planned is None or seen.develop_actual is None:
        return Evidence(Weighs.UNSEEN, "No bath came after the developer in this run.")
    late = seen.stop_late
    if not late:
        return Evidence(Weighs.AGAINST, "The bath after the developer came in time.")
    weighs = Weighs.FOR if late > _SLOW * seen.develop_planned else Weighs.LITTLE
    says = f"The bath after the developer came {clock_text(late)} late."
    return Evidence(weighs, says)


def wide_baths(seen: Facts) -> Evidence:
    """Whether the sheet's own baths lie too far from the developer."""
    if seen.wide_baths:
        said = in_unit("; ".join(seen.wide_baths), fahrenheit=seen.unit == "F")
        return Evidence(Weighs.FOR, f"By the sheet {said}.")
    return Evidence(Weighs.UNSEEN, "No probe was in the later baths.")


def no_wet(seen: Facts) -> Evidence:
    """Whether the wetting agent was left out."""
    if seen.had_wet is False:
        return Evidence(Weighs.FOR, "No wetting agent was used in this run.")
    if seen.had_wet is None:
        return _UNREAD
    return Evidence(Weighs.UNSEEN, "A wetting agent was used; its strength is not logged.")
