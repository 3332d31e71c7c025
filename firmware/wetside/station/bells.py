"""The school's bell table at the station: read at the start and at each run."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from wetside.clock import Moment
from wetside.development import bells
from wetside.development.bells import Bells
from wetside.development.deadline import NEW_STUDENTS, Handover
from wetside.errors import BellsError
from wetside.outlook import Outlook
from wetside.session import bell
from wetside.session.bell import BellView
from wetside.session.run import Session
from wetside.session.sheet import Sheet

_NO_TRUST = "the clock is not trusted: no network and no clock chip has set it"


class BellClock:
    """The next bell, as far as it can be known.

    Parameters
    ----------
    path
        The bell table, None where the school keeps none.
    handover
        Hand-over times of this station's students, learnt from the log.
    """

    def __init__(self, path: Path | None, handover: Handover = NEW_STUDENTS) -> None:
        self._path = path
        self._handover = handover
        self._table: Bells | None = None
        self._problem: str | None = None
        self.reload()

    def reload(self) -> None:
        """Read the table anew; a bad one is told, and the one before it no longer stands."""
        self._table, self._problem = None, None
        if self._path is None:
            return
        try:
            self._table = bells.load(self._path)
        except BellsError as problem:
            self._problem = problem.lines()[0]

    def look(
        self,
        moment: Moment,
        session: Session,
        offered: Sheet | None,
        outlook: Outlook | None,
    ) -> BellView | None:
        """What is to be said of the bell; None where there is no table."""
        if self._path is None:
            return None
        if self._table is None:
            return bell.unknown(self._problem or "the bell table was not read")
        if not moment.trusted:
            return bell.unknown(_NO_TRUST)
        now = local(moment.wall_seconds)
        return bell.look(
            self._table, now, self._handover, session, offered, outlook, moment.seconds
        )


def local(wall_seconds: float) -> datetime:
    """The device's local time without zone, as bell tables are written."""
    return datetime.fromtimestamp(wall_seconds, tz=UTC).astimezone().replace(tzinfo=None)
