"""Warnings before a class begins."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from wetside.development.before_class import Lesson, before_class
from wetside.development.bottles import Bottle, Check, Colour, Holds, ShelfFile, Usage
from wetside.development.shelf import Need, Trouble, Use

DAY = date(2031, 9, 3)


def bottle(label: str, holds: str, use: str, **more: object) -> Bottle:
    table: dict[str, object] = {
        "label": label,
        "holds": holds,
        "use": use,
        "millilitres": 1000,
        "mixed_on": date(2031, 9, 1),
        "keeps_full_days": 180,
    }
    return Bottle.model_validate(table | more)


DEVELOPER = bottle("Dev", "developer", "once", strength="1+1", millilitres=1500)
FIXER = bottle(
    "Fix", "fixer", "reused", rolls_per_litre=20, strength="1+4", fresh_clearing_seconds=40
)
NEEDS = (Need(Holds.DEVELOPER, 300), Need(Holds.FIXER, 300))


def shelf(*bottles: Bottle) -> ShelfFile:
    return ShelfFile(format=1, bottle=bottles)


def lesson(tanks: int, at_once: int = 2) -> Lesson:
    return Lesson(DAY, tanks, 1.0, at_once, NEEDS)


def told(shelf_file: ShelfFile, uses: list[Use], tanks: int, at_once: int = 2) -> list[str]:
    return [notice.text for notice in before_class(shelf_file, uses, lesson(tanks, at_once))]


def test_a_shelf_that_serves_says_nothing() -> None:
    """Eight tanks from 1.5 L of stock (150 mL each) and a fresh litre of fixer."""
    assert told(shelf(DEVELOPER, FIXER), [], 8) == []


def test_too_little_stock_is_told_with_what_it_serves() -> None:
    """1.5 L of stock at 1+1 are ten tanks of 300 mL; an eleventh is told before class."""
    assert told(shelf(DEVELOPER, FIXER), [], 11) == [
        "developer: serves 10 of 11 tanks; mix before class",
        "Fix: 11 rolls since its last clearing-time test",
    ]


def test_a_test_that_falls_due_in_class_is_told_before() -> None:
    """After six rolls, four more in class make ten: the test is asked for now."""
    before = [Use(f"r{n}", "Fix", DAY - timedelta(days=1), 1) for n in range(6)]
    assert told(shelf(DEVELOPER, FIXER), before, 4) == [
        "Fix: 10 rolls since its last clearing-time test"
    ]


def test_tanks_at_once_need_their_volume() -> None:
    """A litre of fixer fills three tanks of 300 mL at once, not four."""
    assert told(shelf(DEVELOPER, FIXER), [], 4, at_once=4) == [
        "fixer: 1 L at hand, 4 tanks at once take 1.2 L"
    ]
    assert told(shelf(DEVELOPER, FIXER), [], 3, at_once=4) == []
    short = FIXER.model_copy(update={"millilitres": 899})
    assert told(shelf(DEVELOPER, short), [], 3, at_once=4) == [
        "fixer: 899 mL at hand, 3 tanks at once take 900 mL"
    ]


def test_both_baths_must_fill_the_tanks() -> None:
    """A litre in bath 1 and 500 mL in bath 2 do not fill three tanks of 300 mL from each."""
    baths = [
        bottle(
            f"Fix {bath}",
            "fixer",
            "two-bath",
            bath=bath,
            rolls_per_litre=20,
            millilitres=volume,
            fresh_clearing_seconds=40,
        )
        for bath, volume in ((1, 1000), (2, 500))
    ]
    assert told(shelf(DEVELOPER, *baths), [], 3, at_once=3) == [
        "fixer, bath 2: 500 mL at hand, 3 tanks at once take 900 mL"
    ]
    assert told(shelf(DEVELOPER, *baths), [], 1) == []


def test_no_bottle_at_all_comes_first() -> None:
    """A kind without any usable bottle is the first thing said."""
    spent = [Use(f"r{n}", "Fix", DAY, 1) for n in range(20)]
    notices = before_class(shelf(DEVELOPER, FIXER), spent, lesson(2))
    assert notices[0].trouble is Trouble.MISSING
    assert notices[0].text == "fixer: no bottle that may be used"
    assert Trouble.EXHAUSTED in {notice.trouble for notice in notices}


def test_a_second_bottle_takes_over() -> None:
    """With 18 rolls through the first fixer and a second one beside it, five tanks are served."""
    record = [Use(f"r{n}", "Fix", DAY, 1) for n in range(18)]
    second = FIXER.model_copy(update={"label": "Fix new"})
    notices = before_class(shelf(DEVELOPER, FIXER, second), record, lesson(5))
    assert [notice.trouble for notice in notices] == [Trouble.TEST_DUE]


def test_bottles_of_other_kinds_are_left_alone() -> None:
    """A stop bath that nobody needs today raises nothing, however old."""
    old = bottle("Stop", "stop bath", "reused", rolls_per_litre=12, keeps_full_days=1)
    assert told(shelf(DEVELOPER, FIXER, old), [], 2) == []


def fixing(fixer: Bottle, seconds: float | None, tanks: int = 1) -> list[str]:
    """What is told of a class through a sheet that fixes for so long from the full tank."""
    planned = Lesson(DAY, tanks, 1.0, 1, NEEDS, seconds)
    return [notice.text for notice in before_class(shelf(DEVELOPER, fixer), [], planned)]


def test_a_fixer_that_needs_longer_than_the_sheet_fixes_is_told() -> None:
    """Fix for twice the clearing time (US Navy NAVEDTRA 14209): 3:15 ask for 6:30, not 5:00."""
    slow = bottle(
        "Fix",
        "fixer",
        "reused",
        rolls_per_litre=20,
        fresh_clearing_seconds=100,
        check=[{"on": DAY, "clearing_seconds": 195}],
    )
    (text,) = fixing(slow, 300)
    assert text.startswith(
        "Fix: clears in 3:15, fresh 1:40: fix for 6:30, the sheet fixes for 5:00"
    )
    assert fixing(slow, 390) == []
    assert fixing(slow, None) == []
    fresh = slow.model_copy(update={"fresh_clearing_seconds": 160.0, "check": ()})
    (text,) = fixing(fresh, 300)
    assert "fix for 5:20, the sheet fixes for 5:00" in text


def test_bath_2_and_a_fixer_done_for_are_not_asked_for_more_fixing() -> None:
    """Of two baths the first is timed; a bottle that is not to be used says only that."""
    done = FIXER.model_copy(update={"check": (Check(on=DAY, clearing_seconds=85),)})
    assert not any("the sheet fixes" in text for text in fixing(done, 100))
    baths = [
        FIXER.model_copy(
            update={"label": f"Fix {bath}", "use": Usage.TWO_BATH, "bath": bath}
            | ({"fresh_clearing_seconds": 200.0} if bath == 2 else {})
        )
        for bath in (1, 2)
    ]
    planned = Lesson(DAY, 1, 1.0, 1, NEEDS, 300)
    assert before_class(shelf(DEVELOPER, *baths), [], planned) == ()


def test_a_reused_developer_says_how_much_longer_before_and_after_the_class() -> None:
    """A tenth for each roll and litre: three rolls through it, four more in class, one notice."""
    reused = bottle(
        "Dev", "developer", "reused", rolls_per_litre=10, longer_per_roll=0.1, rolls_before=3
    )
    assert told(shelf(reused, FIXER), [], 4) == [
        (
            "Dev: develop 1.30 times as long as the sheet says, after this class 1.70 times "
            "(teacher's own)"
        )
    ]
    assert told(shelf(reused, FIXER), [], 0) == [
        "Dev: develop 1.30 times as long as the sheet says (teacher's own)"
    ]


def test_an_impossible_lesson_is_refused() -> None:
    """No tanks below zero, none without film."""
    with pytest.raises(ValueError, match="some film"):
        Lesson(DAY, 3, 0.0, 2, NEEDS)


def test_a_stop_bath_that_is_turning_is_told_before_class() -> None:
    """With capacity left it may be used, and is to be mixed new before the next class."""
    stop = bottle(
        "Stop",
        "stop bath",
        "reused",
        millilitres=5000,
        rolls_per_litre=12,
        check=[{"on": "2031-09-02", "colour": "turning"}],
    )
    planned = Lesson(DAY, 9, 1.0, 2, (Need(Holds.STOP, 300),))
    (notice,) = before_class(shelf(stop), [], planned)
    assert (notice.text, notice.stops) == (
        "Stop: Turning: mix new before the next class",
        False,
    )
    yellow = stop.model_copy(update={"check": (Check(on=DAY, colour=Colour.YELLOW),)})
    assert before_class(shelf(yellow), [], planned) == ()
