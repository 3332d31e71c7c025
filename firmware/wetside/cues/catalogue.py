"""Everything that is said at the sink: one row for each cue, its tone and its words.

How to read a row
-----------------
tone     beats of ``rhythm.py`` (``.`` short, ``-`` long, ``=`` very long), pitch, repeats
urgency  CALM: to know. ACT: do something now. ALARM: something goes wrong while you wait
again    the tone comes again after so many seconds until somebody answers; None = once
shows    seconds for which the words stand over the screen; 0 = the screen that stands there
         anyway says the same (docs/cues.md names it)
head     first line     big   the word to be read from afar     lines   up to two lines below

Words in braces are filled in: {step} and {next} are names of steps and solutions, {prepare}
and {reason} come from the sheet or the machine, {gap} says what is known of a power cut.
{wait} and {pour} are the two ways to go on; the screen shows them as they stand then.
{change} and {total} say how the end of a step was moved, {advice} what would help the bath.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from wetside.cues.rhythm import HIGH, LOW, MIDDLE, beats
from wetside.cues.tones import Tone
from wetside.session.signals import Cue, CueName


class Urgency(IntEnum):
    """How much a cue wants of the student."""

    CALM = 1
    ACT = 2
    ALARM = 3


CALM, ACT, ALARM = Urgency.CALM, Urgency.ACT, Urgency.ALARM


@dataclass(frozen=True, slots=True)
class Words:
    """What a screen says of a cue."""

    head: str
    big: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One cue; fields are explained at the head of this file."""

    name: CueName
    tone: Tone
    urgency: Urgency
    repeat_seconds: float | None
    show_seconds: float
    words: Words


def _say(head: str, big: str, *lines: str) -> Words:
    return Words(head, big, lines)


# fmt: off
_ROWS = (
    # tempering
    Row(CueName.TEMPERING_BEGUN, beats(". ..", MIDDLE), CALM, None, 0,
        _say("tempering", "DIP", "dip the probe into the", "developer; press probe")),
    Row(CueName.READY_SOON, beats(".-", MIDDLE, last_hertz=HIGH), CALM, None, 4,
        _say("ready soon", "SOON", "have the tank at hand", "gloves on")),
    Row(CueName.READY, beats(".-.-.-", MIDDLE, last_hertz=HIGH), ACT, 30, 0,
        _say("ready", "READY", "pour now", "{next}, press now")),
    Row(CueName.WINDOW_CLOSING, beats("-. ", HIGH, times=3), ACT, None, 0,
        _say("window closing", "POUR", "soon out of tolerance", "pour now, or temper on")),
    Row(CueName.WINDOW_LEFT, beats("--. ", LOW, times=2), ACT, None, 5,
        _say("window left", "WAIT", "out of tolerance again", "correct the bath")),
    Row(CueName.WILL_NOT_REACH, beats("--- .", LOW), ACT, None, 6,
        _say("will not get there", "HELP", "the bath stays too far off", "{advice}")),
    Row(CueName.CHECK_DIP_ADVISED, beats("- ..", MIDDLE), CALM, None, 6,
        _say("check dip", "DIP", "dip the probe into the", "developer; press probe")),
    Row(CueName.CHOICE, beats(".--.", MIDDLE), CALM, None, 12,
        _say("wait or pour?", "", "{wait}", "{pour}")),
    # a step
    Row(CueName.POUR_BEGUN, beats("..", MIDDLE), CALM, None, 0,
        _say("{step}", "POUR IN", "pour in {solution}")),
    Row(CueName.AGITATE, beats("....", HIGH), ACT, None, 0,
        _say("{step}", "AGITATE", "agitate")),
    Row(CueName.REST, beats("-", LOW), ACT, None, 0,
        _say("{step}", "REST", "rest")),
    Row(CueName.END_MOVED, beats("--.-", MIDDLE), CALM, None, 5,
        _say("tank's warmth", "NEW END", "{change}", "{total} in all")),
    Row(CueName.PREPARE_NEXT, beats(".. ..", MIDDLE), CALM, None, 4,
        _say("get ready", "PREPARE", "{prepare}", "next: {next}")),
    Row(CueName.DRAIN, beats("..- ", HIGH, times=3), ACT, None, 0,
        _say("{step}", "POUR OUT", "pour out {solution}")),
    Row(CueName.NEXT_NOW, beats("-- ", HIGH, times=3), ACT, 4, 0,
        _say("next", "NOW", "{next}", "{press}")),
    Row(CueName.LATE, beats("=.=.", HIGH), ALARM, 5, 0,
        _say("late", "LATE", "{next}", "{press}")),
    # the run
    Row(CueName.HELD, beats("--", MIDDLE), CALM, 60, 0,
        _say("held", "HELD", "now: go on", "hold wait 2x: give up")),
    Row(CueName.RESUMED, beats(".--", MIDDLE), CALM, None, 3,
        _say("goes on", "GO ON", "{step} goes on")),
    Row(CueName.INTERRUPTED, beats("=--=", MIDDLE), ALARM, 15, 0,
        _say("power lost", "GO ON?", "{gap}", "now: go on", "hold wait 2x: give up")),
    Row(CueName.FINISHED, beats("..-- ", HIGH, times=2), ACT, None, 0,
        _say("finished", "DONE", "hang about 1 h, no dust")),
    Row(CueName.ABANDONED, beats("-..-", LOW), CALM, None, 0,
        _say("given up", "GIVEN UP", "now: another roll")),
    Row(CueName.REFUSED, beats("-.-.", LOW), CALM, None, 4,
        _say("not done", "NO", "{reason}")),
    Row(CueName.GIVE_UP_ASKED, beats("-.-", LOW), CALM, None, 6,
        _say("sure?", "GIVE UP?", "{why}", "hold wait again: yes")),
    Row(CueName.END_ASKED, beats(".-..", LOW), CALM, None, 6,
        _say("sure?", "END NOW?", "{why}", "hold now again: yes")),
    # the parts
    Row(CueName.PROBE_LOST, beats("=.. ", LOW, times=2), ALARM, 20, 5,
        _say("look at it", "PROBE", "{condition}", "{mend}")),
    Row(CueName.PROBE_BACK, beats("..-.", MIDDLE), CALM, None, 3,
        _say("probe is back", "PROBE", "reads again")),
    Row(CueName.JOURNAL_FAILING, beats("=... ", MIDDLE, times=2), ALARM, 30, 5,
        _say("log is failing", "LOG", "this run is not kept", "go on, tell the teacher")),
)
# fmt: on

#: What answers a press.
ANSWERS = frozenset({CueName.REFUSED, CueName.GIVE_UP_ASKED, CueName.END_ASKED})

#: Every cue by its name.
CATALOGUE: Mapping[CueName, Row] = {row.name: row for row in _ROWS}


def row(name: CueName) -> Row:
    """The catalogue's row of a cue."""
    return CATALOGUE[name]


class _Blank(dict[str, str]):
    def __missing__(self, key: str) -> str:
        return ""


def words(cue: Cue) -> Words:
    """The words of a cue with its values filled in; a value that is missing leaves nothing."""
    values = _Blank(cue.values)
    template = row(cue.name).words
    return Words(
        template.head.format_map(values),
        template.big.format_map(values),
        tuple(line for line in (text.format_map(values) for text in template.lines) if line),
    )
