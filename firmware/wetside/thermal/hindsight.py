"""When a probe really moved, where somebody said so some seconds too late or too early.

A press tells where a probe goes, but seldom at the very moment. A little later the readings
show the moment themselves: up to it the probe followed one liquid, from it on another. Then the
readings since are told again with the places as they were.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from wetside.readings import Place, Reading
from wetside.thermal.belief import Belief
from wetside.thermal.estimator import begin, update

#: A press comes at most so long after the move, or so long before it.
LATE_SECONDS, EARLY_SECONDS = 17.0, 8.0
#: The moment is looked for so long after the press, each time with more to see.
_LOOKS = (4.0, 9.0, 15.0, 24.0)
#: A press is mostly this late, and each so many seconds from there are e times less likely.
_USUAL_LATE_SECONDS, _SPREAD_SECONDS = 1.0, 3.0
#: Moments closer than this to the one believed so far are left alone.
_CLOSE_SECONDS = 0.4
#: Readings so shortly before a move may be from after it, and one of them spoils a dip: the probe
#: is then far from both liquids. They are left out.
_DOUBTED_SECONDS = 3.0
#: Noise and rounding of a reading against the two curves, K.
_READING_SD = 0.06
_LAGS = (7.0, 9.5, 13.0, 19.0)
#: The sensor's part of each lag, see `lag`.
_PARTS = (0.03, 0.2, 0.38)
_BEFORE_SECONDS = 8.0
#: Two curves must be that much likelier than one (natural logarithm).
_TELLING = 12.0
_LEAST_ROWS = 3
#: What is kept: readings of so long, and a belief at every so many seconds.
_KEEP_SECONDS, _BELIEF_SECONDS = 50.0, 3.0

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Move:
    """A probe that somebody moved: pressed at ``pressed``, moved at ``moment`` as believed.

    ``after`` is the moment of its move before this one; ``looks`` counts how often the readings
    were asked.
    """

    probe: str
    was: Place
    told: Place
    pressed: float
    moment: float
    after: float = -math.inf
    looks: int = 0


@dataclass(frozen=True, slots=True)
class Heard:
    """A reading as it came, and the belief before it where that was kept."""

    reading: Reading
    before: Belief | None


@dataclass(frozen=True, slots=True)
class Hindsight:
    """A belief that may still be told again; ``moves`` holds the latest of each probe."""

    belief: Belief
    heard: tuple[Heard, ...] = ()
    moves: tuple[Move, ...] = ()
    places: tuple[tuple[str, Place], ...] = field(default=())

    def move_of(self, probe: str) -> Move | None:
        """The latest move of a probe, None where nobody has told of one."""
        return next((move for move in self.moves if move.probe == probe), None)


def hear(past: Hindsight, reading: Reading) -> Hindsight:
    """Take one reading in, its place as somebody told it by then; see ``estimator.update``."""
    probe = reading.probe
    was = next((place for name, place in past.places if name == probe), None)
    if was is not None and reading.place not in {Place.UNKNOWN, was}:
        earlier = past.move_of(probe)
        after = -math.inf if earlier is None else earlier.moment
        move = Move(probe, was, reading.place, reading.seconds, reading.seconds, after)
        others = tuple(one for one in past.moves if one.probe != probe)
        past = replace(past, moves=(*others, move))
    if reading.place is not was:
        there = tuple(pair for pair in past.places if pair[0] != probe)
        past = replace(past, places=(*there, (probe, reading.place)))
    old = 0
    while old < len(past.heard) and _before(past.heard[old], reading) > _KEEP_SECONDS:
        old += 1
    latest_kept = next((one for one in reversed(past.heard) if one.before is not None), None)
    recent = latest_kept is not None and _before(latest_kept, reading) < _BELIEF_SECONDS
    heard = (*past.heard[old:], Heard(reading, None if recent else past.belief))
    latest = past.move_of(probe)
    if latest is not None and latest.pressed == reading.seconds:
        past = _told_again(replace(past, heard=heard), latest.moment - _DOUBTED_SECONDS)
    else:
        past = replace(past, heard=heard, belief=_told(past.belief, past.moves, reading))
    return _looked(past, probe, reading.seconds)


def unguessed(past: Hindsight) -> Hindsight:
    """What is believed once somebody is about to say for the first time where a probe is.

    What was guessed for minutes before is no knowledge: the latest readings are told again to
    somebody who believes nothing yet.
    """
    belief = past.belief
    if any(track.ever_told for track in belief.tracks):
        return past
    anew = Hindsight(begin(belief.story.setup, belief.story.prior, doubting=belief.doubting))
    for one in past.heard:
        anew = hear(anew, one.reading)
    return anew


def _before(one: Heard, reading: Reading) -> float:
    return reading.seconds - one.reading.seconds


def _told(belief: Belief, moves: Sequence[Move], reading: Reading) -> Belief:
    """The belief with the reading where it is now believed to belong."""
    move = next((one for one in moves if one.probe == reading.probe), None)
    if move is None:
        return update(belief, reading)
    if move.moment - _DOUBTED_SECONDS <= reading.seconds < move.moment:
        return belief
    return update(belief, _placed(move, reading))


def _placed(move: Move, reading: Reading) -> Reading:
    """The reading with the place that is now believed."""
    if reading.place is move.told and reading.seconds < move.moment:
        return replace(reading, place=move.was)
    if reading.place is move.was and move.moment <= reading.seconds < move.pressed:
        return replace(reading, place=move.told)
    return reading


def _looked(past: Hindsight, probe: str, now: float) -> Hindsight:
    move = past.move_of(probe)
    if move is None or move.looks >= len(_LOOKS) or now - move.pressed < _LOOKS[move.looks]:
        return past
    rows = [
        (one.reading.seconds, one.reading.celsius)
        for one in past.heard
        if one.reading.probe == probe
        and one.reading.celsius is not None
        and one.reading.seconds >= max(move.pressed - LATE_SECONDS - _BEFORE_SECONDS, move.after)
    ]
    moment = moment_of_move(rows, move.pressed)
    others = tuple(one for one in past.moves if one.probe != probe)
    if moment is None:
        later = replace(move, looks=move.looks + 1)
        return replace(past, moves=(*others, later))
    if abs(moment - move.moment) < _CLOSE_SECONDS:
        moment = move.moment
    found = replace(past, moves=(*others, replace(move, moment=moment, looks=len(_LOOKS))))
    if moment == move.moment:
        return found
    return _told_again(found, min(moment, move.moment) - _DOUBTED_SECONDS)


def _told_again(past: Hindsight, since: float) -> Hindsight:
    """The belief with every reading from about ``since`` on told again."""
    starts = [
        index
        for index, one in enumerate(past.heard)
        if one.before is not None and one.reading.seconds <= since
    ]
    if not starts:
        return past
    start = starts[-1]
    belief = past.heard[start].before
    assert belief is not None  # noqa: S101  # chosen so above
    heard = list(past.heard)
    for index in range(start, len(heard)):
        one = heard[index]
        heard[index] = replace(one, before=None if one.before is None else belief)
        belief = _told(belief, past.moves, one.reading)
    return replace(past, belief=belief, heard=tuple(heard))


def moment_of_move(rows: Sequence[tuple[float, float]], pressed: float) -> float | None:
    """Most probable moment of a move, from readings (seconds, degC) around the press.

    Before it the probe follows one liquid by an exponential with its lag, and after it another,
    the sensor behind its tube, and its temperature does not jump. What is given is the first
    reading in the new liquid: from its temperature on the lag counts. None where one smooth curve
    does as well, or the best moment is the latest that was tried.
    """
    if len(rows) < 3 * _LEAST_ROWS:
        return None
    seconds = np.array([row[0] for row in rows])
    celsius = np.array([row[1] for row in rows])
    best, moment = -math.inf, None
    for index, candidate in enumerate(seconds[:-_LEAST_ROWS]):
        inside = pressed - LATE_SECONDS <= candidate <= pressed + EARLY_SECONDS
        if not inside or index < _LEAST_ROWS:
            continue
        smooth, bent = _misfits(seconds - candidate, celsius)
        unusual = abs(candidate - (pressed - _USUAL_LATE_SECONDS)) / _SPREAD_SECONDS
        score = -0.5 * bent / _READING_SD**2 - unusual
        if score > best:
            best = score
            told = 0.5 * (smooth - bent) / _READING_SD**2
            seen = len(seconds) - index > _LEAST_ROWS + 1  # else it may come later still
            moment = float(seconds[index + 1]) if seen and told > _TELLING else None
    return moment


def _misfits(since: Array, celsius: Array) -> tuple[float, float]:
    """Least sums of squares, K2, of one smooth curve and of two that meet at 0 seconds."""
    earlier, later = np.minimum(since, 0.0), np.maximum(since, 0.0)
    smooth = bent = math.inf
    for lag in _LAGS:
        old = np.exp(-np.maximum(since, -3.0 * lag) / lag) - 1.0
        smooth = min(smooth, _left(celsius, np.ones_like(since), since, old))
        old = np.where(since < 0.0, old, 0.0)
        for part in _PARTS:
            tube, sensor = lag * (1.0 - part), lag * part
            left = tube * np.exp(-later / tube) - sensor * np.exp(-later / sensor)
            new = 1.0 - left / (tube - sensor)
            bent = min(bent, _left(celsius, np.ones_like(since), earlier, old, new))
    return smooth, bent


def _left(celsius: Array, *terms: Array) -> float:
    basis = np.stack(terms, axis=1)
    found, *_ = np.linalg.lstsq(basis, celsius, rcond=None)
    off = celsius - basis @ found
    return float(off @ off)
