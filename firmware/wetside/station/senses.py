"""What the probes say, where they are, what is believed of it, and which of them are lost."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from wetside.outlook import Outlook, Setup
from wetside.readings import Condition, Place, Reading
from wetside.session import window
from wetside.session.events import Event, Kind
from wetside.session.machine import State
from wetside.settings import Probe, Supplies
from wetside.station import places, troubles
from wetside.station.advising import Adviser
from wetside.station.troubles import Change
from wetside.thermal.astray import astray
from wetside.thermal.belief import Belief
from wetside.thermal.calibration import UNCORRECTED_SD
from wetside.thermal.estimator import begin
from wetside.thermal.forecast import outlook
from wetside.thermal.hindsight import Hindsight, hear
from wetside.thermal.priors import Prior
from wetside.thermal.stuck import Still
from wetside.thermal.stuck import watch as watch_still
from wetside.thermal.unmoved import INSISTING_SECONDS, as_told, unmoved

#: A probe has measured the developer once it has been in it so long, with that probability.
SETTLING_SECONDS, SURE = 8.0, 0.95
#: A probe that seemed to hang in air is not trusted for so long, or until somebody presses anew;
#: for the first part of it the display asks to put it back.
AIRED_SECONDS, AIRED_SHOWN_SECONDS = 300.0, 60.0
#: Readings of the developer that fit so little (cumulative sum of surprise) may be of air.
DOUBT_MISFIT = 4.0

#: What earlier runs taught about a setup's container: its prior, None where there is none.
Learnt = Callable[[Setup], Prior | None]


def probe_sd(probes: Sequence[Probe]) -> float:
    """Standard deviation of the lasting error of the worst of these probes, in C."""
    known = [probe.sd_celsius for probe in probes]
    return max((UNCORRECTED_SD if sd is None else sd for sd in known), default=UNCORRECTED_SD)


def surely_in(belief: Belief, probe: str, place: Place = Place.DEVELOPER) -> bool:
    """Whether every account that may well be true has the probe in this place."""
    chances = zip(belief.probabilities(), belief.stories, strict=True)
    return (
        sum(
            chance
            for chance, story in chances
            if (track := story.track(probe)) is not None and track.place is place
        )
        >= SURE
    )


def with_probe_sd(belief: Belief, celsius: float) -> Belief:
    """The belief with another standard deviation of the probes' lasting error."""
    setup = replace(belief.story.setup, probe_sd_celsius=celsius)
    stories = tuple(replace(story, setup=setup) for story in belief.stories)
    calm = tuple(replace(story, setup=setup) for story in belief.calm)
    return replace(belief, stories=stories, calm=calm)


