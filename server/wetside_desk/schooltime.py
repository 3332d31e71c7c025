"""The wall clock of the school, and whether it can be believed."""

from __future__ import annotations

import time
from datetime import datetime

from wetside_desk import formats
from wetside_desk.live import Presence, StationNow


def now() -> datetime:
    """The device's local time without zone, as bell tables are written."""
    return formats.local(time.time()).replace(tzinfo=None)


def believed(station: StationNow) -> bool:
    """Whether a station runs here and trusts the clock; the desk has no other way to know."""
    running = station.presence is Presence.RUNNING
    return running and station.live is not None and station.live.trusted


def doubt(station: StationNow) -> str:
    """A sentence if the station does not trust the clock, else an empty text."""
    if station.live is not None and not station.live.trusted:
        return (
            "The clock of this device was not set by a network or a clock chip since it was "
            "switched on. Compare it with the clock on the wall before you believe these times."
        )
    return ""
