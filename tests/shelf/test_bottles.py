"""The shelf file and what is wrong with it."""

from __future__ import annotations

import pytest

from wetside.development import bottles
from wetside.development.bottles import Holds, Usage
from wetside.errors import FileProblem, ShelfError

GOOD = """
format = 1

[[bottle]]
label = "Developer A"
holds = "developer"
strength = "1+1"
millilitres = 2000
mixed_on = 2031-09-01
use = "once"
keeps_full_days = 180
keeps_opened_days = 30
source = "label of the bottle"

[[bottle]]
label = "Fixer 1"
holds = "fixer"
strength = "1+4"
millilitres = 1000
mixed_on = 2031-09-01
use = "reused"
rolls_per_litre = 20
fresh_clearing_seconds = 40
  [[bottle.check]]
  on = 2031-09-08
  clearing_seconds = 55
"""


def reasons(text: str) -> list[tuple[str, str]]:
    with pytest.raises(ShelfError) as caught:
        bottles.parse(text, "shelf.toml")
    assert caught.value.file == "shelf.toml"
    return list(caught.value.problems)


def test_a_correct_text_gives_a_shelf() -> None:
    """Its bottles have their capacity."""
    shelf = bottles.parse(GOOD, "shelf.toml")
    fixer = shelf.named("Fixer 1")
    assert (fixer.holds, fixer.use, fixer.capacity_rolls) == (Holds.FIXER, Usage.REUSED, 20.0)
    assert shelf.named("Developer A").capacity_rolls is None
    with pytest.raises(KeyError):
        shelf.named("Fixer 9")


def test_all_problems_are_named_at_once_with_their_keys() -> None:
    """A file with five mistakes in two bottles names all five places."""
    text = """
format = 1
[[bottle]]
label = "Fixer"
holds = "fixr"
millilitres = -5
mixed_on = "yesterday"
use = "reused"
[[bottle]]
label = "Stop"
holds = "stop bath"
strenght = "1+19"
millilitres = 500
use = "reused"
rolls_per_litre = 12
"""
    assert ("bottle[1].mixed_on", "must be a date such as 2031-09-01, not 'yesterday'") in reasons(
        text
    )
    places = [place for place, _ in reasons(text)]
    assert places == [
        "bottle[1].holds",
        "bottle[1].millilitres",
        "bottle[1].mixed_on",
        "bottle[2].mixed_on",
        "bottle[2].strenght",
    ]


@pytest.mark.parametrize(
    ("change", "place", "reason"),
    [
        (('use = "once"', 'use = "reused"'), "bottle[1].rolls_per_litre", "is missing"),
        (
            ('use = "reused"', 'use = "once"'),
            "bottle[2].rolls_per_litre",
            "no capacity beyond its volume",
        ),
        (('use = "reused"', 'use = "two-bath"'), "bottle[2].bath", "bath 1 or bath 2"),
        (('strength = "1+4"', 'strength = "1:4"'), "bottle[2].strength", "write 1+4"),
        (('strength = "1+4"', 'strength = "weak"'), "bottle[2].strength", "not a strength"),
        (
            ("on = 2031-09-08", "on = 2031-08-08"),
            "bottle[2].check[1].on",
            "before the bottle was mixed",
        ),
        (
            ('holds = "fixer"', 'holds = "stop bath"'),
            "bottle[2].fresh_clearing_seconds",
            "belongs to fixer",
        ),
        (("clearing_seconds = 55", ""), "bottle[2].check[1]", "either clearing_seconds or"),
        (
            ("clearing_seconds = 55", 'colour = "purple"'),
            "bottle[2].check[1].colour",
            "belongs to stop bath",
        ),
        (("fresh_clearing_seconds = 40", ""), "bottle[2].check[1].clearing_seconds", "needs fresh"),
        (('"Fixer 1"', '"developer a"'), "bottle[2].label", "already bottle[1]"),
        (("format = 1", "format = 2"), "format", "of a newer wetside"),
        (("format = 1", "format = "), "", "not valid TOML"),
        (
            ("keeps_full_days = 180", "opened_on = 2031-08-01"),
            "bottle[1].opened_on",
            "before it was",
        ),
        (
            ("keeps_full_days = 180", "longer_per_roll = 0.1"),
            "bottle[1].longer_per_roll",
            "reused developer",
        ),
        (("keeps_full_days = 180", "bath = 1"), "bottle[1].bath", "belongs to two-bath use"),
    ],
)
def test_each_mistake_names_key_and_reason(
    change: tuple[str, str], place: str, reason: str
) -> None:
    """One wrong line is found where it stands, and the reason says what would do."""
    assert change[0] in GOOD
    found = reasons(GOOD.replace(change[0], change[1], 1))
    assert len(found) == 1
    assert found[0][0] == place
    assert reason in found[0][1]


