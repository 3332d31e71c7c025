"""What a probe said, when, and whether it can be believed. Values only."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

#: A reading older than this is treated as no reading.
STALE_AFTER_SECONDS = 3.0

#: Exact value of the DS18B20 scratchpad after power-up (data sheet, table 1).
POWER_ON_CELSIUS = 85.0
#: Steps in which a DS18B20 answers at its finest (data sheet).
STEP_CELSIUS = 0.0625


class Place(StrEnum):
    """Where a probe is, as told by somebody or recognised; unknown is the empty string."""

    UNKNOWN = ""
    DEVELOPER = "developer"
    BATH = "bath"
    AIR = "air"


class Condition(StrEnum):
    """State of a probe. At a reading, all but FINE carry no usable temperature.

    IN_AIR, STUCK and UNMOVED are no state of a reading: what was read does not fit where somebody
    said that the probe is, does not change where it must, or goes on as before a move.
    """

    FINE = "fine"
    POWER_ON = "power-on value"
    FAILED = "failed read"
    IMPLAUSIBLE = "implausible value"
    VANISHED = "probe vanished"
    BUS_GONE = "bus gone"
    STALE = "stale"
    IN_AIR = "in the air"
    STUCK = "repeats one value"
    UNMOVED = "seems unmoved"


@dataclass(frozen=True, slots=True)
class Reading:
    """One answer of one probe.

    ``seconds`` is monotonic time at which the conversion ended; ``celsius`` is None exactly
    when ``condition`` is not FINE; ``probe`` is the ROM id or the name given in the settings.

    Raises
    ------
    ValueError
        A temperature that is not FINE, or none that is.
    """

    seconds: float
    probe: str
    celsius: float | None
    place: Place = Place.UNKNOWN
    condition: Condition = Condition.FINE

    def __post_init__(self) -> None:
        if (self.celsius is None) is (self.condition is Condition.FINE):
            raise ValueError(f"a reading of {self.celsius} degC is not {str(self.condition)!r}")
