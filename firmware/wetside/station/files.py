"""Where a station keeps its files."""

from __future__ import annotations

from pathlib import Path

from wetside.settings import StationSettings


def journal_path(settings: StationSettings) -> Path:
    """The journal."""
    return settings.data_folder / "journal.sqlite"


def live_path(settings: StationSettings) -> Path:
    """The file that the desk relays."""
    return settings.live_folder / "live.json"
