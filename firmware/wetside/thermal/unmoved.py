"""Accounts in which a probe is still where it was, although somebody just said that it moved.

A button is pressed by mistake, or before the hand moves the probe. Then the probe goes on reading
its old liquid, and what is told of the new one would be believed of it. Such an account is added
whenever somebody tells a move; where the probe did move, the readings leave it within seconds.
"""

from __future__ import annotations

from dataclasses import replace

from wetside.readings import Place, Reading
from wetside.thermal.belief import Belief
from wetside.thermal.story import Story, likelier, relocate, tell, with_track
from wetside.thermal.tracks import Track

#: Log probability that nobody moved the probe that was said to be moved: one in ninety.
_UNMOVED_LOG_CHANCE = -4.5
#: Cumulated surprise from which on a probe that stayed may move after all, and how much likelier
#: that is than that hands change its old liquid just now (natural logarithm).
_MISFIT, _MOVED_LOG_ODDS = 2.0, 2.0
#: Whoever tells twice within so many seconds means it.
INSISTING_SECONDS = 20.0
_LIQUIDS = frozenset({Place.DEVELOPER, Place.BATH})


def unmoved(track: Track) -> bool:
    """Whether this account has the probe in one liquid where somebody said the other."""
    return track.place in _LIQUIDS and track.told in _LIQUIDS and track.place is not track.told


def stayed(story: Story, reading: Reading, celsius: float) -> Story | None:
    """The account, with the reading, in which the probe did not move as the reading says.

    None where the reading tells no new move from one liquid to the other, or tells it by somebody
    who insists.
    """
    track = story.track(reading.probe)
    if (
        track is None
        or not story.begun
        or track.place is not track.told
        or {track.told, reading.place} != _LIQUIDS
        or reading.seconds - track.told_since < INSISTING_SECONDS
    ):
        return None
    track = replace(track, told=reading.place, told_since=reading.seconds)
    same = tell(with_track(story, track), track, reading.seconds, celsius)
    return likelier(same, _UNMOVED_LOG_CHANCE)


def with_moved(stories: tuple[Story, ...], probe: str) -> tuple[Story, ...]:
    """The accounts, best first, and one in which the probe goes now where it was said to be.

    That is added where the leading one has it stay, and its readings stop to fit.
    """
    track = stories[0].track(probe)
    if track is None or not unmoved(track) or max(track.misfit) <= _MISFIT:
        return stories
    tracks = (story.track(probe) for story in stories)
    if any(one is not None and one.place is one.told for one in tracks):
        return stories
    return (*stories, likelier(_where_told(stories[0], track), _MOVED_LOG_ODDS))


def as_told(belief: Belief) -> Belief:
    """Belief of somebody who insists: every probe is where it was said to be."""
    return replace(belief, stories=tuple(_as_told(story) for story in belief.stories[:1]))


def _as_told(story: Story) -> Story:
    for track in story.tracks:
        if unmoved(track):
            story = _where_told(story, track)
    return story


def _where_told(story: Story, track: Track) -> Story:
    return relocate(story, track, track.seconds, track.celsius, track.told, track.told)
