"""One account takes a reading in, as far as it was told where the probe is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wetside.readings import Place, Reading
from wetside.thermal.story import Story, relocate, tell, with_track

#: Where a probe was before anybody said so counts only once it has been there so long.
_GUESSED_SECONDS = 180.0


def heard(story: Story, reading: Reading, celsius: float) -> Story:
    """Story that has taken the reading in, as far as it was told where the probe is."""
    track = story.track(reading.probe)
    if track is None:
        return story
    told = reading.place
    if told is not Place.UNKNOWN:
        if first_told(story, reading):
            # somebody puts it there now; what was guessed of it before is no knowledge
            story = replace(story, bank=None, begun=False)
            return relocate(story, track, reading.seconds, celsius, told, told)
        if told is not track.told:
            if told is not track.place:
                return relocate(story, track, reading.seconds, celsius, told, told)
            track = replace(track, told=told, ever_told=True, told_since=reading.seconds)
    return tell(story, track, reading.seconds, celsius)


def first_told(story: Story, reading: Reading) -> bool:
    """Whether nobody had said yet where any probe is, and it was not long anywhere."""
    track = story.track(reading.probe)
    return (
        track is not None
        and reading.place is not Place.UNKNOWN
        and reading.seconds - track.since < _GUESSED_SECONDS
        and not any(one.ever_told for one in story.tracks)
    )


def heard_all(story: Story, readings: tuple[Reading, ...]) -> Story:
    """Story that has taken all readings in that hold a value."""
    for reading in readings:
        if reading.celsius is not None:
            story = heard(story, reading, reading.celsius)
    return story


def calmed(story: Story, probe: str) -> Story:
    """Story in which the misfit of a probe is counted from now on, and nothing is news."""
    track = story.track(probe)
    if track is None:
        return story
    if story.bank is not None:
        born = np.full_like(story.bank.born, -np.inf)
        story = replace(story, bank=replace(story.bank, born=born))
    return with_track(story, replace(track, misfit=(0.0, 0.0)))
