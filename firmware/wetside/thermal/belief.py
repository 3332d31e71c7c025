"""What is believed about one sink: accounts that differ in where the probes were."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from wetside.readings import Reading
from wetside.thermal.story import Story
from wetside.thermal.tracks import Track

#: Stories less likely than the best by this factor are dropped, and only so many are kept.
_LOG_HOPELESS = 12.0
_STORIES = 4


@dataclass(frozen=True, slots=True)
class Belief:
    """Everything believed about one sink; arrays inside are never written to again.

    Attributes
    ----------
    seconds
        Time of the latest reading of any kind; None before the first.
    stories
        Accounts that differ in where the probes were; while the signal is calm the most
        probable is the first.
    calm
        The stories before ``since_calm``, the latest readings that may belong to a move.
    faults
        Pairs (word, seconds at which it last happened).
    doubting
        A probe that was told to be in the developer may hang in air.
    """

    seconds: float | None = None
    stories: tuple[Story, ...] = ()
    calm: tuple[Story, ...] = ()
    since_calm: tuple[Reading, ...] = ()
    faults: tuple[tuple[str, float], ...] = ()
    doubting: bool = False

    @property
    def story(self) -> Story:
        """The leading account."""
        return self.stories[0]

    @property
    def tracks(self) -> tuple[Track, ...]:
        """The probes as the most probable account has them."""
        return self.story.tracks

    def probabilities(self) -> tuple[float, ...]:
        """Probability of each story."""
        best = max(story.log_evidence for story in self.stories)
        shares = [math.exp(story.log_evidence - best) for story in self.stories]
        return tuple(share / sum(shares) for share in shares)


def with_fault(belief: Belief, word: str, seconds: float) -> Belief:
    """Belief that notes ``word`` as having happened just now."""
    kept = tuple(pair for pair in belief.faults if pair[0] != word)
    latest = seconds if belief.seconds is None else max(seconds, belief.seconds)
    return replace(belief, faults=(*kept, (word, latest)), seconds=latest)


def ranked(stories: tuple[Story, ...]) -> tuple[Story, ...]:
    """Stories in order of evidence, the hopeless ones dropped."""
    if len(stories) == 1:
        return stories
    order = sorted(stories, key=lambda story: -story.log_evidence)
    best = order[0].log_evidence
    return tuple(s for s in order[:_STORIES] if s.log_evidence > best - _LOG_HOPELESS)
