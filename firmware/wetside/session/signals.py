"""Names of everything that the student is told. The catalogue gives each a tone and a text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class CueName(StrEnum):
    """One name for each thing said at one moment, by tone and screen alike."""

    # tempering
    TEMPERING_BEGUN = "tempering-begun"
    READY_SOON = "ready-soon"
    READY = "ready"
    WINDOW_CLOSING = "window-closing"
    WINDOW_LEFT = "window-left"
    WILL_NOT_REACH = "will-not-reach"
    CHECK_DIP_ADVISED = "check-dip-advised"
    CHOICE = "wait-or-pour"
    # a step
    POUR_BEGUN = "pour-begun"
    AGITATE = "agitate"
    REST = "rest"
    END_MOVED = "end-moved"
    PREPARE_NEXT = "prepare-next"
    DRAIN = "drain"
    NEXT_NOW = "next-now"
    LATE = "late"
    # the run
    HELD = "held"
    RESUMED = "resumed"
    INTERRUPTED = "interrupted"
    FINISHED = "finished"
    ABANDONED = "abandoned"
    REFUSED = "refused"
    GIVE_UP_ASKED = "give-up-asked"
    END_ASKED = "end-asked"
    # the parts
    PROBE_LOST = "probe-lost"
    PROBE_BACK = "probe-back"
    JOURNAL_FAILING = "journal-failing"


@dataclass(frozen=True, slots=True)
class Cue:
    """Something said at one moment.

    ``seconds`` is the monotonic moment at which it was due; ``values`` fills the catalogue's
    text, for example ``{"step": "develop", "next": "stop bath"}``.
    """

    name: CueName
    seconds: float
    values: Mapping[str, str] = field(default_factory=dict)
