"""What is heard, what is repeated, what is too late to say."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wetside.cues import catalogue
from wetside.session.run import Session, State
from wetside.session.signals import Cue, CueName
from wetside.session.telling import STANDING
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


def _heard(speech: Speech, begin: int, end: int) -> list[tuple[int, object]]:
    """Every tone that begins by itself when it is asked for each second."""
    tones = ((now, speech.repeat(now)) for now in range(begin, end))
    return [(now, tone) for now, tone in tones if tone is not None]


@pytest.mark.parametrize(("state", "name"), STANDING.items())
def test_what_a_state_asks_for_comes_again_until_it_is_answered(
    state: State, name: CueName
) -> None:
    """It is repeated at the catalogue's pace, and ends when the run stands elsewhere."""
    speech, pace = Speech(), catalogue.row(name).repeat_seconds
    assert pace is not None
    assert _tone(name) == speech.say([Cue(name, 100.0)], Session(state=state), 100.0)
    expected = [(100 + int(pace) * times, _tone(name)) for times in (1, 2, 3)]
    assert expected == _heard(speech, 100, 101 + 3 * int(pace))
    speech.say([Cue(CueName.POUR_BEGUN, 300.0)], Session(state=State.POURING), 300.0)
    assert speech.next_due() is None


@pytest.mark.parametrize(("state", "name"), STANDING.items())
@pytest.mark.parametrize("cues", [(), (Cue(CueName.RESUMED, 100.0),)])
def test_a_state_that_was_come_into_without_its_word_says_it(
    cues: tuple[Cue, ...], state: State, name: CueName
) -> None:
    """After a restart, or when a run goes on, what the state asks for is said and repeated."""
    speech, pace = Speech(), catalogue.row(name).repeat_seconds
    assert pace is not None
    first = speech.say(cues, Session(state=state), 100.0)
    assert first == (_tone(CueName.RESUMED) if cues else None)
    begins = 101 if cues else 100
    expected = [(begins, _tone(name)), (begins + int(pace), _tone(name))]
    assert expected == _heard(speech, 100, begins + int(pace) + 1)


def test_the_window_that_closes_does_not_end_the_call_to_pour() -> None:
    """READY comes again each half a minute as long as the run is ready."""
    speech, ready = Speech(), Session(state=State.READY)
    speech.say([Cue(CueName.READY, 100.0)], ready, 100.0)
    speech.say([Cue(CueName.WINDOW_CLOSING, 105.0)], ready, 105.0)
    expected = [(at, _tone(CueName.READY)) for at in (130, 160, 190)]
    assert expected == _heard(speech, 106, 200)


def test_hush_ends_every_repetition() -> None:
    """A press of wait makes quiet, until the run stands elsewhere."""
    speech = Speech()
    speech.say([Cue(CueName.NEXT_NOW, 1.0)], Session(state=State.HANDOVER), 1.0)
    speech.alarm("probe a", Cue(CueName.PROBE_LOST, 1.0), 1.0)
    speech.hush()
    speech.say([], Session(state=State.HANDOVER), 10.0)
    assert [] == _heard(speech, 10, 200)
    speech.say([], Session(state=State.LATE), 200.0)
    assert [(200, _tone(CueName.LATE))] == _heard(speech, 200, 205)


def test_the_end_of_an_agitation_is_heard_when_something_is_to_be_prepared_at_once() -> None:
    """Both fall together in shipped sheets: first rest, heard and seen, then what to prepare."""
    speech, running = Speech(), Session(state=State.RUNNING)
    both = [Cue(CueName.REST, 250.0), Cue(CueName.PREPARE_NEXT, 250.0)]
    assert _tone(CueName.REST) == speech.say(both, running, 250.0)
    ends = catalogue.row(CueName.REST).tone.seconds + 250.0
    assert ends == speech.next_due()
    assert _tone(CueName.PREPARE_NEXT) == speech.repeat(ends)
    assert speech.next_due() is None
    shown = [speech.shown(at) for at in (250.0, 251.9, 252.0, 255.9, 256.0)]
    assert [None, None, both[1], both[1], None] == shown


def test_what_can_be_heard_later_does_not_cut_off_an_order() -> None:
    """A refusal in the middle of four short beats is heard after them, and not long after."""
    for name, heard in ((CueName.AGITATE, True), (CueName.DRAIN, False)):
        speech, running = Speech(), Session(state=State.RUNNING)
        speech.say([Cue(name, 60.0)], running, 60.0)
        assert speech.say([Cue(CueName.REFUSED, 60.1)], running, 60.1) is None
        ends = speech.next_due()
        assert ends == 60.0 + catalogue.row(name).tone.seconds
        assert (speech.repeat(ends) == _tone(CueName.REFUSED)) is heard


def test_a_call_that_was_answered_gives_way_at_once() -> None:
    """The press that pours is confirmed without waiting for the end of the call."""
    speech = Speech()
    speech.say([Cue(CueName.NEXT_NOW, 60.0)], Session(state=State.HANDOVER), 60.0)
    poured = Session(state=State.POURING, step=2)
    assert _tone(CueName.POUR_BEGUN) == speech.say([Cue(CueName.POUR_BEGUN, 60.5)], poured, 60.5)


