"""What an editor of sheets asks: changes, fingerprint, timeline."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.session import schedule, sheet_edit
from wetside.session import sheet as sheets
from wetside.session.events import Kind
from wetside.session.sheet import Sheet, shipped_folder
from wetside.session.sheet_edit import Change

TEXT = (shipped_folder() / "one-reel-20.toml").read_text(encoding="utf-8")
SHIPPED = sorted(shipped_folder().glob("*.toml"))


def parse(text: str) -> Sheet:
    return sheets.parse(text, "test.toml")


def changed(*pairs: tuple[str, str]) -> Sheet:
    text = TEXT
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    return parse(text)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_a_sheet_does_not_differ_from_itself(path: object) -> None:
    """No change, one fingerprint; comments and blank lines count for nothing."""
    assert isinstance(path, type(SHIPPED[0]))
    text = path.read_text(encoding="utf-8")
    one, other = parse(text), parse("# another comment\n\n" + text)
    assert () == sheet_edit.changes(one, other)
    assert sheet_edit.fingerprint(one) == sheet_edit.fingerprint(other)


def test_a_number_a_text_and_a_list() -> None:
    """Each key that differs is told once, with both values."""
    after = changed(
        ("seconds = 45 ", "seconds = 60 "),
        ('name = "one reel 20"', 'name = "ours"'),
        ('cautions = ["Clip a weight below."]', 'cautions = ["Weight below.", "Door shut."]'),
    )
    assert (
        Change("name", "one reel 20", "ours"),
        Change("step[3].seconds", 45.0, 60.0),
        Change("step[9].cautions", ("Clip a weight below.",), ("Weight below.", "Door shut.")),
    ) == sheet_edit.changes(parse(TEXT), after)


def test_agitation_is_told_by_its_own_key() -> None:
    """A key inside a table of a step has the table in its name."""
    after = changed(("for_seconds = 10 ", "for_seconds = 15 "))
    assert (Change("step[4].agitation.for_seconds", 10.0, 15.0),) == sheet_edit.changes(
        parse(TEXT), after
    )


def test_a_step_put_in_between_is_one_change() -> None:
    """The steps behind it are paired with what they were, not shifted by one."""
    rinse = '[[step]]\nkind = "rinse"\nsolution = "water"\nseconds = 30\n\n[[step]]\nkind = "fix"'
    after = changed(('[[step]]\nkind = "fix"', rinse))
    assert (Change("step[4]", None, "rinse, 30 s"),) == sheet_edit.changes(parse(TEXT), after)
    assert (Change("step[4]", "rinse, 30 s", None),) == sheet_edit.changes(after, parse(TEXT))


@given(seconds=st.integers(min_value=25, max_value=7200))
def test_every_other_time_is_another_fingerprint(seconds: int) -> None:
    """Two fixing times have one fingerprint only if they are the same, and so with changes."""
    after = changed(("seconds = 310 ", f"seconds = {seconds} "))
    same = seconds == 310
    assert same is (sheet_edit.fingerprint(parse(TEXT)) == sheet_edit.fingerprint(after))
    assert same is (sheet_edit.changes(parse(TEXT), after) == ())


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_the_timeline_is_every_steps_schedule(path: object) -> None:
    """Each step's cues, shifted by the steps before it; the last one ends the last bath."""
    assert isinstance(path, type(SHIPPED[0]))
    made = parse(path.read_text(encoding="utf-8"))
    cues = sheet_edit.timeline(made)
    begins = 0.0
    by_hand = []
    for step in made.step:
        by_hand += [
            begins + entry.offset_seconds
            for entry in schedule.of_step(step)
            if entry.kind is not Kind.LATE_DUE
        ]
        begins += step.seconds or 0.0
    assert by_hand == [cue.seconds for cue in cues]
    assert sheet_edit.total_seconds(made) == cues[-1].seconds


def test_check_gives_what_parse_raises() -> None:
    """Problems come back as values; a good text gives the sheet and no problem."""
    assert sheet_edit.check(TEXT, "test.toml").sheet == parse(TEXT)
    bad = sheet_edit.check(TEXT.replace("seconds = 45 ", "seconds = 2 "), "test.toml")
    assert bad.sheet is None
    assert ["step[3].seconds"] == [place for place, _ in bad.problems]
