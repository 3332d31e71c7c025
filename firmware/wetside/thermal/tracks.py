"""One probe through time: which readings to believe, how noisy it is, what it is in."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from wetside.outlook import Fault
from wetside.readings import POWER_ON_CELSIUS, STEP_CELSIUS, Place, Reading
from wetside.thermal import lag as lags
from wetside.thermal.lag import LagBank
from wetside.thermal.surprise import accumulate

#: Variance of rounding to 1/16 degC.
QUANTUM_VARIANCE = STEP_CELSIUS**2 / 12.0
_FIRST_NOISE = 0.03**2
_LEAST_NOISE, _MOST_NOISE = 0.012**2, 0.8**2
_NOISE_MEMORY = 40.0
#: One reading counts as no more noise than this, or so many times what is known of it.
_MOST_SEEN, _SEEN_TIMES = 0.15**2, 9.0
#: Until it has settled, after so many lags, a probe's way bends too, but by less than this (K2).
_SETTLED_LAGS, _BENT, _FIRST_BENDS_SECONDS = 3.0, 0.1**2, 3.0
#: A bend is of readings that follow each other closely.
_PACE_SECONDS = 2.0
#: After a move the lag decides how well a place fits, for so long or so many lags, later the sink;
#: until then misfit is laid on the lag and not on a changed sink.
TRANSIENT_SECONDS, _TRANSIENT_LAGS = 25.0, 2.5
#: What the lag is shows for so long after a move; once the transient is over, a reading
#: every so many seconds tells as much of it as each.
_LAG_SECONDS, _LAG_APART = 150.0, 2.9
#: A probe in its tube does not change faster, except by a jump that the next reading confirms.
_JUMP_KELVIN = 2.0
#: Values a DS18B20 gives when it is not measuring: power-up (data sheet) and a shorted bus.
_ODD = frozenset({POWER_ON_CELSIUS, 0.0})
_ODD_KELVIN = 4.0
_LOWEST, _HIGHEST = -30.0, 110.0


@dataclass(frozen=True, slots=True)
class Track:
    """What is known about one probe.

    Attributes
    ----------
    place
        Where it is believed to be; ``told`` what somebody last said, or unknown where only the
        readings say it, ``ever_told`` whether somebody has said it at all, ``told_since`` when it
        was last said anew.
    seconds, celsius
        Its latest accepted reading; ``before`` the accepted one before that (degC).
    since
        Time of its latest move or of its first reading.
    interval
        Seconds between its latest two accepted readings.
    lag_seconds
        Time of the latest reading that ``lag`` has taken in.
    suspect
        A reading that jumped and waits for a second one to confirm it (seconds, degC).
    noise
        Variance of its readings beyond rounding, K2.
    misfit
        Cumulated signed surprise (up, down), see :mod:`wetside.thermal.surprise`.
    """

    probe: str
    slot: int
    place: Place
    told: Place
    seconds: float
    celsius: float
    before: float
    since: float
    lag: LagBank
    lag_seconds: float
    interval: float = 1.0
    suspect: tuple[float, float] | None = None
    noise: float = _FIRST_NOISE
    misfit: tuple[float, float] = (0.0, 0.0)
    ever_told: bool = False
    told_since: float = -math.inf

    @property
    def in_transient(self) -> bool:
        """Whether its latest reading is so early after a move that the lag decides."""
        lasts = max(TRANSIENT_SECONDS, _TRANSIENT_LAGS * self.lag.most_fitting[0])
        return self.seconds - self.since <= lasts

    @property
    def variance(self) -> float:
        """Variance of one reading, K2."""
        return self.noise + QUANTUM_VARIANCE


def start_track(reading: Reading, celsius: float, slot: int, place: Place) -> Track:
    """Track of a probe at its first reading."""
    return Track(
        reading.probe,
        slot,
        place,
        reading.place,
        reading.seconds,
        celsius,
        celsius,
        reading.seconds,
        lags.fresh(celsius, liquid=place is not Place.AIR, first=True),
        reading.seconds,
        ever_told=reading.place is not Place.UNKNOWN,
        told_since=reading.seconds,
    )


def objection(track: Track | None, seconds: float, celsius: float) -> Fault | None:
    """Why a reading is not taken, None when it is."""
    impossible = not math.isfinite(celsius) or not _LOWEST < celsius < _HIGHEST
    if impossible or track is None:
        return Fault.REJECTED if impossible or celsius in _ODD else None
    elapsed = seconds - track.seconds
    if elapsed <= 0.0:
        return Fault.LATE if elapsed < 0.0 else Fault.DUPLICATE
    change = abs(celsius - track.celsius)
    odd = celsius in _ODD and change > _ODD_KELVIN
    if not odd and change <= _JUMP_KELVIN * max(1.0, min(elapsed, 10.0)):
        return None
    confirmed = (
        not odd
        and track.suspect is not None
        and seconds > track.suspect[0]
        and abs(celsius - track.suspect[1]) < 2.5 * _JUMP_KELVIN
    )
    return None if confirmed else Fault.REJECTED


def suspected(track: Track, seconds: float, celsius: float) -> Track:
    """Remember a rejected jump, so that the next reading may confirm it."""
    return replace(track, suspect=None if celsius in _ODD else (seconds, celsius))


def advance(track: Track, seconds: float, celsius: float) -> Track:
    """Take an accepted reading in."""
    elapsed, noise = seconds - track.seconds, _noise_seen(track, seconds, celsius)
    lag, lag_seconds = track.lag, track.lag_seconds
    if _tells_of_lag(track, seconds):
        lag = lags.follow(lag, seconds - lag_seconds, celsius, noise + QUANTUM_VARIANCE)
        lag_seconds = seconds
    return replace(
        track,
        seconds=seconds,
        celsius=celsius,
        before=track.celsius,
        interval=elapsed,
        lag=lag,
        lag_seconds=lag_seconds,
        noise=noise,
        suspect=None,
    )


def _noise_seen(track: Track, seconds: float, celsius: float) -> float:
    """Variance of a probe's readings beyond rounding, K2, by how the latest three bend."""
    stay = seconds - track.since
    if seconds - track.seconds > _PACE_SECONDS or stay < _FIRST_BENDS_SECONDS:
        return track.noise
    bend = celsius - 2.0 * track.celsius + track.before
    seen = bend * bend / 6.0 - QUANTUM_VARIANCE
    if seen < _BENT and stay <= _SETTLED_LAGS * track.lag.most_fitting[0]:
        return track.noise
    seen = min(max(seen, 0.0), max(_MOST_SEEN, _SEEN_TIMES * track.noise))
    noise = track.noise + (seen - track.noise) / _NOISE_MEMORY
    return min(max(noise, _LEAST_NOISE), _MOST_NOISE)


