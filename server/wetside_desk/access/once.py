"""Words that one page shows one time, such as a new key.

A form that was taken is answered by leading to a page, so that loading the answer again sends
nothing twice. What that page shows and nothing else keeps waits here for it.
"""

from __future__ import annotations


class Once:
    """One text for each session, kept in memory until it is taken."""

    def __init__(self) -> None:
        self._kept: dict[str, str] = {}

    def keep(self, session: str, text: str) -> None:
        """Keep a text for the next page of a session; one that was not taken goes."""
        self._kept[session] = text

    def take(self, session: str) -> str:
        """The text of a session, this one time; empty where there is none."""
        return self._kept.pop(session, "")