class Senses:
    """Probes and estimate of one station.

    Parameters
    ----------
    now
        Monotonic seconds at the start.
    setup
        What is tempered first.
    probes
        The probes of the settings, with their corrections.
    at_hand
        What advice may count on.
    learnt
        Asked whenever something new is tempered.
    """

    def __init__(
        self,
        now: float,
        setup: Setup,
        probes: Sequence[Probe],
        at_hand: Supplies,
        learnt: Learnt = lambda _: None,
    ) -> None:
        self.adviser = Adviser(at_hand)
        self.outlook: Outlook | None = None
        self.probe_sd_celsius = probe_sd(probes)
        self._corrected = {probe.name: probe.sd_celsius is not None for probe in probes}
        self._learnt = learnt
        self._past = Hindsight(self._begin(setup))
        self._watch = window.Watch()
        self._measured: float | None = None
        self._probes = troubles.Watch(now)
        self._places: dict[str, Place] = {}
        self._alarmed: set[str] = set()
        self._still: dict[str, Still] = {}
        self._tempering = False
        self._aired: tuple[str, float] | None = None
        self._moved_seconds = -math.inf
        self._told_unfit: dict[str, Condition] = {}

    def forget(self, setup: Setup) -> None:
        """Believe nothing any more; ``setup`` is what comes next."""
        self._past = Hindsight(self._begin(setup))
        self._measured = None
        self._still = {}
        self._aired = None
        self.adviser.forget()

    def _begin(self, setup: Setup) -> Belief:
        known = replace(setup, probe_sd_celsius=self.probe_sd_celsius)
        return begin(known, self._learnt(setup), doubting=True)

    @property
    def _belief(self) -> Belief:
        return self._past.belief

    @property
    def only_a_dip_tells(self) -> bool:
        """Whether the developer may be ready, or past it, and nobody has looked for long."""
        return self._watch.only_a_dip_tells

    @property
    def corrected(self) -> bool:
        """Whether every probe was compared with a reference."""
        return bool(self._corrected) and all(self._corrected.values())

    def _met(self, probe: str) -> None:
        """A probe that is not in the settings joins in: it may be off as the data sheet allows."""
        self._corrected[probe] = False
        self.probe_sd_celsius = max(self.probe_sd_celsius, UNCORRECTED_SD)
        self._past = Hindsight(with_probe_sd(self._belief, self.probe_sd_celsius))

    def begin_run(self, setup: Setup) -> None:
        """A run begins: nothing is believed, and nobody said where a probe is."""
        self.forget(setup)
        self._watch = window.Watch()
        self._places = {}

    def look_anew(self) -> None:
        """A run that stood goes on: how long the developer was inside or outside is not known."""
        self._watch = window.anew(self._watch)

    def take(self, readings: Sequence[Reading], now: float) -> tuple[list[Reading], list[Change]]:
        """The readings with their places, and which probes changed their condition."""
        placed = [
            replace(reading, place=places.place_of(self._places, reading.probe))
            for reading in readings
        ]
        for reading in placed:
            if reading.probe not in self._corrected:
                self._met(reading.probe)
        self._probes, changes = troubles.take(self._probes, placed)
        self._probes, stale = troubles.grow_stale(self._probes, now)
        return placed, [*changes, *stale]

    def believe(self, placed: Sequence[Reading], now: float) -> Outlook:
        """Learn from readings, and look ahead."""
        for reading in placed:
            self._past = hear(self._past, reading)
            still = watch_still(self._still.get(reading.probe), reading, self._belief)
            if still is not None:
                self._still[reading.probe] = still
        for track in self._belief.story.tracks:
            if astray(track):
                self._aired = (track.probe, track.seconds)
            # told, or recognised by the estimator beyond doubt
            stayed = track.seconds - track.since
            if stayed >= SETTLING_SECONDS and surely_in(self._belief, track.probe):
                self._measured = track.seconds
        self.outlook = outlook(self._belief, now)
        return self.outlook

    def window_event(self, state: State, setup: Setup, *, fahrenheit: bool = False) -> Event | None:
        """The event that the latest outlook gives, if it gives one; advice in the unit shown."""
        self._tempering = state is State.TEMPERING
        if self.outlook is None:
            return None
        if state is State.TEMPERING:
            self.adviser.look(self._belief, self.outlook.seconds)
        dip = self.adviser.dip
        seen = window.Seen(
            replace(setup, probe_sd_celsius=self.probe_sd_celsius),
            None if self._measured is None else self.outlook.seconds - self._measured,
            dip_worthwhile=dip is not None and dip.worthwhile,
            doubted=self._doubted(),
        )
        self._watch, event = window.look(self._watch, state, self.outlook, seen)
        if event is None or event.kind is not Kind.NEVER:
            return event
        told = self.adviser.lines(fahrenheit=fahrenheit)
        return replace(event, detail={**event.detail, "advice": told[0]}) if told else event

    def move(self) -> dict[str, Place]:
        """The probe button was pressed: where the probes are now."""
        self._aired = None
        self._places = places.moved(self._places, self._probes.probes)
        now = 0.0 if self.outlook is None else self.outlook.seconds
        if now - self._moved_seconds < INSISTING_SECONDS and self._told_as_before():
            self._past = Hindsight(as_told(self._belief))
        self._moved_seconds = now
        return self._places

    def _told_as_before(self) -> bool:
        """Whether a probe that seems to have stayed is once more said to have moved."""
        return any(
            unmoved(track) and places.place_of(self._places, track.probe) is track.told
            for track in self._belief.story.tracks
        )

    def where(self) -> dict[str, Place]:
        """Where each probe is believed to be."""
        return {name: places.place_of(self._places, name) for name in self._probes.probes}

    def lost(self, now: float) -> dict[str, Condition]:
        """Probes that give no usable reading, or one that cannot be of where they are, and why."""
        return {**self._unfit(), **troubles.lost(self._probes, now)}

    def _unfit(self) -> dict[str, Condition]:
        """Probes whose readings are not of what somebody said they are in."""
        found = {name: Condition.STUCK for name, still in self._still.items() if still.stuck}
        found |= dict.fromkeys(self._contested(), Condition.UNMOVED)
        # whoever is about to pour takes the probe out, and that is right
        if self._tempering and self._aired and self._since_aired() < AIRED_SHOWN_SECONDS:
            found[self._aired[0]] = Condition.IN_AIR
        return found

    def _contested(self) -> list[str]:
        """Probes that go on reading what they read before somebody said that they moved."""
        return [
            track.probe
            for track in self._belief.story.tracks
            if unmoved(track)
            and track.seconds - track.told_since >= SETTLING_SECONDS
            and surely_in(self._belief, track.probe, track.place)
        ]

    def unfit_changes(self, now: float) -> list[Change]:
        """Probes that began or ceased to give readings of something else since this was asked."""
        fine, unfit = Condition.FINE, self._unfit()
        before, self._told_unfit = self._told_unfit, unfit
        pairs = (
            (probe, before.get(probe, fine), unfit.get(probe, fine))
            for probe in sorted({*before, *unfit})
        )
        return [Change(probe, old, new, now) for probe, old, new in pairs if old is not new]

    def _since_aired(self) -> float:
        """Seconds since a probe seemed to hang in air; without end where none did."""
        if self._aired is None or self.outlook is None:
            return math.inf
        return self.outlook.seconds - self._aired[1]

    def _doubted(self) -> bool:
        """Whether a probe in the developer may not measure it just now."""
        if self._unfit() or any(still.doubted for still in self._still.values()):
            return True
        if self._since_aired() < AIRED_SECONDS:
            return True
        return any(
            track.told is Place.DEVELOPER
            and (max(track.misfit) > DOUBT_MISFIT or not surely_in(self._belief, track.probe))
            for track in self._belief.story.tracks
        )

    def alarms(self, now: float, *, matters: bool) -> tuple[dict[str, Condition], list[str]]:
        """Probes that are newly lost and why, and those that are no longer.

        While readings do not matter no probe counts as lost.
        """
        lost = self.lost(now) if matters else {}
        fresh = {probe: lost[probe] for probe in sorted(set(lost) - self._alarmed)}
        over = sorted(self._alarmed - set(lost))
        self._alarmed = set(lost)
        return fresh, over
