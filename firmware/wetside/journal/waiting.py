"""Calls that wait for the disk: in order, bounded, and counted where some are let go."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from wetside.clock import Moment
from wetside.journal.writer import Writer

#: Times the bound before an event is let go.
_EVENTS_BOUND = 4


@dataclass(slots=True)
class Entry:
    """One call that waits for its turn.

    ``name`` is for the log of refused ones; ``event`` says that it is let go last; ``taken``
    that the writer has it and only its commit is still owed.
    """

    name: str
    moment: Moment | None
    act: Callable[[Writer], object]
    event: bool = False
    taken: bool = False


@dataclass(slots=True)
class Trouble:
    """A time in which the disk took nothing, or too little. ``since`` is ``time.monotonic()``."""

    reason: str
    since: float
    samples_let_go: int = 0
    events_let_go: int = 0


class Waiting:
    """The queue. Whoever uses it holds a lock.

    ``last`` is the latest moment that was put in.
    """

    def __init__(self, bound: int) -> None:
        self.bound = bound
        self.entries: deque[Entry] = deque()
        self.trouble: Trouble | None = None
        self.last: Moment | None = None

    def put(self, entry: Entry) -> None:
        """Add at the end; at the bound the oldest sample is let go."""
        if len(self.entries) >= self.bound:
            self._let_go()
        self.entries.append(entry)
        if entry.moment is not None:
            self.last = entry.moment

    def note(self, reason: str) -> Trouble:
        """Trouble is known to last, for this reason."""
        if self.trouble is None:
            self.trouble = Trouble(reason, time.monotonic())
        self.trouble.reason = reason
        return self.trouble

    def relieved(self) -> Trouble | None:
        """The disk took something: the trouble that this ends, if it does.

        It is over once half of the room is free again, so that a disk which is merely too
        slow is not reported as mended after each entry.
        """
        trouble = self.trouble
        if trouble is None or len(self.entries) > self.bound // 2:
            return None
        self.trouble = None
        return trouble

    def _let_go(self) -> None:
        trouble = self.trouble or self.note("the disk is too slow")
        for place, entry in enumerate(self.entries):
            if not entry.event:
                del self.entries[place]
                trouble.samples_let_go += 1
                return
        if len(self.entries) >= _EVENTS_BOUND * self.bound:
            self.entries.popleft()
            trouble.events_let_go += 1
