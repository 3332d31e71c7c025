"""Whether what the probes read may be relied upon, for a pour that cannot be taken back. Pure.

An estimate may rest on a guess; READY may not. ``placed`` are everywhere the probes that have a
place which somebody told: of others nothing is asked and nothing relied upon.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from wetside.readings import Condition, Place, Reading
from wetside.thermal.astray import astray
from wetside.thermal.belief import Belief
from wetside.thermal.stuck import Still, outlived, watch
from wetside.thermal.tracks import Track
from wetside.thermal.unmoved import unmoved

#: A probe has measured the developer once it has been in it so long, with that probability.
SETTLING_SECONDS, SURE = 8.0, 0.95
#: A probe that seemed to hang in air is not trusted for so long, or until somebody presses anew;
#: for the first part of it the display asks to put it back.
AIRED_SECONDS, AIRED_SHOWN_SECONDS = 300.0, 60.0
#: Readings of the developer that fit so little (cumulative sum of surprise) may be of air.
DOUBT_MISFIT = 4.0


@dataclass(frozen=True, slots=True)
class Trust:
    """What was seen of the probes so far; times are monotonic seconds.

    Attributes
    ----------
    seconds
        When the readings were last weighed.
    measured
        When a probe that was told to be in the developer last measured it; None if none did.
    aired
        The probe that last seemed to hang in air although told to be in the developer, and when.
    still
        Each probe's value since it last changed.
    """

    seconds: float = -math.inf
    measured: float | None = None
    aired: tuple[str, float] | None = None
    still: Mapping[str, Still] = field(default_factory=dict)

    @property
    def measured_ago(self) -> float | None:
        """Seconds since the developer was measured; None if it never was."""
        return None if self.measured is None else self.seconds - self.measured

    @property
    def aired_ago(self) -> float:
        """Seconds since a probe seemed to hang in air; without end where none did."""
        return math.inf if self.aired is None else self.seconds - self.aired[1]


def counts(belief: Belief, reading: Reading) -> bool:
    """Whether a reading says anything of the sink.

    A probe that nobody placed may hang anywhere. As long as none has a place its readings are
    all there is to guess from; beside one that was placed it is only shown.
    """
    return reading.place is not Place.UNKNOWN or not any(track.ever_told for track in belief.tracks)


def heard(trust: Trust, reading: Reading, belief: Belief) -> Trust:
    """Take a reading in; ``belief`` is what is believed with it."""
    still = watch(trust.still.get(reading.probe), reading, belief)
    return trust if still is None else replace(trust, still={**trust.still, reading.probe: still})


def weighed(trust: Trust, belief: Belief, placed: Collection[str], now: float) -> Trust:
    """Look at what is believed now: the developer measured, a probe in air, a value that stands."""
    still = {name: one for name, one in trust.still.items() if not outlived(one, now)}
    aired, measured = trust.aired, trust.measured
    for track in _of(belief, placed):
        if astray(track):
            aired = (track.probe, track.seconds)
        # somebody said so, and the readings agree; what is only guessed calls nothing ready
        settled = track.seconds - track.since >= SETTLING_SECONDS
        if track.told is Place.DEVELOPER and settled and surely_in(belief, track.probe):
            measured = track.seconds
    return Trust(now, measured, aired, still)


def told_anew(trust: Trust) -> Trust:
    """Somebody has just said where the probes are, and is believed."""
    return replace(trust, aired=None)


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


def unfit(
    trust: Trust, belief: Belief, placed: Collection[str], *, tempering: bool
) -> dict[str, Condition]:
    """Probes whose readings are not of what somebody said they are in, and why.

    ``tempering`` is whether the developer is waited for: whoever is about to pour takes the probe
    out, and that is right.
    """
    found = {name: Condition.STUCK for name, still in trust.still.items() if still.stuck}
    found |= dict.fromkeys(_contested(belief, placed), Condition.UNMOVED)
    if tempering and trust.aired is not None and trust.aired_ago < AIRED_SHOWN_SECONDS:
        found[trust.aired[0]] = Condition.IN_AIR
    return found


def doubted(trust: Trust, belief: Belief, placed: Collection[str]) -> bool:
    """Whether a probe in the developer may not measure it just now."""
    return (
        trust.aired_ago < AIRED_SECONDS
        or any(still.doubted or still.stuck for still in trust.still.values())
        or bool(_contested(belief, placed))
        or any(
            track.told is Place.DEVELOPER
            and (max(track.misfit) > DOUBT_MISFIT or not surely_in(belief, track.probe))
            for track in _of(belief, placed)
        )
    )


def _of(belief: Belief, placed: Collection[str]) -> list[Track]:
    return [track for track in belief.tracks if track.probe in placed]


def _contested(belief: Belief, placed: Collection[str]) -> list[str]:
    """Probes that go on reading what they read before somebody said that they moved."""
    return [
        track.probe
        for track in _of(belief, placed)
        if unmoved(track)
        and track.seconds - track.told_since >= SETTLING_SECONDS
        and surely_in(belief, track.probe, track.place)
    ]
