"""From readings to a belief about the sink: ``update(belief, reading) -> belief``.

Where somebody says what each probe is in, there is one story. Where nobody does, a jump of the
signal opens several, told again from the last calm reading, and the readings choose.
"""

from __future__ import annotations

import math
from dataclasses import replace

from wetside.outlook import Fault, Setup
from wetside.readings import Place, Reading
from wetside.thermal import tracks
from wetside.thermal.astray import astray, put_back, with_astray
from wetside.thermal.belief import Belief, ranked, with_fault
from wetside.thermal.hearing import calmed, first_told, heard
from wetside.thermal.places import FIRST_PAIRS, FIRST_PLACES
from wetside.thermal.priors import Prior, prior_for
from wetside.thermal.story import Story, disturb, enter, likelier, out_of_tune, with_track
from wetside.thermal.unmoved import stayed, with_moved
from wetside.thermal.watching import watched

_PROBES = 2


def begin(setup: Setup, prior: Prior | None = None, *, doubting: bool = False) -> Belief:
    """Belief before the first reading; ``prior`` as learnt for this container, if there is one.

    ``doubting`` is for a sink where a probe may slip out while its place stays told.
    """
    return Belief(stories=(Story(setup, prior or prior_for(setup)),), doubting=doubting)


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
    if celsius is None:
        return with_fault(belief, str(reading.condition), reading.seconds)
    track = belief.story.track(reading.probe)
    word = tracks.objection(track, reading.seconds, celsius)
    if word is not None:
        if track is not None and word is Fault.REJECTED:
            belief = _suspecting(belief, reading, celsius)
        return with_fault(belief, word, reading.seconds)
    if track is None and len(belief.tracks) == _PROBES:
        return with_fault(belief, Fault.IGNORED, reading.seconds)
    now = max(reading.seconds, belief.seconds or reading.seconds)
    if track is None:
        stories = tuple(s for story in belief.stories for s in _entered(story, reading, celsius))
        return replace(belief, seconds=now, stories=ranked(stories), calm=(), since_calm=())
    before = belief.stories
    if all(first_told(story, reading) for story in before):
        before = ranked(before)[:1]  # they would all say the same from now on
    stories = tuple(heard(story, reading, celsius) for story in before)
    if reading.place is not Place.UNKNOWN:
        if belief.doubting:
            stays = (stayed(story, reading, celsius) for story in before)
            stories = ranked((*stories, *(story for story in stays if story)))
            stories = with_moved(with_astray(stories, reading), reading.probe)
        stories = ranked(stories)
        belief = replace(belief, seconds=now, stories=stories, calm=(), since_calm=())
        return _with_disturbance(belief, reading.probe)
    return watched(replace(belief, seconds=now, stories=stories), reading)


def _suspecting(belief: Belief, reading: Reading, celsius: float) -> Belief:
    stories = tuple(
        with_track(story, tracks.suspected(track, reading.seconds, celsius)) if track else story
        for story, track in ((s, s.track(reading.probe)) for s in belief.stories)
    )
    return replace(belief, stories=stories)


def _entered(story: Story, reading: Reading, celsius: float) -> tuple[Story, ...]:
    """Stories of a probe that was not there before."""
    slot = len(story.tracks)
    if reading.place is not Place.UNKNOWN:
        return (enter(story, reading, celsius, slot, reading.place),)
    if not story.tracks:
        return tuple(
            likelier(enter(story, reading, celsius, slot, place), math.log(chance))
            for place, chance in FIRST_PLACES
        )
    other = story.tracks[0].place
    chances = {pair[1]: chance for pair, chance in FIRST_PAIRS if pair[0] is other}
    return tuple(
        likelier(enter(story, reading, celsius, slot, place), math.log(chance))
        for place, chance in (chances or dict(FIRST_PLACES)).items()
    )


def _in_air(story: Story, probe: str) -> bool:
    """Whether the probe is in air, which says nothing of the liquids however it fits."""
    track = story.track(probe)
    return track is not None and track.place is Place.AIR


def _with_disturbance(belief: Belief, probe: str) -> Belief:
    """Start over where a probe that was told its place no longer fits it."""
    if _in_air(belief.story, probe) or not out_of_tune(belief.story, probe, told=True):
        return belief
    stories = []
    for story in belief.stories:
        track = story.track(probe)
        if track is not None and astray(track):
            stories.append(calmed(story, probe))
            if story is belief.story:
                stories.append(put_back(story, track))
        elif track is None or track.place is Place.AIR:
            stories.append(story)
        else:
            stories.append(disturb(story, track))
    seconds = belief.seconds or 0.0
    return with_fault(replace(belief, stories=tuple(stories)), Fault.DISTURBED, seconds)
