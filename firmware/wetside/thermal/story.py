"""One account of what happened at the sink, in which every probe's place is known.

``tell`` takes one accepted reading in, ``relocate`` moves a probe, ``disturb`` changes the sink
under it. The account keeps the evidence for itself, so that accounts that differ in places can
be compared.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from wetside.outlook import Setup
from wetside.readings import Place, Reading
from wetside.thermal import bank as banks
from wetside.thermal import lag as lags
from wetside.thermal import sink, tracks
from wetside.thermal.bank import PROBE_A, Bank
from wetside.thermal.changes import CHANGES_SECONDS, with_changes
from wetside.thermal.priors import Prior
from wetside.thermal.surprise import alarm
from wetside.thermal.tracks import Track

_SETTLED_SD = 0.2
_SETTLING_SECONDS = 30.0
#: A reading this far off, and by four sd, after a silence: the probe was elsewhere meanwhile.
_SILENCE_SECONDS, _SILENCE_KELVIN = 10.0, 0.8
#: A probe that stayed so long tells little more of its place: what its readings lie from
#: the usual log density (one with an sd of 0.04 K) counts for less, as the equations err in all of
#: them; the more so where nobody ever told the place, as a developer and its bath rise alike.
_LONG_SECONDS, _LONG_TEMPER, _GUESSED_TEMPER = 60.0, 0.3, 0.15
_USUAL_LOG_DENSITY = 1.8
#: 1/s: nobody leaves a probe hanging in air for long while a bath is tempered.
_AIR_HAZARD = 1.0 / 30.0
#: In a container just put into a bath the wall still changes and the flow along it has yet to set
#: in: the coupling grows at first (1/s in its logarithm), by an amount that nobody knows.
_YOUNG_SECONDS, _YOUNG_GROWTH, _YOUNG_WALK = 15.0, 0.008, 0.02


@dataclass(frozen=True, slots=True)
class Story:
    """What is believed if the probes were where this account says.

    Attributes
    ----------
    bank, bank_seconds
        The hypotheses, None before a probe was in a liquid, and the time they stand for.
    begun
        The first probe has told its medium; until then the bank is built anew at each reading.
    born_seconds
        When the first probe came into a liquid; the container came into the bath about then.
    bath_seen
        A probe has been in the bath.
    met_since
        A probe has been in the developer since then.
    changes_seconds
        When hypotheses of a change were last added.
    tracks
        The probes, in the order of their latest readings.
    log_evidence
        Logarithm of the prior probability of the account times the density of its readings.
    """

    setup: Setup
    prior: Prior
    bank: Bank | None = None
    bank_seconds: float = 0.0
    begun: bool = False
    born_seconds: float = 0.0
    bath_seen: bool = False
    met_since: bool = False
    changes_seconds: float = 0.0
    tracks: tuple[Track, ...] = ()
    log_evidence: float = 0.0

    def track(self, probe: str) -> Track | None:
        """Track of a probe by name."""
        return next((track for track in self.tracks if track.probe == probe), None)


def with_track(story: Story, track: Track) -> Story:
    """Story in which the probe's track is this one."""
    return replace(story, tracks=_tracks_with(story, track))


def _tracks_with(story: Story, track: Track) -> tuple[Track, ...]:
    return (*(t for t in story.tracks if t.probe != track.probe), track)


def enter(story: Story, reading: Reading, celsius: float, slot: int, place: Place) -> Story:
    """A probe gives its first reading."""
    story = with_track(story, tracks.start_track(reading, celsius, slot, place))
    if story.begun and story.bank is not None:
        bank = banks.probe_anew(story.bank, slot, celsius, 0.05)
        return replace(story, bank=sink.second_probe(bank))
    return _begin_bank(story, reading.seconds)


def _begin_bank(story: Story, seconds: float) -> Story:
    """Build the bank from the probes' media, until these are known well enough."""
    wet = tuple(track for track in story.tracks if track.place is not Place.AIR)
    if not wet:
        return story
    bank = sink.start(story.setup, story.prior, story.tracks)
    waited = seconds - min(track.since for track in wet)
    settled = all(lags.medium_estimate(track.lag)[1] <= _SETTLED_SD for track in wet)
    return replace(
        story,
        bank=bank,
        bank_seconds=seconds,
        changes_seconds=seconds,
        born_seconds=min(track.since for track in wet),
        begun=settled or waited > _SETTLING_SECONDS,
    )


def carried(story: Story, seconds: float) -> Story:
    """Story whose bank is carried to ``seconds``, or further where it already is."""
    if story.bank is None or seconds <= story.bank_seconds:
        return story
    return replace(story, bank=_carried(story, story.bank, seconds), bank_seconds=seconds)


def _carried(story: Story, bank: Bank, seconds: float) -> Bank:
    elapsed = seconds - story.bank_seconds
    if elapsed <= 0.0:
        return bank
    young = math.exp((story.born_seconds - seconds) / _YOUNG_SECONDS) * elapsed
    bank = sink.loosened_coupling(bank, _YOUNG_GROWTH * young, _YOUNG_WALK**2 * young)
    return banks.predict(bank, elapsed, sink.media(story.tracks, seconds - story.born_seconds))


