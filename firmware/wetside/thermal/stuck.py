"""A probe that repeats one value while what it stands in must have moved.

A converter that hangs, and some copies of the DS18B20, give their last value again and again. So
does a sound probe in a liquid at rest: in steps of 1/16 C nothing need change for minutes. The
difference is in what was believed when the value last changed: if hardly any of it lets the probe
stand still for so long, the probe is stuck.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wetside.readings import Place, Reading
from wetside.thermal.bank import PROBE_A
from wetside.thermal.belief import Belief
from wetside.thermal.story import carried

#: A value that stands so long, and has at most that probability of standing still, is doubted.
DOUBT_SECONDS, DOUBT_CHANCE = 40.0, 0.01
#: From here on it is called stuck.
STUCK_SECONDS, STUCK_CHANCE = 120.0, 0.003
#: Asked that often.
_EVERY_SECONDS = 10.0
#: Half a step of rounding, a little noise and what layers do, K.
_STILL_KELVIN = 0.1
#: Nobody holds a container out of its bath for much longer, s.
_HELD_SECONDS = 20.0
#: What is believed is never surer than that (sd, K).
_LEAST_SD = 0.05


@dataclass(frozen=True, slots=True)
class Still:
    """One probe's value since it last changed.

    Attributes
    ----------
    since
        Time of the first reading with this value.
    before
        What was believed then.
    asked
        When it was last asked how likely it is to stand still, and ``chance``, the answer.
    """

    celsius: float
    place: Place
    since: float
    seconds: float
    before: Belief
    asked: float
    chance: float = 1.0

    @property
    def lasted(self) -> float:
        """Seconds for which nothing changed."""
        return self.seconds - self.since

    @property
    def doubted(self) -> bool:
        """Whether it may be stuck: nothing that cannot be taken back should rest on it."""
        return self.lasted >= DOUBT_SECONDS and self.chance <= DOUBT_CHANCE

    @property
    def stuck(self) -> bool:
        """Whether it is stuck."""
        return self.lasted >= STUCK_SECONDS and self.chance <= STUCK_CHANCE


def watch(still: Still | None, reading: Reading, after: Belief) -> Still | None:
    """Take a reading of a probe in; ``after`` is what is believed with it."""
    celsius = reading.celsius
    if celsius is None:
        return still
    moved = still is None or celsius != still.celsius or reading.place is not still.place
    # a gap in the readings hides what happened meanwhile
    if still is None or moved or reading.seconds - still.seconds > _EVERY_SECONDS:
        seconds = reading.seconds
        return Still(celsius, reading.place, seconds, seconds, after, seconds)
    chance, asked = still.chance, still.asked
    if reading.seconds - still.since >= DOUBT_SECONDS and reading.seconds - asked >= _EVERY_SECONDS:
        chance, asked = _chance(still, reading), reading.seconds
    return Still(celsius, still.place, still.since, reading.seconds, still.before, asked, chance)


def outlived(still: Still, now: float) -> bool:
    """Whether the probe has given no reading for so long that nothing is known of it any more."""
    return now - still.seconds > _EVERY_SECONDS


def _chance(still: Still, reading: Reading) -> float:
    """Probability, as believed at the last change, that the probe stands still until now."""
    story = still.before.story
    track = story.track(reading.probe)
    if track is None or track.place is Place.AIR or not story.begun:
        return 1.0
    later = carried(story, reading.seconds)
    if later.bank is None:
        return 1.0
    index = PROBE_A + track.slot
    chance = 0.0
    held_out = math.exp(-still.lasted / _HELD_SECONDS)
    for weight, immersed, mean, variance in zip(
        later.bank.weights(),
        later.bank.immersed,
        later.bank.mean[:, index],
        later.bank.covariance[:, index, index],
        strict=True,
    ):
        sd = math.hypot(math.sqrt(max(float(variance), 0.0)), _LEAST_SD)
        away = float(mean) - still.celsius
        chance += (
            float(weight)
            * (1.0 if immersed > 0.5 else held_out)
            * (_below((_STILL_KELVIN - away) / sd) - _below((-_STILL_KELVIN - away) / sd))
        )
    return chance


def _below(z: float) -> float:
    return 0.5 * (1.0 + math.erf(z / math.sqrt(2.0)))