def test_rolls_as_second_bath_belong_to_a_bath_1() -> None:
    """Only what was bath 2 and is bath 1 now has rolls from then."""
    wrong = GOOD.replace('use = "reused"', 'use = "reused"\nrolls_as_second_bath = 4')
    assert reasons(wrong) == [
        ("bottle[2].rolls_as_second_bath", "belongs to bath 1 of a two-bath fixer")
    ]


NEITHER = "a new filling has neither moved_up_on nor rolls_as_second_bath"


@pytest.mark.parametrize(
    ("written", "reason"),
    [
        ("rolls_as_second_bath = 4", "is missing, the day on which bath 2 became this bath 1"),
        ("moved_up_on = 2031-09-08", "belongs beside rolls_as_second_bath"),
        (
            "rolls_as_second_bath = 4\nmoved_up_on = 2031-08-31",
            f"2031-08-31 is before it was mixed, 2031-09-01; {NEITHER}",
        ),
    ],
)
def test_a_new_filling_was_never_bath_2(written: str, reason: str) -> None:
    """Rolls from the time as bath 2 come with the day of the move, not before that of mixing."""
    wrong = GOOD.replace('use = "reused"', f'use = "two-bath"\nbath = 1\n{written}')
    assert reasons(wrong) == [("bottle[2].moved_up_on", reason)]


def test_a_bottle_may_be_opened_and_tested_on_the_day_it_was_mixed() -> None:
    """A bath that is mixed for the class of that day is opened and tested on it."""
    text = GOOD.replace("keeps_full_days = 180", "opened_on = 2031-09-01")
    shelf = bottles.parse(text.replace("on = 2031-09-08", "on = 2031-09-01"), "shelf.toml")
    opened, tested = shelf.named("Developer A"), shelf.named("Fixer 1")
    assert opened.opened_on == opened.mixed_on
    assert tested.check[0].on == tested.mixed_on


def test_a_bath_2_may_move_up_on_the_day_it_was_mixed() -> None:
    """Two baths mixed in the morning, the first exhausted in the evening: that is one day."""
    first, second = (
        GOOD[GOOD.index('[[bottle]]\nlabel = "Fixer') :]
        .replace('use = "reused"', f'use = "two-bath"\nbath = {bath}{moved}')
        .replace("Fixer 1", f"Fixer {bath}")
        for bath, moved in ((1, "\nrolls_as_second_bath = 4\nmoved_up_on = 2031-09-01"), (2, ""))
    )
    moved = bottles.parse(f"format = 1\n{first}{second}", "shelf.toml").named("Fixer 1")
    assert (moved.moved_up_on, moved.rolls_as_second_bath) == (moved.mixed_on, 4)


def test_two_baths_come_as_a_pair() -> None:
    """A first bath without a second is refused; only fixer comes as two baths."""
    lone = GOOD.replace('use = "reused"', 'use = "two-bath"\nbath = 1')
    assert "needs both baths, only bath 1" in reasons(lone)[0][1]
    stop = lone.replace('holds = "fixer"', 'holds = "wetting agent"')
    assert [place for place, _ in reasons(stop)] == [
        "bottle[2].use",
        "bottle[2].fresh_clearing_seconds",
    ]


def test_a_shelf_problem_is_a_file_problem() -> None:
    """Callers that catch file problems or ValueError catch this one."""
    assert issubclass(ShelfError, FileProblem)
    assert issubclass(ShelfError, ValueError)
