"""What is heard, what is repeated, what is too late to say."""

from __future__ import annotations

from dataclasses import replace

from wetside.cues import catalogue
from wetside.session.machine import Session, State
from wetside.session.signals import Cue, CueName
from wetside.station.speech import Speech


def _tone(name: CueName) -> object:
    return catalogue.row(name).tone


def test_of_cues_at_once_the_most_urgent_is_heard() -> None:
    """A buzzer says one thing at a time: the one that cannot wait."""
    cues = [Cue(CueName.PREPARE_NEXT, 10.0), Cue(CueName.LATE, 10.0), Cue(CueName.REST, 10.0)]
    assert _tone(CueName.LATE) == Speech().say(cues, Session(), 10.0)


def test_a_missed_cue_is_not_said_as_if_it_were_now() -> None:
    """An agitation whose moment passed while nobody was there is not called afterwards."""
    assert Speech().say([Cue(CueName.AGITATE, 10.0)], Session(state=State.RUNNING), 15.0) is None


def test_what_still_has_to_be_done_is_said_after_all() -> None:
    """A station that comes back in a hand-over calls for the next step."""
    session = replace(Session(), state=State.HANDOVER)
    tone = Speech().say([Cue(CueName.DRAIN, 5.0), Cue(CueName.NEXT_NOW, 15.0)], session, 40.0)
    assert _tone(CueName.NEXT_NOW) == tone


def test_an_alarm_comes_again_until_it_is_answered() -> None:
    """LATE is repeated at the catalogue's pace, and ends when something else happens."""
    speech = Speech()
    pace = catalogue.row(CueName.LATE).repeat_seconds
    assert pace is not None
    speech.standing("run", Cue(CueName.LATE, 100.0), 100.0)
    heard = [now for now in range(100, 140) if speech.repeat(now) is not None]
    assert [100 + pace * times for times in range(1, 8)][: len(heard)] == heard
    assert len(heard) > 2
    speech.standing("run", Cue(CueName.POUR_BEGUN, 141.0), 141.0)
    assert speech.next_due() is None


def test_hush_ends_every_repetition() -> None:
    """A press of wait makes quiet."""
    speech = Speech()
    speech.standing("run", Cue(CueName.NEXT_NOW, 1.0), 1.0)
    speech.standing("probe a", Cue(CueName.PROBE_LOST, 1.0), 1.0)
    speech.hush()
    assert speech.repeat(1000.0) is None


def test_a_message_stands_for_the_catalogues_time() -> None:
    """The words of a refusal stay long enough to be read, and go by themselves."""
    speech = Speech()
    refused = Cue(CueName.REFUSED, 10.0, {"reason": "develop cannot wait"})
    speech.say([refused], Session(), 10.0)
    seconds = catalogue.row(CueName.REFUSED).show_seconds
    assert refused == speech.shown(10.0 + seconds - 0.1)
    assert speech.shown(10.0 + seconds) is None


def test_a_press_that_was_taken_ends_the_message_of_one_that_was_not() -> None:
    """After "give up?" the roll that is given up has the screen; a call to agitate waits."""
    speech = Speech()
    speech.say([Cue(CueName.GIVE_UP_ASKED, 10.0, {"why": "the roll stands"})], Session(), 10.0)
    speech.say([Cue(CueName.AGITATE, 10.5)], Session(), 10.5)
    assert speech.shown(10.6) is not None
    speech.say([Cue(CueName.ABANDONED, 11.0)], Session(), 11.0)
    assert speech.shown(11.1) is None
