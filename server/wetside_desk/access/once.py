"""Words that one page shows one time, such as a new key, or that a form was kept.

A form that was taken is answered by leading to a page, so that loading the answer again sends
nothing twice. What that page shows and nothing else keeps waits here for it.
"""

from __future__ import annotations

#: Texts that wait at a time; one that nobody fetched goes, the oldest first.
_WAITING = 200


class Once:
    """Texts for a session and a place, kept in memory until they are taken."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], str] = {}

    def keep(self, session: str, place: str, text: str) -> None:
        """Keep a text for a place of a session; one that was not taken goes."""
        self._kept.pop((session, place), None)
        self._kept[session, place] = text
        while len(self._kept) > _WAITING:
            self._kept.pop(next(iter(self._kept)), None)

    def take(self, session: str, place: str) -> str:
        """The text for a place of a session, this one time; empty where there is none."""
        return self._kept.pop((session, place), "")
