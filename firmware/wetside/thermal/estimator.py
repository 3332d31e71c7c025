"""From readings to a belief about the sink: ``update(belief, reading) -> belief``."""

from __future__ import annotations

from dataclasses import dataclass, replace

from wetside.outlook import Setup
from wetside.readings import Condition, Place, Reading
from wetside.thermal import bank as banks
from wetside.thermal import lag as lags
from wetside.thermal import sink, tracks
from wetside.thermal.bank import BATH, DEVELOPER, PROBE_A, Bank
from wetside.thermal.places import Guess, recognise, recognise_first
from wetside.thermal.priors import Prior, prior_for
from wetside.thermal.surprise import accumulate, alarm
from wetside.thermal.tracks import Track

_SETTLED_SD = 0.2
_SETTLING_SECONDS = 30.0
_PROBES = 2
#: A search ends when the medium is read this well, or after so long.
_FOUND_SD = 0.35
_LEAST_SEARCH_SECONDS, _MOST_SEARCH_SECONDS = 5.0, 25.0
#: A reading this far off after a silence means that the probe was elsewhere meanwhile.
_SILENCE_SECONDS, _SILENCE_KELVIN = 10.0, 0.8
#: K/s that only a move brings about in air.
_AIR_MOVE = 0.3
_UNPLACED_SECONDS = 120.0
_UNPLACED_KELVIN = 0.6
#: Hypotheses of a change are added that often.
_CHANGES_SECONDS = 12.0


@dataclass(frozen=True, slots=True)
class Belief:
    """Everything believed about one sink; arrays inside are never written to again.

    Attributes
    ----------
    setup, prior
        What was known before the first reading.
    seconds
        Time of the latest reading of any kind; None before the first.
    bank_seconds
        Time to which the hypotheses were carried.
    begun
        The first probe has told its medium; until then the bank is built anew at each reading.
    changes_seconds
        When hypotheses of a change were last added.
    bath_seen
        A probe has been in the bath.
    tracks
        The probes, in the order of their latest readings.
    faults
        Pairs (word, seconds at which it last happened).
    """

    setup: Setup
    prior: Prior
    seconds: float | None = None
    bank_seconds: float = 0.0
    bank: Bank | None = None
    begun: bool = False
    changes_seconds: float = 0.0
    bath_seen: bool = False
    tracks: tuple[Track, ...] = ()
    faults: tuple[tuple[str, float], ...] = ()

    @property
    def certain(self) -> bool:
        """Some probe is known to be in a liquid; before that nothing is forecast."""
        return any(track.certain for track in self.tracks)


def begin(setup: Setup, prior: Prior | None = None) -> Belief:
    """Belief before the first reading; ``prior`` as learnt for this container, if there is one."""
    return Belief(setup, prior or prior_for(setup))


def update(belief: Belief, reading: Reading) -> Belief:
    """Take one reading in.

    Parameters
    ----------
    reading
        Any reading of any probe, in the order of arrival. ``place`` set means that somebody
        says where the probe is; unknown leaves it where it was or has it recognised. Failed,
        late, doubled and impossible readings change nothing but ``faults``.

    Returns
    -------
    Belief
        A new value; the given one stays as it was.
    """
    celsius = reading.celsius
    if celsius is None or reading.condition is not Condition.FINE:
        return _with_fault(belief, str(reading.condition), reading.seconds)
    track = next((t for t in belief.tracks if t.probe == reading.probe), None)
    word = tracks.objection(track, reading.seconds, celsius)
    if word is not None:
        if track is not None and word == "rejected":
            belief = _put(belief, tracks.suspected(track, reading.seconds, celsius))
        return _with_fault(belief, word, reading.seconds)
    later = max(reading.seconds, belief.seconds or reading.seconds)
    belief = replace(belief, seconds=later)
    if track is None:
        return _first(belief, reading, celsius)
    told = reading.place
    if told is not Place.UNKNOWN and (told is not track.place or track.searching):
        return _move(belief, track, reading.seconds, celsius, told)
    if told is not track.told and told is not Place.UNKNOWN:
        track = replace(track, told=told, certain=True)
    return _follow(belief, track, reading.seconds, celsius)


