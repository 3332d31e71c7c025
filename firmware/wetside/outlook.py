"""What is believed about the bath and what follows from it. Values only.

These are the words between the thermal core, which computes them, and everything that shows,
logs or acts on them. Field meanings are those of the replay contract (docs/replay.md).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

#: A forecast further away than this is not given (replay contract).
HORIZON_SECONDS = 3600.0

#: No tolerance is wider, and no container larger: beyond them a unit or a point was mistyped.
MOST_TOLERANCE_CELSIUS, MOST_MILLILITRES = 10.0, 5000.0


class Wall(StrEnum):
    """What the developer's container is made of."""

    PLASTIC = "plastic"
    GLASS = "glass"
    STEEL = "steel"


@dataclass(frozen=True, slots=True)
class Setup:
    """What is known before the first reading.

    ``volume_millilitres`` and ``wall`` are None when nobody said. ``probe_sd_celsius`` is the
    standard deviation of the probe's lasting error; no reading can reveal it. The default is
    for probes that were compared with a thermometer once, see docs/forecast.md.
    """

    target_celsius: float
    tolerance_celsius: float = 0.3
    wall: Wall | None = None
    volume_millilitres: float | None = None
    probe_sd_celsius: float = 0.1


@dataclass(frozen=True, slots=True)
class Temperature:
    """A temperature with the standard deviation of what is believed about it."""

    celsius: float
    sd: float


@dataclass(frozen=True, slots=True)
class Quantiles:
    """5, 50 and 95 % quantiles in seconds from now, of the futures in which it happens.

    None = beyond the horizon, and in the middle and above where it mostly never happens.
    """

    p05: float | None
    p50: float | None
    p95: float | None


class Fault(StrEnum):
    """What lately went wrong with readings or with what was believed, beside a ``Condition``.

    A reading was not taken: REJECTED is no temperature of a sink, or a jump that no second one
    confirmed yet; LATE and DUPLICATE are not after the one before; IGNORED came from a third
    probe. MOVED: a probe was moved by all appearance. DISTURBED: a probe did not fit where it
    was told to be, and what was believed there began anew. NOT_A_NUMBER: a number of this
    outlook came out as none and was left out.
    """

    REJECTED = "rejected"
    LATE = "late"
    DUPLICATE = "duplicate"
    IGNORED = "ignored"
    MOVED = "moved"
    DISTURBED = "disturbed"
    NOT_A_NUMBER = "not a number"


@dataclass(frozen=True, slots=True)
class Outlook:
    """The answer at one moment.

    ``developer``/``bath`` are None until there is something to say. ``ready_in`` is 0 while
    the developer is inside target +- tolerance; ``leaves_in`` None members mean it stays.
    ``never`` is the probability that it does not get there without help. ``faults`` are words
    of ``Fault``, or of ``Condition`` (that of a reading, and "stale" while none comes).
    """

    seconds: float
    developer: Temperature | None
    bath: Temperature | None
    ready_in: Quantiles
    leaves_in: Quantiles
    never: float
    faults: tuple[str, ...] = field(default=())
