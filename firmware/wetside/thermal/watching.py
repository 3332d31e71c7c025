"""Looking whether a probe that nobody placed has moved, and in which ways it may have."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from wetside.outlook import Fault
from wetside.readings import Place, Reading
from wetside.thermal.belief import Belief, ranked, with_fault
from wetside.thermal.hearing import calmed, heard, heard_all
from wetside.thermal.places import next_places
from wetside.thermal.story import Story, disturb, likelier, out_of_tune, relocate
from wetside.thermal.tracks import Track

#: Stories less likely by more than that do not ask for new ones.
_LOG_CONTENDS = 4.0
#: Readings that are told again when the stories branch.
_LONGEST_BRANCH = 14
#: A probe lifted out of its liquid unnoticed: considered that often, with that log probability.
_LIFT_SECONDS = 15.0
_LIFT_LOG_CHANCE = -12.5
#: A probe is carried from liquid to liquid for so long, and says anything on the way (log density).
_CARRIED_SECONDS, _CARRIED_LOG_DENSITY = 2.0, -0.7


def watched(belief: Belief, reading: Reading) -> Belief:
    """Look whether a probe that nobody placed has moved.

    The stories that were likely when the signal was last calm are asked; until it is calm again
    no story is dropped, so that none takes over by explaining a move away.
    """
    if any(out_of_tune(story, reading.probe, told=False) for story in _contenders(belief)):
        return _branched(belief, reading)
    track = belief.story.track(reading.probe)
    quiet = track is None or max(track.misfit) < 1.0
    if quiet or not belief.calm or len(belief.since_calm) >= _LONGEST_BRANCH:
        stories = _with_lift(ranked(belief.stories), reading)
        return replace(belief, stories=stories, calm=stories, since_calm=())
    return replace(belief, since_calm=(*belief.since_calm, reading))


def _contenders(belief: Belief) -> tuple[Story, ...]:
    """Stories that were nearly as likely as the best when the signal was last calm."""
    if len(belief.calm) != len(belief.stories):
        return belief.stories[:1]
    best = max(story.log_evidence for story in belief.calm)
    return tuple(
        story
        for story, before in zip(belief.stories, belief.calm, strict=True)
        if before.log_evidence > best - _LOG_CONTENDS
    )


def _with_lift(stories: tuple[Story, ...], reading: Reading) -> tuple[Story, ...]:
    """Add the account in which the probe was just lifted out: in air nothing jumps."""
    story, celsius = stories[0], reading.celsius
    track = story.track(reading.probe)
    if track is None or celsius is None or reading.seconds % _LIFT_SECONDS >= 1.0:
        return stories
    others = {t.place for s in stories for t in s.tracks if t.probe == reading.probe}
    if Place.AIR in others or reading.seconds - track.since < _LIFT_SECONDS:
        return stories
    lifted = relocate(story, track, reading.seconds, celsius, Place.AIR, Place.UNKNOWN)
    return (*stories, likelier(lifted, _LIFT_LOG_CHANCE))


def _branched(belief: Belief, reading: Reading) -> Belief:
    """Tell the readings since the last calm one again, in every way they may have come about."""
    again = (*belief.since_calm, reading)
    mine = next(i for i, row in enumerate(again) if row.probe == reading.probe)
    stories = tuple(
        branch
        for story in belief.calm or belief.stories
        for branch in _branches(heard_all(story, again[:mine]), again[mine:])
    )
    quiet = tuple(calmed(story, reading.probe) for story in ranked(stories))
    belief = replace(belief, stories=quiet, calm=(), since_calm=())
    return with_fault(belief, Fault.MOVED, reading.seconds)


def _branches(story: Story, readings: tuple[Reading, ...]) -> Iterator[Story]:
    """Ways in which the probe of the first reading may have come to it, all readings told.

    It may have been carried through the air for some seconds; what it said on the way is left out.
    """
    probe = readings[0].probe
    track = story.track(probe)
    if track is None:
        yield heard_all(story, readings)
        return
    stay = readings[0].seconds - track.since
    ways = next_places(track.place, stay, developer_met=story.bank is not None)
    for start in sorted({0, _arrival(readings)}):
        on_the_way, first = readings[:start], readings[start]
        base = heard_all(story, tuple(row for row in on_the_way if row.probe != probe))
        left_out = sum(row.probe == probe for row in on_the_way)
        for place, changed, log_chance in ways:
            if start and (changed or place is Place.AIR):
                continue
            branch = _come_to(base, track, first, None if changed else place)
            branch = likelier(branch, log_chance + left_out * _CARRIED_LOG_DENSITY)
            yield heard_all(branch, readings[start + 1 :])


def _arrival(readings: tuple[Reading, ...]) -> int:
    """Index of the reading at which a probe that left at the first one has arrived; 0 for none."""
    probe, left = readings[0].probe, readings[0].seconds
    for index, row in enumerate(readings):
        if row.probe == probe and row.seconds >= left + _CARRIED_SECONDS:
            return index
    return 0


def _come_to(story: Story, track: Track, reading: Reading, place: Place | None) -> Story:
    """Story in which the probe came to ``place`` at this reading, None for a changed liquid."""
    celsius = reading.celsius
    if celsius is None:
        return story
    if place is None:
        return heard(disturb(story, track), reading, celsius)
    return relocate(story, track, reading.seconds, celsius, place, Place.UNKNOWN)
