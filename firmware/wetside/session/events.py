"""Everything that can happen to a run. An event is a value; journals keep them as rows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

#: What an event may carry: JSON values only, so that the journal keeps it exactly.
Json = str | int | float | bool | None | list["Json"] | dict[str, "Json"]


class Kind(StrEnum):
    """Kinds of event; the state machine's table has a column for each."""

    # somebody did something
    BEGIN = "begin"
    NOW = "now"
    END_EARLY = "end-early"
    HOLD = "hold"
    RESUME = "resume"
    ABANDON = "abandon"
    # the developer did something
    SOON = "soon"
    ENTERED = "entered-window"
    CLOSING = "window-closing"
    LEFT = "left-window"
    NEVER = "will-not-reach"
    CHECK_DIP = "check-dip-advised"
    DEVELOPED = "effective-development"
    END_MOVED = "end-moved"
    # the clock did something
    FILLED = "filled"
    AGITATE = "agitate"
    REST = "rest"
    PREPARE = "prepare-next"
    DRAIN_DUE = "drain-due"
    END_DUE = "end-due"
    LATE_DUE = "late-due"
    # the power or the station did something
    POWER_LOST = "power-lost"
    CONTINUE = "continue"
    UNWATCHED = "unwatched"


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened at one monotonic moment of one boot."""

    kind: Kind
    seconds: float
    detail: Mapping[str, Json] = field(default_factory=dict)
