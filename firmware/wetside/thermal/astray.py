"""Accounts in which a probe hangs in air, although somebody said that it is in the developer.

Nobody presses a button when a probe slips out. It shows: readings stop to fit, and then follow
the room. Such an account is added once readings fit badly, must lead within seconds, because a slow
drift is no air, and loses credit as time goes by, because people put a probe back.
"""

from __future__ import annotations

from dataclasses import replace

from wetside.readings import Place, Reading
from wetside.thermal.bank import DEVELOPER
from wetside.thermal.story import Story, relocate
from wetside.thermal.tracks import Track

#: Cumulated surprise from which on what was said is doubted, and the log probability of a lift
#: then, and of being put back.
_MISFIT, _LIFT_LOG_CHANCE, _BACK_LOG_CHANCE = 4.0, -2.0, -3.0
#: It must lead within so many seconds, and then loses so much (natural logarithm) in each.
_LEADS_SECONDS, _WANES = 10.0, 1.0
#: K that the developer may be off after a while in which air was taken for it.
_ANEW_SD = 1.5


def astray(track: Track) -> bool:
    """Whether this account has the probe in air where somebody said the developer."""
    return track.place is Place.AIR and track.told is Place.DEVELOPER


def with_astray(stories: tuple[Story, ...], reading: Reading) -> tuple[Story, ...]:
    """The accounts, best first, with those of a lift that the reading asks for or leaves."""
    waned = [_waned(one, reading, leads=one is stories[0]) for one in stories]
    kept = [one for one in waned if one is not None]
    first = kept[0]
    track = first.track(reading.probe)
    if track is None or reading.seconds - track.since < _LEADS_SECONDS:
        return tuple(kept)
    there = [story.track(reading.probe) for story in kept]
    places = {one.place for one in there if one is not None}
    if astray(track):
        return tuple(kept) if track.told in places else (*kept, put_back(first, track))
    fits = track.told is not Place.DEVELOPER or max(track.misfit) <= _MISFIT
    if fits or Place.AIR in places:
        return tuple(kept)
    lifted = relocate(first, track, track.seconds, track.celsius, Place.AIR, track.told)
    return (*kept, replace(lifted, log_evidence=lifted.log_evidence + _LIFT_LOG_CHANCE))


def put_back(story: Story, track: Track) -> Story:
    """The account in which an astray probe has just been put back where it should be.

    What is believed of the developer may rest on readings of air, so it is measured anew.
    """
    if story.bank is not None:
        covariance = story.bank.covariance.copy()
        covariance[:, DEVELOPER, DEVELOPER] += _ANEW_SD**2
        story = replace(story, bank=replace(story.bank, covariance=covariance))
    back = relocate(story, track, track.seconds, track.celsius, track.told, track.told)
    return replace(back, log_evidence=back.log_evidence + _BACK_LOG_CHANCE)


def _waned(story: Story, reading: Reading, *, leads: bool) -> Story | None:
    track = story.track(reading.probe)
    if track is None or not astray(track):
        return story
    age = reading.seconds - track.since
    if age <= _LEADS_SECONDS:
        return story
    if age <= _LEADS_SECONDS + track.interval and not leads:
        return None
    return replace(story, log_evidence=story.log_evidence - _WANES * track.interval)