def _with_fault(belief: Belief, word: str, seconds: float) -> Belief:
    kept = tuple(pair for pair in belief.faults if pair[0] != word)
    latest = seconds if belief.seconds is None else max(seconds, belief.seconds)
    return replace(belief, faults=(*kept, (word, seconds)), seconds=latest)


def _put(belief: Belief, track: Track) -> Belief:
    rest = tuple(t for t in belief.tracks if t.probe != track.probe)
    return replace(belief, tracks=(*rest, track))


def _first(belief: Belief, reading: Reading, celsius: float) -> Belief:
    taken = {track.slot for track in belief.tracks}
    slot = next((s for s in range(_PROBES) if s not in taken), None)
    if slot is None:
        return _with_fault(belief, "ignored", reading.seconds)
    place = reading.place
    if place is Place.UNKNOWN:
        places = {track.place for track in belief.tracks}
        place = Place.BATH if Place.DEVELOPER in places else Place.DEVELOPER
    track = tracks.start_track(reading, celsius, slot, place)
    belief = _put(belief, track)
    if belief.begun and belief.bank is not None:
        bank = banks.place_probe(belief.bank, PROBE_A + slot, celsius, 0.05)
        return replace(belief, bank=sink.second_probe(bank))
    return _begin_bank(belief)


def _begin_bank(belief: Belief) -> Belief:
    """Build the bank from the probes' media, until these are known well enough."""
    if belief.seconds is None or all(t.place is Place.AIR for t in belief.tracks):
        return belief
    bank = sink.start(belief.setup, belief.prior, belief.tracks)
    waited = belief.seconds - min(track.since for track in belief.tracks)
    settled = all(lags.medium_estimate(track.lag)[1] <= _SETTLED_SD for track in belief.tracks)
    return replace(
        belief,
        bank=bank,
        bank_seconds=belief.seconds,
        changes_seconds=belief.seconds,
        begun=settled or waited > _SETTLING_SECONDS,
    )


def _carried(belief: Belief, seconds: float) -> Belief:
    """Belief whose bank is carried to ``seconds``, or further where it already is."""
    if belief.bank is None or seconds <= belief.bank_seconds:
        return belief
    bank = banks.predict(belief.bank, seconds - belief.bank_seconds, sink.media(belief.tracks))
    return replace(belief, bank=bank, bank_seconds=seconds)


def _move(belief: Belief, track: Track, seconds: float, celsius: float, told: Place) -> Belief:
    """Somebody says where the probe is now."""
    belief = _carried(belief, seconds)
    known = track.certain or track.place is not Place.DEVELOPER
    track = tracks.moved(track, seconds, celsius, told, told)
    belief = _put(belief, track)
    if belief.bank is None or told is Place.AIR:
        return belief
    if not known and told is Place.DEVELOPER:
        # it hung in the air until now
        return _begin_bank(replace(belief, begun=False))
    bank = banks.place_probe(belief.bank, PROBE_A + track.slot, celsius, 0.1)
    return replace(belief, bank=bank, begun=True)


def _follow(belief: Belief, track: Track, seconds: float, celsius: float) -> Belief:
    """Take a reading of a probe that stays where it was, as far as is known."""
    silence = seconds - track.seconds
    change = celsius - track.celsius
    track = tracks.advance(track, seconds, celsius)
    if track.searching:
        return _search(belief, track)
    if track.place is Place.AIR:
        left = track.told is Place.UNKNOWN and abs(change) > _AIR_MOVE * max(1.0, silence)
        return _lost(belief, track) if left else _put(belief, track)
    track = _placed_by_signal(track)
    if not belief.begun or belief.bank is None:
        return _begin_bank(_put(belief, track))
    return _weigh(_carried(belief, seconds), belief.bank, track, silence)


