"""What is seen of the station: the display, the live file, and what is wrong with the parts."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from wetside.clock import Clock
from wetside.cues import burnin
from wetside.cues.desknotes import DeskNotes
from wetside.cues.panels import picture
from wetside.cues.snapshot import Snapshot
from wetside.cues.view import view
from wetside.ports import Parts
from wetside.session.events import Json
from wetside.session.machine import OPEN_STATES
from wetside.session.run import Session
from wetside.session.signals import Cue
from wetside.settings import StationSettings
from wetside.station.desknotes import NoteReader
from wetside.station.live import live_object

#: A failing log on the display, by turns with what stands there.
_FAILING = ("this run is not kept", "go on, tell the teacher")


class Face:
    """Shows one station.

    Parameters
    ----------
    settings, clock, parts
        The station's settings and edges.
    live
        Gets the live object at each showing, or None.
    """

    def __init__(
        self,
        settings: StationSettings,
        clock: Clock,
        parts: Parts,
        live: Callable[[Mapping[str, object]], None] | None,
    ) -> None:
        self._settings = settings
        self._clock = clock
        self._parts = parts
        self._live = live
        self._live_fault: str | None = None
        self._faults: dict[str, str] = {}
        self._notes = NoteReader(settings.live_folder)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is wrong now, in words."""
        return tuple(self._faults.values())

    @property
    def signs(self) -> tuple[str, ...]:
        """The same for the display: of a failing log what students can use, not its files."""
        each = (_FAILING if name == "journal" else (fault,) for name, fault in self._faults.items())
        return tuple(line for lines in each for line in lines)

    def notes(self, now: float, session: Session) -> DeskNotes:
        """What the desk wants shown; nothing while a run is open."""
        return self._notes.look(now, wanted=session.state not in OPEN_STATES)

    def show(
        self,
        snapshot: Snapshot,
        bell: Mapping[str, Json] | None,
        advice: Mapping[str, Json] | None,
        last_cue: Cue | None,
    ) -> None:
        """Draw the snapshot and tell the desk."""
        now, display = snapshot.now, self._settings.display
        last_touch = now if snapshot.touched is None else snapshot.touched
        notice = view(snapshot)
        drawn = picture(notice)
        moved = burnin.shift(drawn, int(now / display.shift_every_seconds))
        idle = snapshot.session.state not in OPEN_STATES
        self._parts.screen.dim(on=idle and now - last_touch > display.dim_after_seconds)
        self._parts.screen.show(moved)
        if self._live is None:
            return
        told = notice.public()
        if told is not notice:
            drawn = picture(told)
        moment = self._clock.moment()
        values = live_object(
            self._settings.station, moment, snapshot, told, drawn, last_cue, bell, advice
        )
        try:
            self._live(values)
        except OSError as problem:
            # the sink goes on without the desk
            self._live_fault = f"the desk is not told: {problem.strerror}"
        else:
            self._live_fault = None

    def faults(self, journal: str | None) -> Iterator[tuple[str, str | None]]:
        """What is wrong with the parts, the log and the live file, once each way.

        ``journal`` is the log's own failure. A fault is named when it comes, None when it goes.
        How many entries the log keeps waiting goes on in the warnings, and is no new fault.
        """
        for name, fault in (
            ("display", self._parts.screen.fault),
            ("buzzer", self._parts.sounder.fault),
            ("buttons", self._parts.buttons.fault),
            ("live", self._live_fault),
            ("journal", journal),
        ):
            before = self._faults.get(name)
            if fault is None:
                self._faults.pop(name, None)
            else:
                self._faults[name] = fault
            same = (fault is None) == (before is None) if name == "journal" else fault == before
            if not same:
                yield name, fault