def relocate(
    story: Story, track: Track, seconds: float, celsius: float, place: Place, told: Place
) -> Story:
    """The probe is in ``place`` from this reading on."""
    begun = story.begun or story.bank is not None
    story = carried(story, seconds)
    if place is Place.AIR or story.bank is None:
        track = tracks.moved(track, (seconds, celsius), place, told)
        story = replace(with_track(story, track), begun=begun)
        return story if place is Place.AIR else _begin_bank(story, seconds)
    medium = banks.moments(story.bank, sink.liquid(place))
    track = tracks.moved(track, (seconds, celsius), place, told, medium)
    bank = sink.probe_moved(story.bank, track)
    return replace(
        with_track(story, track),
        bank=bank,
        begun=True,
        changes_seconds=max(story.changes_seconds, seconds + tracks.TRANSIENT_SECONDS),
    )


def tell(story: Story, track: Track, seconds: float, celsius: float) -> Story:
    """Take a reading of a probe that stayed where it was."""
    silence = seconds - track.seconds
    unusual = silence > max(_SILENCE_SECONDS, 3.0 * track.interval)
    so_far = track.lag.log_evidence
    track = tracks.advance(track, seconds, celsius)
    by_lag = track.lag.log_evidence - so_far
    if track.place is Place.AIR:
        track = tracks.surprised(track, track.lag.surprise)
        gained = _tempered(by_lag - _AIR_HAZARD * max(0.0, silence), track)
        return replace(
            story, tracks=_tracks_with(story, track), log_evidence=story.log_evidence + gained
        )
    if not story.begun or story.bank is None:
        if track.told is Place.UNKNOWN:
            track = tracks.surprised(track, track.lag.surprise)
        return _begin_bank(likelier(with_track(story, track), by_lag), seconds)
    bank = _carried(story, story.bank, seconds)
    return _weigh(story, bank, track, by_lag, unusual=unusual)


def likelier(story: Story, log_chance: float) -> Story:
    """Story with the probability of what it supposes or has read taken in."""
    return replace(story, log_evidence=story.log_evidence + log_chance)


def _tempered(gained: float, track: Track) -> float:
    """What a reading tells of the place: little once the probe has long been settled."""
    if track.seconds - track.since < _LONG_SECONDS:
        return gained
    temper = _LONG_TEMPER if track.ever_told else _GUESSED_TEMPER
    return _USUAL_LOG_DENSITY + temper * (gained - _USUAL_LOG_DENSITY)


def _weigh(story: Story, bank: Bank, track: Track, by_lag: float, *, unusual: bool) -> Story:
    """Correct the story's hypotheses, as they stand now, by the track's latest reading.

    ``unusual`` says that it comes after a long silence, ``by_lag`` what it tells of the place by
    the lag alone.
    """
    gained = 0.0
    elsewhere = unusual and _was_elsewhere(bank, track)
    if elsewhere:
        bank = sink.probe_moved(bank, track)
    else:
        if not story.bath_seen and track.place is Place.BATH:
            bank = sink.with_running_baths(bank, story.prior)
            story = replace(story, bath_seen=True)
        elif story.bath_seen and not story.met_since and track.place is Place.DEVELOPER:
            story = replace(story, met_since=True)
        if track.seconds - story.changes_seconds > CHANGES_SECONDS:
            bank = with_changes(bank, track.seconds, track.seconds - story.born_seconds)
            story = replace(story, changes_seconds=track.seconds)
        bank, surprise, gained = sink.take(bank, track, hidden=_hidden(story, track))
        if track.since > story.born_seconds:
            bank = sink.unsettled(bank, track)
        track = tracks.surprised(track, surprise)
    gained = by_lag if track.in_transient else _tempered(gained, track)
    return replace(
        story,
        tracks=_tracks_with(story, track),
        bank=bank,
        bank_seconds=max(story.bank_seconds, track.seconds),
        log_evidence=story.log_evidence + gained,
    )


def _hidden(story: Story, track: Track) -> bool:
    """Whether the probe was told to be in the bath and none is in the developer.

    Where nobody told, the account that has it in the bath would lose by it against the others.
    """
    others = (t for t in story.tracks if t.probe != track.probe)
    return track.told is Place.BATH and all(t.place is not Place.DEVELOPER for t in others)


def _was_elsewhere(bank: Bank, track: Track) -> bool:
    """Whether after a silence the probe is too far off to have stayed."""
    expected, sd = banks.moments(bank, PROBE_A + track.slot)
    return abs(track.celsius - expected) > max(_SILENCE_KELVIN, 4.0 * sd)


def disturb(story: Story, track: Track) -> Story:
    """The sink changed under a probe that stayed where it is."""
    if story.bank is None:
        return story
    if track.place is Place.BATH:
        bank = sink.bath_thrown(story.bank)
    else:
        measured = any(t.place is Place.BATH for t in story.tracks if t.probe != track.probe)
        bank = sink.developer_thrown(
            story.bank, story.setup, story.prior, track, bath_measured=measured
        )
    return replace(with_track(story, tracks.disturbed(track)), bank=bank)


def out_of_tune(story: Story, probe: str, *, told: bool) -> bool:
    """Whether the probe's readings have left what this story expects."""
    track = story.track(probe)
    return track is not None and alarm(track.misfit, told=told)
