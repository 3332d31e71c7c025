"""The temperatures of the other baths against the developer's, and fixing in the cold.

A sudden step of temperature wrinkles wet gelatine (reticulation). Each sheet may say how large a
step it allows; makers' sheets say 3 degrees, 5 for the wash (from memory), the US Navy's trays
2.8 degrees between any two (14262 p. 7-11).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from wetside.development.figures import (
    OTHER_BATHS_CELSIUS,
    SALT_ABOVE_CELSIUS,
    WASH_CELSIUS,
)

#: Fixing time doubles for each ten degrees under 20 degC (US Army TM 11-2323: 18 degF).
_FIX_DOUBLES_PER = 10.0
_FIX_NORMAL = 20.0

#: What sums of decimal fractions may be off.
_LITTLE_CELSIUS = 1e-9


@dataclass(frozen=True, slots=True)
class Bath:
    """One bath of the sheet in its order.

    ``kind`` is the step's name (stop, fix, wash ...); ``celsius`` is None when nobody measured.
    ``allowed_step`` overrides what the kind allows.
    """

    kind: str
    celsius: float | None
    allowed_step: float | None = None

    @property
    def allowed(self) -> float:
        """Largest step that is allowed into this bath, degrees."""
        if self.allowed_step is not None:
            return self.allowed_step
        washing = self.kind in {"wash", "rinse"}
        return WASH_CELSIUS.value if washing else OTHER_BATHS_CELSIUS.value


@dataclass(frozen=True, slots=True)
class Step:
    """A step of temperature that is too large; ``degrees`` below zero is into the colder."""

    from_kind: str
    to_kind: str
    degrees: float
    text: str


def too_large(developer_celsius: float, baths: Sequence[Bath]) -> tuple[Step, ...]:
    """Every step past what is allowed: between neighbours, and from the developer.

    Parameters
    ----------
    developer_celsius
        Temperature of the developer when it is poured out.
    baths
        The others in their order. A bath without a temperature is passed over.
    """
    known = [bath for bath in baths if bath.celsius is not None]
    chain = [Bath("develop", developer_celsius), *known]
    pairs = [*pairwise(chain), *((chain[0], bath) for bath in known[1:])]
    steps: list[Step] = []
    for before, after in pairs:
        assert before.celsius is not None  # noqa: S101  # only known baths are in the chain
        assert after.celsius is not None  # noqa: S101  # the same
        degrees = after.celsius - before.celsius
        if abs(degrees) <= after.allowed + _LITTLE_CELSIUS:
            continue
        if any(step.to_kind == after.kind for step in steps):
            continue
        manner = "warmer" if degrees > 0 else "colder"
        steps.append(
            Step(
                before.kind,
                after.kind,
                degrees,
                f"{after.kind} is {abs(degrees):.1f} degrees {manner} than {before.kind}, "
                f"{after.allowed:.1f} degrees allowed: the emulsion may wrinkle",
            )
        )
    return tuple(steps)


def pour_doubts(developer_celsius: float, baths: Sequence[Bath]) -> tuple[str, ...]:
    """Why film may wrinkle on its way out of this developer: a sentence each for colder and warmer.

    Parameters
    ----------
    developer_celsius
        Temperature of the developer when it is poured out.
    baths
        The others, as the sheet has them. A bath without a temperature is passed over.
    """
    off = [
        (bath.kind, bath.celsius - developer_celsius)
        for bath in baths
        if bath.celsius is not None
        and abs(bath.celsius - developer_celsius) > bath.allowed + _LITTLE_CELSIUS
    ]
    told = []
    for order, manner, sign in (("warm", "colder", -1.0), ("cool", "warmer", 1.0)):
        steps = [(kind, sign * degrees) for kind, degrees in off if sign * degrees > 0]
        if steps:
            kinds = ", ".join(dict.fromkeys(kind for kind, _ in steps))
            told.append(
                f"{order} {kinds} first or film may wrinkle: up to "
                f"{max(degrees for _, degrees in steps):.1f} degrees {manner} than the developer"
            )
    return tuple(told)


def swelling_caution(stop_celsius: float) -> str | None:
    """A sentence for a stop bath too warm without salt (US Army SS0509-8 p. 15), or None.

    The 75 degF count to the whole degree that sheets are written in.
    """
    if stop_celsius <= math.ceil(SALT_ABOVE_CELSIUS.value):
        return None
    return (
        f"stop bath at {stop_celsius:.1f} degC: above {SALT_ABOVE_CELSIUS.value:g} degC it needs "
        "a salt against swelling, or cool it"
    )


def fix_factor(celsius: float) -> float:
    """How many times longer to fix below 20 degC; 1 from there on (US Army TM 11-2323)."""
    return math.exp2(max(0.0, _FIX_NORMAL - celsius) / _FIX_DOUBLES_PER)
