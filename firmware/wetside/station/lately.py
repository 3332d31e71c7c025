"""The run as it stood a moment ago: a press is judged by what it was an answer to."""

from __future__ import annotations

import math
from collections import deque

from wetside.session.run import Session

#: Sessions that are kept: far more than come while somebody holds a button.
_KEPT = 32


class Lately:
    """The sessions of the last moments, each from when it stood."""

    def __init__(self, session: Session) -> None:
        self._sessions: deque[tuple[float, Session]] = deque([(-math.inf, session)], _KEPT)

    def keep(self, since: float, session: Session) -> None:
        """Another session stands since then, monotonic seconds."""
        self._sessions.append((since, session))

    def at(self, seconds: float) -> Session:
        """The session that stood at this moment, or the oldest that is known."""
        stood = (session for since, session in reversed(self._sessions) if since <= seconds)
        return next(stood, self._sessions[0][1])
