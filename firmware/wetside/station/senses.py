"""What the probes say, where they are, what is believed of it, and which of them are lost."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from wetside.outlook import Outlook, Setup
from wetside.readings import Condition, Place, Reading
from wetside.session import window
from wetside.session.events import Event, Kind
from wetside.session.run import State
from wetside.settings import Probe, Supplies
from wetside.station import places, troubles
from wetside.station.advising import Adviser
from wetside.station.places import Told
from wetside.station.troubles import Change
from wetside.thermal import trust
from wetside.thermal.belief import Belief
from wetside.thermal.calibration import UNCORRECTED_SD
from wetside.thermal.estimator import begin
from wetside.thermal.forecast import outlook
from wetside.thermal.hindsight import Hindsight, hear, unguessed
from wetside.thermal.priors import Prior
from wetside.thermal.trust import Trust
from wetside.thermal.unmoved import INSISTING_SECONDS, as_told, unmoved

#: What earlier runs taught about a setup's container: its prior, None where there is none.
Learnt = Callable[[Setup], Prior | None]


def probe_sd(probes: Sequence[Probe]) -> float:
    """Standard deviation of the lasting error of the worst of these probes, in C."""
    known = [probe.sd_celsius for probe in probes]
    return max((UNCORRECTED_SD if sd is None else sd for sd in known), default=UNCORRECTED_SD)


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
        self.probe_sd_celsius = probe_sd(probes)
        self._corrected = {probe.name: probe.sd_celsius is not None for probe in probes}
        self._learnt = learnt
        self._past = Hindsight(self._begin(setup))
        self._outlook: Outlook | None = None
        self._trust = Trust()
        self._watch = window.Watch()
        self._probes = troubles.Watch(now)
        self._told = Told()
        self._alarmed: set[str] = set()
        self._moved_seconds = -math.inf
        self._told_unfit: dict[str, Condition] = {}

    def forget(self, setup: Setup) -> None:
        """Believe nothing any more; ``setup`` is what comes next."""
        self._past = Hindsight(self._begin(setup))
        self._trust = Trust()
        self.look_away()
        self.adviser.forget()

    def look_away(self) -> None:
        """Readings matter to nobody now: no outlook stands."""
        self._outlook = None

    def _begin(self, setup: Setup) -> Belief:
        known = replace(setup, probe_sd_celsius=self.probe_sd_celsius)
        return begin(known, self._learnt(setup), doubting=True)

    @property
    def belief(self) -> Belief:
        """What is believed about the sink."""
        return self._past.belief

    @property
    def outlook(self) -> Outlook | None:
        """The latest forecast, None while none matters."""
        return self._outlook

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
        self._past = Hindsight(with_probe_sd(self.belief, self.probe_sd_celsius))

    def begin_run(self, setup: Setup) -> None:
        """A run begins: nothing is believed, and nobody said where a probe is."""
        self.forget(setup)
        self._watch = window.Watch()
        self._told = Told()

    def take_up(self, setup: Setup, told: Told) -> None:
        """A run goes on after nobody was here: nothing is believed but where the probes were."""
        self.forget(setup)
        self._told = told

    def look_anew(self) -> None:
        """A run that stood goes on: how long the developer was inside or outside is not known."""
        self._watch = window.anew(self._watch)

    def take(self, readings: Sequence[Reading], now: float) -> tuple[list[Reading], list[Change]]:
        """The readings with their places, and which probes changed their condition."""
        placed = [replace(reading, place=self._told.sure(reading.probe)) for reading in readings]
        for reading in placed:
            if reading.probe not in self._corrected:
                self._met(reading.probe)
        self._probes, changes = troubles.take(self._probes, placed)
        self._probes, stale = troubles.grow_stale(self._probes, now)
        return placed, [*changes, *stale]

    def believe(self, placed: Sequence[Reading], now: float) -> Outlook:
        """Learn from readings, and look ahead."""
        for reading in placed:
            if trust.counts(self.belief, reading):
                self._past = hear(self._past, reading)
                self._trust = trust.heard(self._trust, reading, self.belief)
        self._trust = trust.weighed(self._trust, self.belief, self._placed(), now)
        self._outlook = outlook(self.belief, now)
        return self._outlook

    def window_event(self, state: State, setup: Setup, *, fahrenheit: bool = False) -> Event | None:
        """The event that the latest outlook gives, if it gives one; advice in the unit shown."""
        if self._outlook is None:
            return None
        if state is State.TEMPERING:
            self.adviser.look(self.belief, self._outlook.seconds)
        dip = self.adviser.dip
        seen = window.Seen(
            replace(setup, probe_sd_celsius=self.probe_sd_celsius),
            self._trust.measured_ago,
            dip_worthwhile=dip is not None and dip.worthwhile,
            doubted=trust.doubted(self._trust, self.belief, self._placed()),
        )
        self._watch, event = window.look(self._watch, state, self._outlook, seen)
        if event is None or event.kind is not Kind.NEVER:
            return event
        told = self.adviser.lines(fahrenheit=fahrenheit)
        return replace(event, detail={**event.detail, "advice": told[0]}) if told else event

    def move(self) -> dict[str, Place]:
        """The probe button was pressed: where the probes are now."""
        self._trust = trust.told_anew(self._trust)
        self._past = unguessed(self._past)
        known = {*self._probes.probes, *self._told.said}
        there = set(troubles.answering(self._probes)) or known  # where none answers, all are meant
        self._told = places.moved(self._told, there, known - there)
        now = self.belief.seconds or 0.0
        if now - self._moved_seconds < INSISTING_SECONDS and self._told_as_before():
            self._past = Hindsight(as_told(self.belief))
        self._moved_seconds = now
        return dict(self._told.said)

    def _told_as_before(self) -> bool:
        """Whether a probe that seems to have stayed is once more said to have moved."""
        return any(
            unmoved(track) and self._told.place(track.probe) is track.told
            for track in self.belief.story.tracks
        )

    def where(self) -> dict[str, Place]:
        """Where each probe is, as somebody said."""
        return {name: self._told.place(name) for name in self._probes.probes}

    @property
    def dip_asked(self) -> bool:
        """Whether nobody has told a dip yet: nothing is called ready before."""
        sure = [self._told.sure(name) for name in self._probes.probes]
        return self._trust.measured is None and Place.DEVELOPER not in sure

    def _placed(self) -> frozenset[str]:
        """Probes that have a place, as far as somebody vouches for it."""
        known = {*self._probes.probes, *self._told.said}
        return frozenset(name for name in known if self._told.sure(name) is not Place.UNKNOWN)

    def lost(self, now: float, *, tempering: bool) -> dict[str, Condition]:
        """Probes that give no usable reading, or one that cannot be of where they are, and why.

        One that has no place is not missed beside one that has: it was replaced, or nobody used it.
        """
        spared = not places.needed(self._told, troubles.answering(self._probes))
        missing = {
            name: why
            for name, why in troubles.lost(self._probes, now).items()
            if not spared or self._told.place(name) is not Place.UNKNOWN
        }
        return {**self._unfit(tempering=tempering), **missing}

    def _unfit(self, *, tempering: bool) -> dict[str, Condition]:
        return trust.unfit(self._trust, self.belief, self._placed(), tempering=tempering)

    def unfit_changes(self, now: float, *, tempering: bool) -> list[Change]:
        """Probes that began or ceased to give readings of something else since this was asked."""
        fine, unfit = Condition.FINE, self._unfit(tempering=tempering)
        before, self._told_unfit = self._told_unfit, unfit
        pairs = (
            (probe, before.get(probe, fine), unfit.get(probe, fine))
            for probe in sorted({*before, *unfit})
        )
        return [Change(probe, old, new, now) for probe, old, new in pairs if old is not new]

    def alarms(
        self, now: float, *, matters: bool, tempering: bool
    ) -> tuple[dict[str, Condition], list[str]]:
        """Probes that are newly lost and why, and those that are no longer.

        While readings do not matter no probe counts as lost.
        """
        lost = self.lost(now, tempering=tempering) if matters else {}
        fresh = {probe: lost[probe] for probe in sorted(set(lost) - self._alarmed)}
        over = sorted(self._alarmed - set(lost))
        self._alarmed = set(lost)
        return fresh, over
