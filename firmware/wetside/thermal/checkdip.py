"""Whether it is worth touching the developer with the probe again, and what that would bring.

Expected width of the 5-95 % interval after a dip, from the linear-Gaussian update that the dip
would be, averaged over what it may read: pretend readings at quantiles of the present belief.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wetside.outlook import HORIZON_SECONDS, Outlook
from wetside.readings import Place
from wetside.thermal import bank as banks
from wetside.thermal.bank import DEVELOPER
from wetside.thermal.belief import Belief
from wetside.thermal.forecast import view
from wetside.thermal.story import Story

#: What a dip of half a minute leaves uncertain, K.
DIP_SD_CELSIUS = 0.08
_QUANTILES = (-1.2816, -0.5244, 0.0, 0.5244, 1.2816)
_LEAST_PART, _LEAST_SECONDS = 0.4, 45.0
_LEAST_AGE_SECONDS = 90.0


@dataclass(frozen=True, slots=True)
class DipGain:
    """Width of the interval of ``ready_in`` in seconds, now and expected after a check dip."""

    width_seconds: float
    expected_width_seconds: float
    worthwhile: bool


def width_seconds(outlook: Outlook) -> float:
    """Width of the 5-95 % interval of ``ready_in``; beyond the horizon counts as the horizon."""
    low, high = outlook.ready_in.p05, outlook.ready_in.p95
    return (HORIZON_SECONDS if high is None else high) - (HORIZON_SECONDS if low is None else low)


def after_dip(story: Story, celsius: float) -> Story:
    """Story in which a dip has just shown the developer to be at ``celsius``."""
    if story.bank is None:
        return story
    return replace(story, bank=banks.correct(story.bank, DEVELOPER, celsius, DIP_SD_CELSIUS**2))


def dip_gain(belief: Belief, seconds: float) -> DipGain | None:
    """Gain of a check dip now; None where the developer is measured anyway or nothing is known."""
    story = belief.story
    measured = any(track.place is Place.DEVELOPER for track in story.tracks)
    if story.bank is None or measured:
        return None
    now = width_seconds(view(story, seconds))
    middle, sd = banks.moments(story.bank, DEVELOPER)
    widths = [width_seconds(view(after_dip(story, middle + q * sd), seconds)) for q in _QUANTILES]
    expected = float(np.mean(widths))
    moved = max(track.since for track in story.tracks)
    worth = now - expected > max(_LEAST_SECONDS, _LEAST_PART * now)
    return DipGain(now, expected, worth and seconds - moved >= _LEAST_AGE_SECONDS)