def _weigh(belief: Belief, bank: Bank, track: Track, silence: float) -> Belief:
    """Correct the hypotheses by the track's reading and see whether they still fit."""
    bank = belief.bank or bank
    if silence > _SILENCE_SECONDS:
        expected, _ = banks.moments(bank, PROBE_A + track.slot)
        if abs(track.celsius - expected) > _SILENCE_KELVIN:
            if track.told is Place.UNKNOWN:
                return _lost(belief, track)
            bank = banks.place_probe(bank, PROBE_A + track.slot, track.celsius, 0.1)
            return replace(_put(belief, track), bank=bank)
    if not belief.bath_seen and track.place is Place.BATH:
        bank = sink.with_running_baths(bank)
        belief = replace(belief, bath_seen=True)
    if track.seconds - belief.changes_seconds > _CHANGES_SECONDS:
        bank = sink.with_changes(bank)
        belief = replace(belief, changes_seconds=track.seconds)
    bank, surprise = sink.take(bank, track)
    track = replace(track, misfit=accumulate(track.misfit, surprise))
    belief = replace(_put(belief, track), bank=bank)
    if not alarm(track.misfit):
        return belief
    return _lost(belief, track) if track.told is Place.UNKNOWN else _disturbed(belief, track)


def _placed_by_signal(track: Track) -> Track:
    """A probe that nobody placed counts as placed once its medium moves or time has passed."""
    if track.certain:
        return track
    settling, _ = lags.medium_estimate(track.lag)
    waited = track.seconds - track.since
    shown = waited > 5.0 and abs(track.celsius - settling) > _UNPLACED_KELVIN
    return replace(track, certain=shown or waited > _UNPLACED_SECONDS)


def _disturbed(belief: Belief, track: Track) -> Belief:
    """The sink changed under a probe that stayed where it is."""
    if belief.bank is None:
        return belief
    if track.place is Place.BATH:
        bank = sink.bath_thrown(belief.bank)
    else:
        measured = any(t.place is Place.BATH for t in belief.tracks if t.probe != track.probe)
        bank = sink.developer_thrown(
            belief.bank, belief.setup, belief.prior, track, bath_measured=measured
        )
    track = replace(track, misfit=(0.0, 0.0))
    belief = replace(_put(belief, track), bank=bank)
    return _with_fault(belief, "disturbed", track.seconds)


def _lost(belief: Belief, track: Track) -> Belief:
    """The probe left what it was in, and nobody said whereto."""
    flat = not track.certain and sink.is_flat(track)
    lost = tracks.moved(track, track.seconds, track.celsius, track.place, Place.UNKNOWN)
    if not track.certain:
        lost = replace(lost, certain=not flat)
    return _with_fault(_put(belief, lost), "moved", track.seconds)


def _search(belief: Belief, track: Track) -> Belief:
    """Look whether the medium shows by now; the hypotheses wait meanwhile."""
    medium = lags.medium_estimate(track.lag)
    waited = track.seconds - track.since
    unclear = medium[1] > _FOUND_SD or waited < _LEAST_SEARCH_SECONDS
    if unclear and waited < _MOST_SEARCH_SECONDS:
        return _with_fault(_put(belief, track), "moved", track.seconds)
    belief = _carried(belief, track.seconds)
    if belief.bank is None:
        return _put(belief, replace(track, searching=False, certain=True))
    first = not track.certain
    if first:
        guess = recognise_first(medium, belief.setup.target_celsius, flat=True)
    else:
        guess = recognise(
            track.place,
            medium,
            banks.moments(belief.bank, DEVELOPER),
            banks.moments(belief.bank, BATH),
            lags.slowness(track.lag),
        )
    return _found(belief, track, guess, first=first)


def _found(belief: Belief, track: Track, guess: Guess, *, first: bool) -> Belief:
    track = replace(track, place=guess.place, searching=False, certain=True)
    belief = _put(belief, track)
    if belief.bank is None or guess.place is Place.AIR:
        return belief
    if first and guess.place is Place.DEVELOPER:
        return _begin_bank(replace(belief, begun=False))
    bank = banks.place_probe(belief.bank, PROBE_A + track.slot, track.celsius, 0.1)
    belief = replace(belief, bank=bank, begun=True)
    return _disturbed(belief, track) if guess.disturbed else belief