def test_an_alarm_of_a_part_waits_until_orders_are_heard() -> None:
    """The failing log alarms after the call to agitate, and again after each one in its way."""
    speech, running = Speech(), Session(state=State.RUNNING)
    failing = Cue(CueName.JOURNAL_FAILING, 30.0)
    speech.alarm("journal", failing, 30.0)
    order = [Cue(CueName.AGITATE, 30.0), failing]
    assert _tone(CueName.AGITATE) == speech.say(order, running, 30.0)
    assert [(31, _tone(CueName.JOURNAL_FAILING))] == _heard(speech, 30, 61)
    speech.say([Cue(CueName.AGITATE, 61.0)], running, 61.0)
    assert [(62, _tone(CueName.JOURNAL_FAILING))] == _heard(speech, 61, 63)
    assert _tone(CueName.REST) == speech.say([Cue(CueName.REST, 63.0)], running, 63.0)
    assert [(64, _tone(CueName.JOURNAL_FAILING))] == _heard(speech, 63, 90)


def test_all_was_taken_in_when_it_was_heard_and_seen_for_a_while() -> None:
    """Two seconds after a tone, after a message, and after a word that is only shown."""
    speech, running = Speech(), Session(state=State.RUNNING)
    for name, stands in ((CueName.REST, 0.0), (CueName.PREPARE_NEXT, 4.0)):
        speech.say([Cue(name, 100.0)], running, 100.0)
        until = 102.0 + max(stands, catalogue.row(name).tone.seconds)
        assert [False, True] == [speech.taken_in(until - 0.1), speech.taken_in(until + 0.1)]


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


_REFUSED = Cue(CueName.REFUSED, 10.0, {"reason": "develop cannot wait"})
_DIP = Cue(CueName.CHECK_DIP_ADVISED, 10.0)


@pytest.mark.parametrize("cues", [(_REFUSED, _DIP), (_DIP, _REFUSED)])
def test_a_press_that_is_refused_as_a_dip_is_called_for_is_answered_first(
    cues: tuple[Cue, ...],
) -> None:
    """The answer is seen for two seconds, then the call has its whole time."""
    speech = Speech()
    speech.say(cues, Session(state=State.TEMPERING), 10.0)
    seconds = catalogue.row(CueName.CHECK_DIP_ADVISED).show_seconds
    assert [_REFUSED, _DIP] == [speech.shown(11.9), speech.shown(12.0)]
    assert [_DIP, None] == [speech.shown(11.9 + seconds), speech.shown(12.0 + seconds)]


def test_a_call_waits_no_longer_than_an_answer_is_read() -> None:
    """Half a second after a refusal the call comes at two seconds, three after it at once."""
    for later, begins in ((0.5, 12.0), (3.0, 13.0)):
        speech, said = Speech(), 10.0 + later
        speech.say([_REFUSED], Session(state=State.TEMPERING), 10.0)
        assert _REFUSED == speech.shown(said)
        call = replace(_DIP, seconds=said)
        speech.say([call], Session(state=State.TEMPERING), said)
        assert (_REFUSED if said < begins else call) == speech.shown(said)
        assert call == speech.shown(begins)


@pytest.mark.parametrize(("later", "call_stands"), [(0.5, True), (1.9, True), (2.5, False)])
def test_an_answer_does_not_end_a_call_that_nobody_has_read(
    later: float, call_stands: bool
) -> None:
    """Who presses is answered at once; a call less than two seconds old then stands anew."""
    speech, pressed = Speech(), 10.0 + later
    speech.say([_DIP], Session(state=State.TEMPERING), 10.0)
    answer = replace(_REFUSED, seconds=pressed)
    speech.say([answer], Session(state=State.TEMPERING), pressed)
    assert [answer, answer] == [speech.shown(pressed), speech.shown(pressed + 1.9)]
    assert (_DIP if call_stands else answer) == speech.shown(pressed + 2.1)
    assert (_DIP if call_stands else None) == speech.shown(pressed + 7.9)


def test_the_latest_answer_is_the_one_that_stands() -> None:
    """Each press has its own answer at once, however soon it comes after the last."""
    speech = Speech()
    speech.say([_REFUSED], Session(state=State.TEMPERING), 10.0)
    asked = Cue(CueName.GIVE_UP_ASKED, 10.3, {"why": "the roll stands"})
    speech.say([asked], Session(state=State.TEMPERING), 10.3)
    assert asked == speech.shown(10.3)
    assert asked == speech.shown(14.9)


def test_who_chooses_is_not_interrupted_by_what_was_said_before() -> None:
    """A choice takes the place of a call and stands for its time, a later call ends it."""
    speech = Speech()
    speech.say([_DIP], Session(state=State.TEMPERING), 10.0)
    choice = Cue(CueName.CHOICE, 10.5)
    speech.say([choice], Session(state=State.TEMPERING), 10.5)
    assert [choice] * 3 == [speech.shown(now) for now in (10.5, 12.6, 22.4)]
    again = replace(_DIP, seconds=20.0)
    speech.say([again], Session(state=State.TEMPERING), 20.0)
    assert again == speech.shown(20.0)
