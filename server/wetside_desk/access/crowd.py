"""How many streams are open: each holds a connection, and the desk has about a thousand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager

from wetside_desk.problems import ProblemError

#: Streams at a time; a browser opens one for each board that it shows.
MOST = 250
MOST_OF_ONE = 8

#: When somebody who found no place should ask again.
_AGAIN_SECONDS = 10


class Crowd:
    """Counts streams; used by the event loop alone."""

    def __init__(self) -> None:
        self._there: Counter[str] = Counter()

    @contextmanager
    def place(self, client: str, *, counted: bool = True) -> Iterator[None]:
        """A place for one stream until the block ends; without ``counted`` all places are free.

        Raises
        ------
        ProblemError
            ``busy``: this client has enough of them, or there are enough of all.
        """
        if counted and self._there[client] >= MOST_OF_ONE:
            raise _busy(f"{MOST_OF_ONE} streams are open to this device already.")
        if self._there.total() >= MOST:
            raise _busy(f"{MOST} streams are open already.")
        self._there[client] += 1
        try:
            yield
        finally:
            self._there[client] -= 1
            if not self._there[client]:
                del self._there[client]


def _busy(detail: str) -> ProblemError:
    # closed, as one that waits for the next question holds a connection too
    headers = {"Retry-After": str(_AGAIN_SECONDS), "Connection": "close"}
    return ProblemError("busy", detail, headers=headers)
