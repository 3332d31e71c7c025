"""From readings to a belief about the sink: ``update(belief, reading) -> belief``.

Where somebody says what each probe is in, there is one story. Where nobody does, a jump of the
signal opens several, told again from the last calm reading, and the readings choose.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from wetside.outlook import Setup
from wetside.readings import Condition, Place, Reading
from wetside.thermal import tracks
from wetside.thermal.astray import astray, put_back, with_astray
from wetside.thermal.places import FIRST_PAIRS, FIRST_PLACES, next_places
from wetside.thermal.priors import Prior, prior_for
from wetside.thermal.story import Story, disturb, enter, out_of_tune, relocate, tell, with_track
from wetside.thermal.tracks import Track

_PROBES = 2
#: Stories less likely than the best by this factor are dropped, and only so many are kept.
_LOG_HOPELESS = 12.0
_STORIES = 4
#: Stories less likely by more than that do not ask for new ones.
_LOG_CONTENDS = 4.0
#: Readings that are told again when the stories branch.
_LONGEST_BRANCH = 14
#: A probe lifted out of its liquid unnoticed: considered that often, with that log probability.
_LIFT_SECONDS = 15.0
_LIFT_LOG_CHANCE = -10.0
#: Where a probe was before anybody said so counts only once it has been there so long.
_GUESSED_SECONDS = 180.0


@dataclass(frozen=True, slots=True)
class Belief:
    """Everything believed about one sink; arrays inside are never written to again.

    Attributes
    ----------
    setup, prior
        What was known before the first reading.
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

    setup: Setup
    prior: Prior
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


def begin(setup: Setup, prior: Prior | None = None, *, doubting: bool = False) -> Belief:
    """Belief before the first reading; ``prior`` as learnt for this container, if there is one.

    ``doubting`` is for a sink where a probe may slip out while its place stays told.
    """
    prior = prior or prior_for(setup)
    return Belief(setup, prior, stories=(Story(setup, prior),), doubting=doubting)


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
    if celsius is None or reading.condition is not Condition.FINE:
        return _with_fault(belief, str(reading.condition), reading.seconds)
    track = belief.story.track(reading.probe)
    word = tracks.objection(track, reading.seconds, celsius)
    if word is not None:
        if track is not None and word == "rejected":
            belief = _suspecting(belief, reading, celsius)
        return _with_fault(belief, word, reading.seconds)
    if track is None and len(belief.tracks) == _PROBES:
        return _with_fault(belief, "ignored", reading.seconds)
    belief = replace(belief, seconds=max(reading.seconds, belief.seconds or reading.seconds))
    if track is None:
        stories = tuple(s for story in belief.stories for s in _entered(story, reading, celsius))
        return replace(belief, stories=_ranked(stories), calm=(), since_calm=())
    before = belief.stories
    if all(_first_told(story, reading) for story in before):
        before = _ranked(before)[:1]  # they would all say the same from now on
    stories = tuple(_heard(story, reading, celsius) for story in before)
    belief = replace(belief, stories=stories)
    if reading.place is not Place.UNKNOWN:
        stories = _ranked(stories)
        if belief.doubting:
            stories = with_astray(stories, reading)
        belief = replace(belief, stories=stories, calm=(), since_calm=())
        return _with_disturbance(belief, reading.probe)
    return _watched(belief, reading)


def _with_fault(belief: Belief, word: str, seconds: float) -> Belief:
    kept = tuple(pair for pair in belief.faults if pair[0] != word)
    latest = seconds if belief.seconds is None else max(seconds, belief.seconds)
    return replace(belief, faults=(*kept, (word, latest)), seconds=latest)


def _suspecting(belief: Belief, reading: Reading, celsius: float) -> Belief:
    stories = tuple(
        with_track(story, tracks.suspected(track, reading.seconds, celsius)) if track else story
        for story, track in ((s, s.track(reading.probe)) for s in belief.stories)
    )
    return replace(belief, stories=stories)


def _ranked(stories: tuple[Story, ...]) -> tuple[Story, ...]:
    """Stories in order of evidence, the hopeless ones dropped."""
    if len(stories) == 1:
        return stories
    order = sorted(stories, key=lambda story: -story.log_evidence)
    best = order[0].log_evidence
    return tuple(s for s in order[:_STORIES] if s.log_evidence > best - _LOG_HOPELESS)


