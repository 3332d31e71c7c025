"""The catalogue of cues: complete, told apart by rhythm, in agreement with the screens."""

from __future__ import annotations

from itertools import combinations
from string import Formatter

import pytest

from wetside.cues import catalogue, rhythm
from wetside.cues.catalogue import Row, Urgency
from wetside.cues.lettering import width
from wetside.cues.panels import ROOM
from wetside.cues.tones import Tone
from wetside.session.sheet import Sheet, StepKind
from wetside.session.signals import Cue, CueName
from wetside.session.telling import pressed_when

ROWS = list(catalogue.CATALOGUE.values())
PAIRS = [pytest.param(a, b, id=f"{a.name}/{b.name}") for a, b in combinations(ROWS, 2)]


def pattern(tone: Tone) -> tuple[tuple[bool, float], ...]:
    """On and off in turn with their share of the whole length; silence at the end is dropped.

    Two tones of the same pattern differ by pitch or tempo only.
    """
    spans: list[list[float]] = []
    for note in tone.notes * tone.times:
        on = float(note.hertz is not None)
        if spans and spans[-1][0] == on:
            spans[-1][1] += note.seconds
        else:
            spans.append([on, note.seconds])
    if spans and not spans[-1][0]:
        spans.pop()
    whole = sum(seconds for _, seconds in spans)
    return tuple((bool(on), seconds / whole) for on, seconds in spans)


def sampled(row: Row, points: int = 400) -> list[bool]:
    """On or off at even shares of the whole tone: its rhythm without pitch and tempo."""
    edges, at = [], 0.0
    for on, share in pattern(row.tone):
        at += share
        edges.append((at, on))
    return [
        next((on for end, on in edges if (point + 0.5) / points <= end), edges[-1][1])
        for point in range(points)
    ]


def beats_heard(row: Row) -> int:
    return sum(on for on, _ in pattern(row.tone))


def test_every_cue_has_exactly_one_row() -> None:
    """Nothing that the machine or the station can say is without tone and words."""
    assert list(CueName) == list(catalogue.CATALOGUE)


@pytest.mark.parametrize(("a", "b"), PAIRS)
def test_any_two_tones_differ_in_rhythm(a: Row, b: Row) -> None:
    """Two tones differ in the number of beats or, at equal tempo, in a tenth of their length."""
    mismatch = sum(x != y for x, y in zip(sampled(a), sampled(b), strict=True)) / 400
    assert beats_heard(a) != beats_heard(b) or mismatch >= 0.1


def test_tones_that_differ_only_by_pitch_or_tempo_would_be_found() -> None:
    """The measure of rhythm calls the same beats at another pitch and tempo equal."""
    slow = rhythm.beats("...", rhythm.LOW)
    assert pattern(slow) == pattern(rhythm.beats("...", rhythm.HIGH))


def test_the_start_and_the_stop_of_agitation_are_clearly_different() -> None:
    """Four short high beats begin it, one long low beat ends it."""
    start, stop = catalogue.row(CueName.AGITATE), catalogue.row(CueName.REST)
    assert (4, 1) == (beats_heard(start), beats_heard(stop))
    assert rhythm.signs_of(start.tone) == "...."
    assert rhythm.signs_of(stop.tone) == "-"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: str(row.name))
def test_pitches_suit_a_passive_piezo(row: Row) -> None:
    """Every beat lies between 1 and 4 kHz, where a small piezo is loud."""
    assert all(1000 <= note.hertz <= 4000 for note in row.tone.notes if note.hertz is not None)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: str(row.name))
def test_alarms_are_long_and_come_again_and_nothing_else_is_long(row: Row) -> None:
    """An alarm lasts over two seconds with a very long beat; only alarms have such a beat."""
    very_long = any(
        note.hertz is not None and note.seconds >= rhythm.SIGNS["="] for note in row.tone.notes
    )
    assert very_long == (row.urgency is Urgency.ALARM)
    if row.urgency is Urgency.ALARM:
        assert row.tone.seconds > 2
        assert row.repeat_seconds is not None


@pytest.mark.parametrize("row", ROWS, ids=lambda row: str(row.name))
def test_a_repeat_leaves_time_to_hear_the_end(row: Row) -> None:
    """A tone that comes again does so after it has ended."""
    assert row.repeat_seconds is None or row.repeat_seconds > row.tone.seconds


def test_what_waits_for_an_answer_is_repeated() -> None:
    """Late, next, lost probe, power cut and failing log are said until somebody answers."""
    wanted = {
        CueName.LATE,
        CueName.NEXT_NOW,
        CueName.PROBE_LOST,
        CueName.INTERRUPTED,
        CueName.JOURNAL_FAILING,
    }
    assert wanted <= {row.name for row in ROWS if row.repeat_seconds is not None}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: str(row.name))
def test_templates_use_only_values_that_cues_carry(row: Row) -> None:
    """A misspelt field would leave a hole in the text."""
    known = {"step", "solution", "next", "prepare", "gap", "reason", "condition", "mend", "probe"}
    known |= {"wait", "pour", "press", "change", "total", "advice", "why"}
    texts = (row.words.head, row.words.big, *row.words.lines)
    fields = {name for text in texts for _, name, _, _ in Formatter().parse(text) if name}
    assert fields <= known


@pytest.mark.parametrize("row", ROWS, ids=lambda row: str(row.name))
def test_fixed_lines_fit_the_display(row: Row) -> None:
    """Every line of the catalogue without a field is at most as wide as the display."""
    fixed = [line for line in row.words.lines if "{" not in line]
    assert [] == [line for line in fixed if width(line) > ROOM]


def test_a_missing_value_leaves_nothing_and_raises_nothing() -> None:
    """A cue without its values still gives words; an empty line is dropped."""
    said = catalogue.words(Cue(CueName.PREPARE_NEXT, 0.0))
    assert catalogue.Words("get ready", "PREPARE", ("next: ",)) == said


def test_braces_in_a_value_are_not_taken_for_a_field() -> None:
    """Text from a sheet is filled in as it is."""
    said = catalogue.words(Cue(CueName.REFUSED, 0.0, {"reason": "{next} {0}"}))
    assert ("{next} {0}",) == said.lines


@pytest.mark.parametrize("signs", ["", " .", ".x", "_"])
def test_beats_that_mean_nothing_are_refused(signs: str) -> None:
    """A tone begins with a sound and knows three lengths and a rest."""
    with pytest.raises(ValueError, match=r"begins with a sound|is not one of"):
        rhythm.beats(signs, rhythm.LOW)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: str(row.name))
def test_the_beats_of_a_tone_can_be_read_back(row: Row) -> None:
    """The table of the documentation is written from the tones themselves."""
    first = next(note.hertz for note in row.tone.notes if note.hertz is not None)
    again = rhythm.beats(rhythm.signs_of(row.tone), first)
    assert [on for on, _ in pattern(again)] == [on for on, _ in pattern(row.tone)]
    shares = [share for _, share in pattern(row.tone)]
    assert [share for _, share in pattern(again)] == pytest.approx(shares)


@pytest.mark.parametrize("name", [CueName.NEXT_NOW, CueName.LATE])
def test_film_that_hangs_is_not_poured(name: CueName, small_sheet: Sheet) -> None:
    """The tone's words at the last step say what is done then, as the display does."""
    wet, hang = small_sheet.step[-2:]
    assert StepKind.HANG is hang.kind
    for following, press in ((hang, "press when it hangs"), (wet, "press as you pour")):
        said = catalogue.words(Cue(name, 1.0, {"next": "x", "press": pressed_when(following)}))
        assert press == said.lines[-1]
