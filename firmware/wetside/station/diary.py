"""What the station writes into the journal: events of the run in one go, the rest at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from wetside.clock import Clock, Moment
from wetside.journal.schema import RunRow
from wetside.outlook import Outlook
from wetside.readings import Reading
from wetside.session import record
from wetside.session.events import Event, Json
from wetside.session.machine import OPEN_STATES
from wetside.session.run import Session
from wetside.session.signals import Cue
from wetside.station.rows import run_row
from wetside.station.speech import MISSED_AFTER_SECONDS
from wetside.station.troubles import Change


class Journal(Protocol):
    """What the station asks of the journal; ``WriterThread`` meets it and never blocks."""

    @property
    def failure(self) -> str | None:
        """Why nothing is being kept just now, or None."""
        ...

    def append(
        self,
        moment: Moment,
        kind: str,
        detail: Mapping[str, Json],
        run: str | None = None,
        row: RunRow | None = None,
    ) -> object:
        """Keep an event."""
        ...

    def sample(self, moment: Moment, readings: Sequence[Reading], run: str | None = None) -> None:
        """Keep readings, in batches."""
        ...

    def forecast(self, moment: Moment, outlook: Outlook, run: str | None = None) -> None:
        """Keep a forecast, in batches."""
        ...


class Diary:
    """Writes for one station.

    Parameters
    ----------
    journal, clock
        Where to, and the time it is written at.
    station
        The station's name, for the digests of runs.
    """

    def __init__(self, journal: Journal, clock: Clock, station: str) -> None:
        self.began: Moment | None = None
        self._journal = journal
        self._clock = clock
        self._station = station
        self._waiting: list[tuple[str, dict[str, Json], Session, Moment | None]] = []

    @property
    def failure(self) -> str | None:
        """Why nothing is being kept just now, or None."""
        return self._journal.failure

    def log(self, kind: str, detail: Mapping[str, Json], session: Session) -> None:
        """Keep something that is no event of the run, under the run if one is open."""
        run = session.run if session.state in OPEN_STATES else None
        self._journal.append(self._clock.moment(), kind, detail, run)

    def condition(self, change: Change, session: Session) -> None:
        """Keep that a probe's condition changed."""
        detail: dict[str, Json] = {
            "probe": change.probe,
            "condition": str(change.after),
            "before": str(change.before),
            "at": change.seconds,
        }
        self.log("probe-condition", detail, session)

    def sample(self, readings: Sequence[Reading], run: str) -> None:
        """Keep readings of a run."""
        self._journal.sample(self._clock.moment(), readings, run)

    def forecast(self, outlook: Outlook, run: str | None) -> None:
        """Keep a forecast of a run."""
        self._journal.forecast(self._clock.moment(), outlook, run)

    def event(self, event: Event, cues: Sequence[Cue], session: Session, now: float) -> None:
        """Take down an event and the session it led to, which one turn may bring to its end.

        ``write`` keeps it, after the turn's tone has begun.
        """
        late = now - event.seconds
        detail: dict[str, Json] = {**record.encode(event), "late_seconds": round(late, 3)}
        if cues:
            detail["cue"] = str(cues[0].name)
            detail["missed"] = late > MISSED_AFTER_SECONDS
        self._waiting.append((str(event.kind), detail, session, self.began))

    def write(self) -> None:
        """Keep the events that were taken down, each with the digest of its run."""
        rows, self._waiting = self._waiting, []
        if not rows:
            return
        moment = self._clock.moment()
        for kind, detail, session, began in rows:
            if began is not None:
                digest = run_row(session, self._station, began, moment)
                self._journal.append(moment, kind, detail, session.run, digest)
