"""The station: what comes from the parts goes through the core and back to the parts.

One thread runs ``turn`` again and again and sleeps between turns until the next thing is
due. Whatever may take long is elsewhere: conversions, drawing and the disk have threads of
their own, so that no cue waits for them. In a turn the tone starts before anything is drawn.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence

from wetside.clock import Clock
from wetside.cues.snapshot import Snapshot
from wetside.cues.wording import lost
from wetside.development.deadline import NEW_STUDENTS, Handover
from wetside.outlook import Outlook, Temperature
from wetside.ports import Parts
from wetside.readings import Reading
from wetside.session.bell import BellView
from wetside.session.events import Event, Json, Kind
from wetside.session.machine import OPEN_STATES, due, next_due, receive
from wetside.session.run import STOOD_STATES, Session, State
from wetside.session.sheetbook import Offer
from wetside.session.signals import Cue, CueName
from wetside.settings import StationSettings
from wetside.station.bells import BellClock
from wetside.station.choices import Choices
from wetside.station.developer import DeveloperWatch
from wetside.station.diary import Diary, Journal
from wetside.station.face import Face
from wetside.station.hands import Hands, setup_of
from wetside.station.lately import Lately
from wetside.station.recovery import TakeUp
from wetside.station.senses import Learnt, Senses
from wetside.station.speech import Speech

#: The display and the live file are renewed this often.
FRAME_SECONDS = 0.5
#: Forecasts are kept in the journal this often while tempering.
FORECAST_SECONDS = 5.0
#: States in which forecasts matter.
_WATCHED = frozenset({State.TEMPERING, State.READY})


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
    handover
        How long this station's students take between two steps.
    renew
        Gives the sheets as they are now; asked when a run begins or another sheet is wanted.
    learnt
        What earlier runs taught about a sheet's container (station/containers.py).
    lights_out
        Whether the display begins dark (station/lights.py).
    """

    def __init__(
        self,
        settings: StationSettings,
        clock: Clock,
        parts: Parts,
        journal: Journal,
        sheets: Sequence[Offer],
        *,
        live: Callable[[Mapping[str, object]], None] | None = None,
        observer: Callable[[Cue], None] | None = None,
        handover: Handover = NEW_STUDENTS,
        renew: Callable[[], Sequence[Offer]] | None = None,
        learnt: Learnt = lambda _: None,
        lights_out: bool = False,
    ) -> None:
        self.session = Session()
        self._lately = Lately(self.session)
        self._settings = settings
        self._clock = clock
        self._parts = parts
        self._observer = observer
        now = clock.now()
        self._diary = Diary(journal, clock, settings.station)
        setup = setup_of(sheets[0].sheet if sheets else None)
        self._senses = Senses(now, setup, settings.probe, settings.supplies, learnt)
        room = settings.room_celsius
        self._developer = DeveloperWatch(
            None if room is None else Temperature(room, settings.room_sd_celsius)
        )
        self._bells = BellClock(settings.bells_file, handover)
        self._face = Face(settings, clock, parts, live)
        self._speech = Speech(Choices(settings.choices_file))
        self._hands = Hands(
            clock, parts, self._diary, self._senses, self._developer, self._speech, sheets, renew,
            lights_out=lights_out,
        )  # fmt: skip
        self._last_cue: Cue | None = None
        self._next_frame = now
        self._next_forecast = now
        self._turn_cues: list[Cue] = []

    @property
    def outlook(self) -> Outlook | None:
        """The latest forecast, None while none matters."""
        return self._senses.outlook

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
            self._clock_until(press.seconds)
            then = self._lately.at(press.seconds)
            event, cues = self._hands.pressed(self.session, press, then)
            self._turn_cues += cues
            self._next_frame = self._clock.now()
            if event is not None:
                self._receive(event)
        self._readings(self._parts.probes.take())
        self._clock_until(self._clock.now())
        if not self._turn_cues:  # no tone waits for the integrals of the tank
            now = self._clock.now()
            taken_in = self._speech.taken_in(now)
            told = self._developer.event(self.session, now, taken_in=taken_in)
            if told is not None:
                self._receive(told)
        self._speak()
        now = self._clock.now()
        if now >= self._next_frame:
            self._frame(now)
        return self._next_due(now)

    def take_up(self, found: TakeUp) -> None:
        """Go on with a run that an earlier process of this station left open."""
        self.session = found.session
        self._diary.began = found.began
        if found.session.sheet is not None:
            self._senses.take_up(found.session.sheet.setup(), found.told)
            self._developer.begin_run(found.session.sheet)
        if found.meanwhile is not None:
            # nothing else of the run may name the new boot before the gap is in the journal
            self._receive(found.meanwhile)
            self._diary.write()
        self._lately = Lately(self.session)
        self._log("run-taken-up", {"state": str(self.session.state)})

    def give_up(self) -> None:
        """Give the open run up, without a press."""
        self._receive(Event(Kind.ABANDON, self._clock.now()))

    # --- readings -------------------------------------------------------------------------

    def _readings(self, readings: Sequence[Reading]) -> None:
        now = self._clock.now()
        tempering = self.session.state is State.TEMPERING
        placed, changes = self._senses.take(readings, now)
        for change in (*changes, *self._senses.unfit_changes(now, tempering=tempering)):
            self._diary.condition(change, self.session)
        self._alarm(now)
        if not placed:
            return
        open_run = self.session.state in OPEN_STATES
        if open_run and self.session.run is not None:
            self._diary.sample(placed, self.session.run)
        self._developer.hear(self.session, placed)
        if open_run and self.session.state not in _WATCHED:
            self._senses.look_away()
            return
        self._look(self._senses.believe(placed, now), now)

    def _look(self, outlook: Outlook, now: float) -> None:
        self._developer.compare(self.session, outlook, now, self._senses.adviser.help())
        sheet = self.session.sheet
        if self.session.state not in _WATCHED or sheet is None:
            return
        if now >= self._next_forecast:
            self._next_forecast = now + FORECAST_SECONDS
            self._diary.forecast(outlook, self.session.run)
        event = self._senses.window_event(
            self.session.state, sheet.setup(), fahrenheit=self._fahrenheit()
        )
        if event is not None:
            self._receive(event)

    def _alarm(self, now: float) -> None:
        """Say that a probe is lost, or back, while its readings matter."""
        matters = self.session.state in _WATCHED
        tempering = self.session.state is State.TEMPERING
        fresh, over = self._senses.alarms(now, matters=matters, tempering=tempering)
        for probe, condition in fresh.items():
            cue = Cue(CueName.PROBE_LOST, now, {"probe": probe, **lost(condition)})
            self._turn_cues.append(cue)
            self._speech.alarm(f"probe {probe}", cue, now)
        for probe in over:
            self._speech.alarm(f"probe {probe}", None, now)
            if matters:
                self._turn_cues.append(Cue(CueName.PROBE_BACK, now, {"probe": probe}))

    # --- events ---------------------------------------------------------------------------

    def _clock_until(self, seconds: float) -> None:
        """Receive every event of the clock that is due by then."""
        while (event := due(self.session, seconds)) is not None:
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
                    "refused", {"at": event.seconds, "event": str(event.kind), "reason": reason}
                )
            return
        now = self._clock.now()
        self._lately.keep(event.seconds, self.session)
        self._turn_cues += cues
        self._diary.event(event, cues, self.session, now)
        self._next_frame = now
        if before.state in _WATCHED and self.session.state not in _WATCHED:
            self._senses.look_away()
        if before.state in STOOD_STATES and self.session.state in _WATCHED:
            self._senses.look_anew()
        if event.kind is Kind.BEGIN:
            self._begun(now)
        elif self.session.state not in OPEN_STATES:
            self._senses.forget(setup_of(self._hands.offered))

    def _begun(self, now: float) -> None:
        sheet = self.session.sheet
        assert sheet is not None  # noqa: S101  # BEGIN brings it
        self._senses.begin_run(sheet.setup())
        self._developer.begin_run(sheet)
        self._bells.reload()
        if chosen := self._speech.choices.renewed():
            self._log("tones", chosen)
        self._next_forecast = now

    def _speak(self) -> None:
        """Start the turn's tone, then journal what gave it."""
        now = self._clock.now()
        cues, self._turn_cues = self._turn_cues, []
        tone = self._speech.say(cues, self.session, now) or self._speech.repeat(now)
        if tone is not None:
            self._parts.sounder.play(tone)
        self._diary.write()
        for cue in cues:
            self._last_cue = cue
            if self._observer is not None:
                self._observer(cue)

    def _log(self, kind: str, detail: Mapping[str, Json]) -> None:
        self._diary.log(kind, detail, self.session)

    def _fahrenheit(self) -> bool:
        return self._speech.choices.fahrenheit(self._settings.display.fahrenheit)

    def snapshot(self, bell: BellView | None = None) -> Snapshot:
        """Everything the display may speak of now."""
        now = self._clock.now()
        fahrenheit = self._fahrenheit()
        tempering = self.session.state is State.TEMPERING
        return Snapshot(
            now=now,
            session=self.session,
            outlook=self.outlook,
            places=self._senses.where(),
            troubles=self._senses.lost(now, tempering=tempering),
            message=self._speech.shown(now),
            offered=self._hands.offered,
            lights_out=self._hands.lights_out,
            corrected=self._senses.corrected,
            probe_sd_celsius=self._senses.probe_sd_celsius,
            warnings=self._face.warnings,
            signs=self._face.signs,
            fahrenheit=fahrenheit,
            choice=self._developer.choice if tempering else None,
            only_a_dip_tells=tempering and self._senses.only_a_dip_tells,
            dip_asked=tempering and self._senses.dip_asked,
            bell=bell.lines if bell else (),
            wide_steps=self._developer.wide_steps,
            room_measured=self._settings.room_celsius is not None,
            advice=self._senses.adviser.lines(fahrenheit=fahrenheit) if tempering else (),
            desk=self._face.notes(now, self.session),
            address_asked=self._hands.address_asked,
            touched=self._hands.last_touch,
        )

    def _frame(self, now: float) -> None:
        self._next_frame = now + FRAME_SECONDS
        for name, fault in self._face.faults(self._diary.failure):
            if name == "journal":
                cue = Cue(CueName.JOURNAL_FAILING, now) if fault else None
                self._speech.alarm(name, cue, now)
                if cue is not None:
                    self._turn_cues.append(cue)
            self._log(f"{name}-fault", {"fault": fault, "at": now})
        moment = self._clock.moment()
        bell = self._bells.look(moment, self.session, self._hands.offered, self.outlook)
        values = bell.values if bell else None
        tempers = self.session.state is State.TEMPERING
        advice = self._senses.adviser.objects() if tempers else None
        self._face.show(self.snapshot(bell), values, advice, self._last_cue)

    def _next_due(self, now: float) -> float:
        dues = (self._next_frame, next_due(self.session), self._speech.next_due())
        known = [at for at in (*dues, self._parts.buttons.next_due()) if at is not None]
        return max(now, min(known))