def _entered(story: Story, reading: Reading, celsius: float) -> tuple[Story, ...]:
    """Stories of a probe that was not there before."""
    slot = len(story.tracks)
    if reading.place is not Place.UNKNOWN:
        return (enter(story, reading, celsius, slot, reading.place),)
    if not story.tracks:
        return tuple(
            _likelier(enter(story, reading, celsius, slot, place), math.log(chance))
            for place, chance in FIRST_PLACES
        )
    other = story.tracks[0].place
    chances = {pair[1]: chance for pair, chance in FIRST_PAIRS if pair[0] is other}
    return tuple(
        _likelier(enter(story, reading, celsius, slot, place), math.log(chance))
        for place, chance in (chances or dict(FIRST_PLACES)).items()
    )


def _likelier(story: Story, log_chance: float) -> Story:
    return replace(story, log_evidence=story.log_evidence + log_chance)


def _heard(story: Story, reading: Reading, celsius: float) -> Story:
    """Story that has taken the reading in, as far as it was told where the probe is."""
    track = story.track(reading.probe)
    if track is None:
        return story
    told = reading.place
    if told is not Place.UNKNOWN:
        if _first_told(story, reading):
            # somebody puts it there now; what was guessed of it before is no knowledge
            story = replace(story, bank=None, begun=False)
            return relocate(story, track, reading.seconds, celsius, told, told)
        if told is not track.place and not (told is track.told and astray(track)):
            return relocate(story, track, reading.seconds, celsius, told, told)
        track = replace(track, told=told)
    return tell(story, track, reading.seconds, celsius)


def _first_told(story: Story, reading: Reading) -> bool:
    """Whether nobody had said yet where any probe is, and it was not long anywhere."""
    track = story.track(reading.probe)
    return (
        track is not None
        and reading.place is not Place.UNKNOWN
        and reading.seconds - track.since < _GUESSED_SECONDS
        and all(one.told is Place.UNKNOWN for one in story.tracks)
    )


def _heard_all(story: Story, readings: tuple[Reading, ...]) -> Story:
    for reading in readings:
        if reading.celsius is not None:
            story = _heard(story, reading, reading.celsius)
    return story


def _with_disturbance(belief: Belief, probe: str) -> Belief:
    """Start over where a probe that was told its place no longer fits it."""
    if not out_of_tune(belief.story, probe, told=True):
        return belief
    stories = []
    for story in belief.stories:
        track = story.track(probe)
        if track is not None and astray(track):
            stories.append(_calmed(story, probe))
            if story is belief.story:
                stories.append(put_back(story, track))
        else:
            stories.append(story if track is None else disturb(story, track))
    seconds = belief.seconds or 0.0
    return _with_fault(replace(belief, stories=tuple(stories)), "disturbed", seconds)


def _watched(belief: Belief, reading: Reading) -> Belief:
    """Look whether a probe that nobody placed has moved.

    The stories that were likely when the signal was last calm are asked; until it is calm again
    no story is dropped, so that none takes over by explaining a move away.
    """
    if any(out_of_tune(story, reading.probe, told=False) for story in _contenders(belief)):
        return _branched(belief, reading)
    track = belief.story.track(reading.probe)
    quiet = track is None or max(track.misfit) < 1.0
    if quiet or not belief.calm or len(belief.since_calm) >= _LONGEST_BRANCH:
        stories = _with_lift(_ranked(belief.stories), reading)
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
    return (*stories, _likelier(lifted, _LIFT_LOG_CHANCE))


def _branched(belief: Belief, reading: Reading) -> Belief:
    """Tell the readings since the last calm one again, in every way they may have come about."""
    again = (*belief.since_calm, reading)
    mine = next(i for i, row in enumerate(again) if row.probe == reading.probe)
    stories = tuple(
        _heard_all(branch, again[mine + 1 :])
        for story in belief.calm or belief.stories
        for branch in _branches(_heard_all(story, again[:mine]), again[mine])
    )
    calmed = tuple(_calmed(story, reading.probe) for story in _ranked(stories))
    belief = replace(belief, stories=calmed, calm=(), since_calm=())
    return _with_fault(belief, "moved", reading.seconds)


def _calmed(story: Story, probe: str) -> Story:
    track = story.track(probe)
    return story if track is None else with_track(story, replace(track, misfit=(0.0, 0.0)))


def _branches(story: Story, reading: Reading) -> tuple[Story, ...]:
    """Ways in which the probe may have come to this reading."""
    track = story.track(reading.probe)
    celsius = reading.celsius
    if track is None or celsius is None:
        return (story,)
    branches = []
    for place, changed, log_chance in next_places(
        track.place, developer_met=story.bank is not None
    ):
        if changed:
            branch = tell(disturb(story, track), track, reading.seconds, celsius)
        else:
            branch = relocate(story, track, reading.seconds, celsius, place, Place.UNKNOWN)
        branches.append(_likelier(branch, log_chance))
    return tuple(branches)