def _tells_of_lag(track: Track, seconds: float) -> bool:
    """Whether a reading at ``seconds`` is one for the bank of lags."""
    if track.place is Place.AIR or track.in_transient or track.seconds == track.since:
        return True
    young = seconds - track.since < _LAG_SECONDS
    return young and seconds - track.lag_seconds > _LAG_APART


def moved(
    track: Track,
    reading: tuple[float, float],
    place: Place,
    told: Place,
    medium: tuple[float, float] | None = None,
) -> Track:
    """The probe goes into another medium at this reading; what the lag is stays learnt.

    ``reading`` is (seconds, degC), ``medium`` what is expected of the liquid (degC, sd).
    """
    seconds, celsius = reading
    return replace(
        track,
        place=place,
        told=told,
        ever_told=track.ever_told or told is not Place.UNKNOWN,
        told_since=track.told_since if told is track.told else seconds,
        seconds=seconds,
        celsius=celsius,
        before=celsius,
        since=seconds,
        lag=lags.fresh(celsius, track.lag, liquid=place is not Place.AIR, medium=medium),
        lag_seconds=seconds,
        suspect=None,
        misfit=(0.0, 0.0),
    )


def disturbed(track: Track) -> Track:
    """What the probe is in changed under it; what its lag is stays learnt."""
    return replace(
        track, before=track.celsius, since=track.seconds, suspect=None, misfit=(0.0, 0.0)
    )


def surprised(track: Track, surprise: float) -> Track:
    """Note how far the latest reading lay from what was expected, in standard deviations."""
    return replace(track, misfit=accumulate(track.misfit, surprise))
