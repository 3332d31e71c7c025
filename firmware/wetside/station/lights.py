"""Whether the lights were out when the station stopped: film may lie open at the sink."""

from __future__ import annotations

from pathlib import Path

from wetside.errors import JournalError
from wetside.journal.reader import Reader

#: So many of the latest events are looked through: those of about ten rolls.
LOOKED_AT_EVENTS = 500


def left_out(journal: Path, station: str, boot: str, *, run_open: bool) -> bool:
    """Whether the display is to stay dark after a start.

    It stays so until somebody asks for light. Only when the machine started anew without an
    open run nobody can be meant any more.
    """
    try:
        with Reader(journal) as reader:
            events = reader.latest_events(station, LOOKED_AT_EVENTS)
    except JournalError:
        return False
    said = next((event for event in events if event.kind == "lights"), None)
    if said is None or not (run_open or said.moment.boot == boot):
        return False
    return said.detail.get("out") is True
