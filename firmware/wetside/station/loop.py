"""The station: what comes from the parts goes through the core and back to the parts.

One thread runs ``turn`` again and again and sleeps between turns until the next thing is
due. Whatever may take long is elsewhere: conversions, drawing and the disk have threads of
their own, so that no cue waits for them. In a turn the tone is started before anything is
drawn or journaled.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Protocol

from ulid import ULID

from wetside.clock import Clock, Moment
from wetside.cues import burnin
from wetside.cues.panels import picture
from wetside.cues.snapshot import Snapshot
from wetside.cues.view import view
from wetside.journal.schema import RunRow
from wetside.outlook import Outlook, Setup
from wetside.ports import Parts
from wetside.readings import Place, Reading
from wetside.session import presses, record, window
from wetside.session.events import Event, Json, Kind
from wetside.session.machine import OPEN_STATES, Session, State, due, next_due, receive
from wetside.session.presses import Act, Press
from wetside.session.sheet import Sheet
from wetside.session.signals import Cue, CueName
from wetside.settings import StationSettings
from wetside.station import places, troubles
from wetside.station.live import live_object
from wetside.station.recovery import TakeUp
from wetside.station.rows import run_row
from wetside.station.speech import MISSED_AFTER_SECONDS, Speech
from wetside.thermal.estimator import Belief, begin, update
from wetside.thermal.forecast import outlook

#: The display and the live file are renewed this often.
FRAME_SECONDS = 0.5
#: Forecasts are kept in the journal this often while tempering.
FORECAST_SECONDS = 5.0
#: States in which forecasts matter.
_WATCHED = frozenset({State.TEMPERING, State.READY})
#: Target of the idle display when no sheet is there.
_NO_SHEET = Setup(target_celsius=20.0)


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


class Station:
    """One sink.

    Parameters
    ----------
    settings
        The station's settings.
    clock, parts, journal
        The edges: time, the parts at the sink, the log.
    sheets
        What can be processed; the first is offered first.
    live
        Gets the live object about twice a second.
    observer
        Gets every cue that was not missed, after its tone has started.
    """

    def __init__(
        self,
        settings: StationSettings,
        clock: Clock,
        parts: Parts,
        journal: Journal,
        sheets: Sequence[Sheet],
        *,
        live: Callable[[Mapping[str, object]], None] | None = None,
        observer: Callable[[Cue], None] | None = None,
    ) -> None:
        self.session = Session()
        self.outlook: Outlook | None = None
        self._settings = settings
        self._clock = clock
        self._parts = parts
        self._journal = journal
        self._sheets = list(sheets)
        self._live = live
        self._observer = observer
        now = clock.now()
        self._offered = 0
        self._belief: Belief = begin(self._idle_setup())
        self._watch = window.Watch()
        self._probes = troubles.Watch(now)
        self._alarmed: set[str] = set()
        self._places: dict[str, Place] = {}
        self._speech = Speech()
        self._lights_out = False
        self._asked_abandon: float | None = None
        self._began: Moment | None = None
        self._last_touch = now
        self._last_cue: Cue | None = None
        self._next_frame = now
        self._next_forecast = now
        self._faults: dict[str, str] = {}
        self._live_fault: str | None = None
        self._turn_cues: list[Cue] = []
        self._late_rows: list[tuple[str, dict[str, Json]]] = []

    # --- what the commands call -----------------------------------------------------------

    def run(self, stop: threading.Event, beat: Callable[[str], None]) -> None:
        """Turn until ``stop`` is set (set ``parts.wake`` as well, to be heard at once).

        ``beat`` is called after each turn with the state of the run.
        """
        while not stop.is_set():
            self._parts.wake.clear()
            until = self.turn()
            beat(str(self.session.state))
            self._clock.wait(until, self._parts.wake)

    def turn(self) -> float:
        """Do everything that is due; give the monotonic moment of the next thing."""
        for press in self._parts.buttons.take():
            self._pressed(press)
        self._readings(self._parts.probes.take())
        self._clock_events()
        self._speak()
        now = self._clock.now()
        if now >= self._next_frame:
            self._frame(now)
        return self._next_due(now)

    def take_up(self, found: TakeUp) -> None:
        """Go on with a run that an earlier process of this station left open."""
        self.session = found.session
        self._began = found.began
        if found.session.sheet is not None:
            self._belief = begin(found.session.sheet.setup())
        self._log("run-taken-up", {"state": str(self.session.state)}, run=self.session.run)
        if found.power_lost is not None:
            self._receive(found.power_lost)

    def give_up(self) -> None:
        """Give the open run up, without a press."""
        self._receive(Event(Kind.ABANDON, self._clock.now()))

    # --- readings -------------------------------------------------------------------------

    def _readings(self, readings: Sequence[Reading]) -> None:
        now = self._clock.now()
        placed = [
            replace(reading, place=places.place_of(self._places, reading.probe))
            for reading in readings
        ]
        self._probes, changes = troubles.take(self._probes, placed)
        self._probes, stale = troubles.grow_stale(self._probes, now)
        for change in (*changes, *stale):
            self._log(
                "probe-condition",
                {
                    "probe": change.probe,
                    "condition": str(change.after),
                    "before": str(change.before),
                    "at": change.seconds,
                },
            )
        self._alarm(now)
        if not placed:
            return
        run = self.session.run if self.session.state in OPEN_STATES else None
        if run is not None:
            self._journal.sample(self._clock.moment(), placed, run)
        if self.session.state in OPEN_STATES and self.session.state not in _WATCHED:
            self.outlook = None
            return
        for reading in placed:
            self._belief = update(self._belief, reading)
        self._look(now)

    def _look(self, now: float) -> None:
        self.outlook = outlook(self._belief, now)
        if self.session.state not in _WATCHED:
            return
        if now >= self._next_forecast:
            self._next_forecast = now + FORECAST_SECONDS
            self._journal.forecast(self._clock.moment(), self.outlook, self.session.run)
        sheet = self.session.sheet
        tolerance = sheet.setup().tolerance_celsius if sheet else _NO_SHEET.tolerance_celsius
        self._watch, event = window.look(self._watch, self.session.state, self.outlook, tolerance)
        if event is not None:
            self._receive(event)

    def _alarm(self, now: float) -> None:
        """Say that a probe is lost, or back, while its readings matter."""
        lost = troubles.lost(self._probes, now)
        if self.session.state not in _WATCHED:
            lost = {}
        for probe in sorted(set(lost) - self._alarmed):
            cue = Cue(CueName.PROBE_LOST, now, {"probe": probe, "condition": str(lost[probe])})
            self._turn_cues.append(cue)
            self._speech.standing(f"probe {probe}", cue, now)
        for probe in sorted(self._alarmed - set(lost)):
            self._speech.standing(f"probe {probe}", None, now)
            if self.session.state in _WATCHED:
                self._turn_cues.append(Cue(CueName.PROBE_BACK, now, {"probe": probe}))
        self._alarmed = set(lost)

    # --- presses --------------------------------------------------------------------------

    def _pressed(self, press: Press) -> None:
        self._last_touch = press.seconds
        asked = presses.meaning(self.session, press, self._asked_abandon)
        self._asked_abandon = None
        if isinstance(asked, Act):
            self._act(asked, press)
        elif asked is Kind.BEGIN:
            self._begin(press.seconds)
        else:
            self._receive(Event(asked, press.seconds, self._at_the_pour(asked)))

    def _act(self, act: Act, press: Press) -> None:
        if act is Act.MOVE_PROBE:
            self._places = places.moved(self._places, self._probes.probes)
            self._log(
                "place",
                {"at": press.seconds, **{name: str(one) for name, one in self._places.items()}},
            )
        elif act is Act.LIGHTS:
            self._lights_out = not self._lights_out
            self._parts.screen.dark(on=self._lights_out)
            self._log("lights", {"at": press.seconds, "out": self._lights_out})
        elif act is Act.HUSH:
            self._parts.sounder.hush()
            self._speech.hush()
            self._log("hush", {"at": press.seconds})
        elif act is Act.NEXT_SHEET and self._sheets:
            self._offered = (self._offered + 1) % len(self._sheets)
            self._belief = begin(self._idle_setup())
        elif act is Act.ASK_ABANDON:
            self._asked_abandon = press.seconds
            self._refuse(press.seconds, "cannot wait; again: give up")
        elif act is Act.REFUSE_EARLY:
            self._refuse(press.seconds, "not ready; hold to pour")
        self._next_frame = self._clock.now()

    def _refuse(self, seconds: float, reason: str) -> None:
        self._turn_cues.append(Cue(CueName.REFUSED, seconds, {"reason": reason}))
        self._log("refused", {"at": seconds, "reason": reason})

    def _at_the_pour(self, kind: Kind) -> dict[str, Json]:
        if kind is not Kind.NOW or self.session.state not in _WATCHED:
            return {}
        developer = self.outlook.developer if self.outlook else None
        if developer is None:
            return {"developer_celsius": None}
        return {
            "developer_celsius": round(developer.celsius, 3),
            "developer_sd": round(developer.sd, 3),
        }

    def _begin(self, seconds: float) -> None:
        if not self._sheets:
            self._refuse(seconds, "no sheet is there")
            return
        sheet = self._sheets[self._offered]
        self._began = self._clock.moment()
        run = str(ULID.from_timestamp(self._began.wall_seconds))
        self._belief = begin(sheet.setup())
        self._watch = window.Watch()
        self._places = {}
        self._next_forecast = seconds
        self._receive(record.begin(seconds, run, sheet))

    # --- events ---------------------------------------------------------------------------

    def _clock_events(self) -> None:
        while (event := due(self.session, self._clock.now())) is not None:
            self._receive(event)

    def _receive(self, event: Event) -> None:
        before = self.session
        self.session, cues = receive(before, event)
        refused = any(cue.name is CueName.REFUSED for cue in cues)
        if refused or (self.session is before and not cues):
            self._turn_cues += cues
            if refused:
                reason = cues[0].values.get("reason", "")
                self._log(
                    "refused",
                    {"at": event.seconds, "event": str(event.kind), "reason": reason},
                    run=before.run if before.state in OPEN_STATES else None,
                )
            return
        now = self._clock.now()
        late = now - event.seconds
        detail: dict[str, Json] = {**record.encode(event), "late_seconds": round(late, 3)}
        if cues:
            detail["cue"] = str(cues[0].name)
            detail["missed"] = late > MISSED_AFTER_SECONDS
        self._turn_cues += cues
        self._speech.standing("run", cues[-1] if cues else None, now)
        self._late_rows.append((str(event.kind), detail))
        self._next_frame = now
        if before.state in _WATCHED and self.session.state not in _WATCHED:
            self.outlook = None
        if self.session.state not in OPEN_STATES:
            self._belief = begin(self._idle_setup())

    def _speak(self) -> None:
        """Start the turn's tone, then journal what gave it."""
        now = self._clock.now()
        cues, self._turn_cues = self._turn_cues, []
        tone = self._speech.say(cues, self.session, now) or self._speech.repeat(now)
        if tone is not None:
            self._parts.sounder.play(tone)
        rows, self._late_rows = self._late_rows, []
        if rows and self._began is not None:
            moment = self._clock.moment()
            digest = run_row(self.session, self._settings.station, self._began, moment)
            for kind, detail in rows:
                self._journal.append(moment, kind, detail, self.session.run, digest)
        for cue in cues:
            self._last_cue = cue
            if self._observer is not None:
                self._observer(cue)

    def _log(self, kind: str, detail: dict[str, Json], run: str | None = None) -> None:
        if run is None and self.session.state in OPEN_STATES:
            run = self.session.run
        self._journal.append(self._clock.moment(), kind, detail, run)

    # --- what is seen ---------------------------------------------------------------------

    def snapshot(self) -> Snapshot:
        """Everything the display may speak of now."""
        now = self._clock.now()
        return Snapshot(
            now=now,
            session=self.session,
            outlook=self.outlook,
            places={name: places.place_of(self._places, name) for name in self._probes.probes},
            troubles=troubles.lost(self._probes, now),
            message=self._speech.shown(now),
            offered=self._sheets[self._offered] if self._sheets else None,
            lights_out=self._lights_out,
            corrected=any(probe.sd_celsius is not None for probe in self._settings.probe),
            warnings=tuple(self._faults.values()),
            fahrenheit=self._settings.display.fahrenheit,
        )

    def _frame(self, now: float) -> None:
        self._next_frame = now + FRAME_SECONDS
        self._look_at_parts(now)
        display = self._settings.display
        snapshot = self.snapshot()
        notice = view(snapshot)
        drawn = picture(notice)
        moved = burnin.shift(drawn, int(now / display.shift_every_seconds))
        idle = self.session.state not in OPEN_STATES
        self._parts.screen.dim(on=idle and now - self._last_touch > display.dim_after_seconds)
        self._parts.screen.show(moved)
        if self._live is None:
            return
        values = live_object(
            self._settings.station, self._clock.moment(), snapshot, notice, drawn, self._last_cue
        )
        try:
            self._live(values)
        except OSError as problem:
            # the sink goes on without the desk
            self._live_fault = f"the desk is not told: {problem.strerror}"
        else:
            self._live_fault = None

    def _look_at_parts(self, now: float) -> None:
        """Notice what is wrong with the parts, the log and the live file, once each way."""
        for name, fault in (
            ("display", self._parts.screen.fault),
            ("buzzer", self._parts.sounder.fault),
            ("buttons", self._parts.buttons.fault),
            ("live", self._live_fault),
            ("journal", self._journal.failure),
        ):
            if fault == self._faults.get(name):
                continue
            if name == "journal":
                cue = Cue(CueName.JOURNAL_FAILING, now) if fault else None
                self._speech.standing(name, cue, now)
                if cue is not None:
                    self._turn_cues.append(cue)
            self._log(f"{name}-fault", {"fault": fault, "at": now})
            if fault is None:
                del self._faults[name]
            else:
                self._faults[name] = fault

    def _next_due(self, now: float) -> float:
        dues = [
            self._next_frame,
            next_due(self.session),
            self._parts.buttons.next_due(),
            self._speech.next_due(),
        ]
        return max(now, min(at for at in dues if at is not None))

    def _idle_setup(self) -> Setup:
        return self._sheets[self._offered].setup() if self._sheets else _NO_SHEET
