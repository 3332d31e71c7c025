"""From readings to a belief about the sink: ``update(belief, reading) -> belief``."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from wetside.outlook import Setup
from wetside.readings import POWER_ON_CELSIUS, Condition, Place, Reading
from wetside.thermal import bank as banks
from wetside.thermal import lag as lags
from wetside.thermal.bank import BATH, DEVELOPER, PROBE_A, Bank, Medium
from wetside.thermal.lag import LagBank
from wetside.thermal.priors import Prior, prior_for
from wetside.thermal.seeding import seed

_SETTLED_SD = 0.2
_SETTLING_SECONDS = 30.0
_LAG_SECONDS = 75.0
_QUANTUM_VARIANCE = 0.0625**2 / 12.0
_WEIGHT_TEMPER = 0.5
#: A probe cannot change by more in one second, whatever it is moved into.
_JUMP_KELVIN = 2.0


@dataclass(frozen=True, slots=True)
class Track:
    """What is known about one probe."""

    probe: str
    slot: int
    place: Place
    seconds: float
    celsius: float
    since: float
    lag: LagBank
    suspect: tuple[float, float] | None = None
    noise: float = 0.03**2


@dataclass(frozen=True, slots=True)
class Belief:
    """Everything believed about one sink; arrays inside are never written to again.

    ``seconds`` is the time of the latest reading of any kind, ``bank_seconds`` that to which
    the hypotheses were carried.
    """

    setup: Setup
    prior: Prior
    seconds: float | None = None
    bank_seconds: float = 0.0
    bank: Bank | None = None
    tracks: tuple[Track, ...] = ()
    faults: tuple[tuple[str, float], ...] = ()


def begin(setup: Setup, prior: Prior | None = None) -> Belief:
    """Belief before the first reading."""
    return Belief(setup, prior or prior_for(setup))


def _with_fault(belief: Belief, word: str, seconds: float) -> Belief:
    kept = tuple(pair for pair in belief.faults if pair[0] != word)
    latest = seconds if belief.seconds is None else max(seconds, belief.seconds)
    return replace(belief, faults=(*kept, (word, seconds)), seconds=latest)


def _track(belief: Belief, probe: str) -> Track | None:
    return next((track for track in belief.tracks if track.probe == probe), None)


def _put(belief: Belief, track: Track) -> Belief:
    rest = tuple(t for t in belief.tracks if t.probe != track.probe)
    return replace(belief, tracks=(*rest, track))


def update(belief: Belief, reading: Reading) -> Belief:
    """Take one reading in."""
    if reading.celsius is None or reading.condition is not Condition.FINE:
        return _with_fault(belief, str(reading.condition), reading.seconds)
    track = _track(belief, reading.probe)
    celsius = reading.celsius
    if not math.isfinite(celsius) or not -30.0 < celsius < 110.0:
        return _with_fault(belief, "rejected", reading.seconds)
    if track is None:
        if celsius in {POWER_ON_CELSIUS, 0.0}:
            return _with_fault(belief, "rejected", reading.seconds)
        return _first(belief, reading, celsius)
    elapsed = reading.seconds - track.seconds
    if elapsed <= 0.0:
        return _with_fault(belief, "late" if elapsed < 0 else "duplicate", reading.seconds)
    place = track.place if reading.place is Place.UNKNOWN else reading.place
    if abs(celsius - track.celsius) > _JUMP_KELVIN * max(1.0, elapsed):
        near = track.suspect is not None and abs(celsius - track.suspect[1]) < 2.0 * _JUMP_KELVIN
        odd = celsius in {POWER_ON_CELSIUS, 0.0}
        if odd or not near:
            suspect = None if odd else (reading.seconds, celsius)
            return _with_fault(
                _put(belief, replace(track, suspect=suspect)), "rejected", reading.seconds
            )
    if place is not track.place:
        return _moved(belief, track, reading.seconds, celsius, place)
    return _accept(belief, track, reading.seconds, celsius)


def _first(belief: Belief, reading: Reading, celsius: float) -> Belief:
    slots = {track.slot for track in belief.tracks}
    free = [slot for slot in (0, 1) if slot not in slots]
    if not free:
        return _with_fault(belief, "ignored", reading.seconds)
    place = reading.place
    if place is Place.UNKNOWN:
        taken = {track.place for track in belief.tracks}
        place = Place.BATH if Place.DEVELOPER in taken else Place.DEVELOPER
    track = Track(
        reading.probe,
        free[0],
        place,
        reading.seconds,
        celsius,
        reading.seconds,
        lags.fresh(celsius),
    )
    return _take(_put(belief, track), track, reading.seconds, celsius)


def _moved(belief: Belief, track: Track, seconds: float, celsius: float, place: Place) -> Belief:
    track = replace(
        track,
        place=place,
        seconds=seconds,
        celsius=celsius,
        since=seconds,
        lag=lags.fresh(celsius, track.lag),
        suspect=None,
    )
    belief = _put(belief, track)
    if belief.bank is not None:
        belief = replace(
            belief,
            bank=banks.place_probe(
                banks.predict(belief.bank, max(0.0, seconds - belief.bank_seconds), _media(belief)),
                PROBE_A + track.slot,
                celsius,
                0.1,
            ),
            bank_seconds=max(seconds, belief.bank_seconds),
        )
    return replace(belief, seconds=max(seconds, belief.seconds or seconds))


def _accept(belief: Belief, track: Track, seconds: float, celsius: float) -> Belief:
    elapsed = seconds - track.seconds
    track = replace(
        track,
        seconds=seconds,
        celsius=celsius,
        suspect=None,
        lag=lags.follow(track.lag, elapsed, celsius, track.noise + _QUANTUM_VARIANCE)
        if seconds - track.since < _LAG_SECONDS
        else track.lag,
    )
    return _take(_put(belief, track), track, seconds, celsius)


def _media(belief: Belief) -> tuple[Medium, ...]:
    return tuple(
        Medium(
            PROBE_A + track.slot,
            DEVELOPER if track.place is Place.DEVELOPER else BATH,
            lags.lag_estimate(track.lag),
        )
        for track in belief.tracks
        if track.place in {Place.DEVELOPER, Place.BATH}
    )


def _take(belief: Belief, track: Track, seconds: float, celsius: float) -> Belief:
    belief = replace(belief, seconds=max(seconds, belief.seconds or seconds))
    if track.place is Place.AIR:
        return belief
    bank = belief.bank
    if bank is None or _is_beginning(belief):
        known = {
            t.place: lags.medium_estimate(t.lag) for t in belief.tracks if t.place is not Place.AIR
        }
        bank = seed(belief.setup, belief.prior, known.get(Place.DEVELOPER), known.get(Place.BATH))
        for each in belief.tracks:
            bank = banks.place_probe(bank, PROBE_A + each.slot, each.celsius, 0.05)
        return replace(belief, bank=bank, bank_seconds=seconds)
    bank = banks.predict(bank, max(0.0, seconds - belief.bank_seconds), _media(belief))
    index = PROBE_A + track.slot
    medium = DEVELOPER if track.place is Place.DEVELOPER else BATH
    away = bank.mean[:, medium] - celsius
    variance = track.noise + _QUANTUM_VARIANCE + (0.04 * away) ** 2
    bank = banks.correct(bank, index, celsius, variance, _WEIGHT_TEMPER)
    return replace(
        belief, bank=banks.keep_likely(bank), bank_seconds=max(seconds, belief.bank_seconds)
    )


def _is_beginning(belief: Belief) -> bool:
    """True until the first probe has told its medium through its lag."""
    if len({track.since for track in belief.tracks}) != 1 or belief.seconds is None:
        return False
    first = belief.tracks[0]
    if belief.seconds - first.since > _SETTLING_SECONDS:
        return False
    return any(lags.medium_estimate(track.lag)[1] > _SETTLED_SD for track in belief.tracks)
