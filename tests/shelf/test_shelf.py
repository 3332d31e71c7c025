"""What bottles have done and can still do."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.development.bottles import Bottle, Check, Colour, Holds, ShelfFile, Usage
from wetside.development.clearing import judge_clearing, judge_indicator
from wetside.development.film import AREAS, Film, rolls, rolls_of
from wetside.development.shelf import (
    Need,
    Standing,
    Trouble,
    Use,
    carried,
    count_run,
    standing,
)
from wetside.development.testing import latest_check, latest_first

MONDAY = date(2031, 9, 1)


def fixer(**changes: object) -> Bottle:
    table: dict[str, object] = {
        "label": "Fixer 1",
        "holds": "fixer",
        "strength": "1+4",
        "millilitres": 1000,
        "mixed_on": MONDAY,
        "use": "reused",
        "rolls_per_litre": 20,
        "keeps_full_days": 60,
        "keeps_opened_days": 30,
    }
    return Bottle.model_validate(table | changes)


def developer(**changes: object) -> Bottle:
    table: dict[str, object] = {
        "label": "Developer",
        "holds": "developer",
        "strength": "1+1",
        "millilitres": 1000,
        "mixed_on": MONDAY,
        "use": "once",
        "keeps_full_days": 180,
    }
    return Bottle.model_validate(table | changes)


def uses(count: int, rolls: float = 1.0, bottle: str = "Fixer 1") -> list[Use]:
    return [Use(f"run {n}", bottle, MONDAY, rolls) for n in range(count)]


def troubles(one: Standing) -> list[Trouble]:
    return [notice.trouble for notice in one.notices]


def test_a_roll_is_eighty_square_inches() -> None:
    """0.0516 m2 are one roll: 80 sq in at 25.4 mm exactly."""
    assert rolls_of(80 * 0.0254**2) == pytest.approx(1.0, abs=0.001)


def test_sheets_of_film_count_by_their_inches() -> None:
    """Four sheets of 4x5 or one of 8x10 are 80 square inches; 24 exposures two thirds of 36."""
    assert rolls(Film.SHEET_4X5, 4) == pytest.approx(1.0, abs=0.001)
    assert rolls(Film.SHEET_8X10, 1) == pytest.approx(1.0, abs=0.001)
    assert rolls(Film.SHEET_5X7, 16) == pytest.approx(7.0, abs=0.005)
    assert rolls(Film.SMALL_24, 3) == pytest.approx(2.0)


def test_rolls_of_paper_backed_film_are_near_what_the_trade_counts() -> None:
    """A 120 roll is one roll by the trade's rule, its 8 pictures of 6x9 cm fit on it; 220 is two.

    The eight pictures of a 127 roll are 4 by 6.5 cm, so it is between their area and 120's.
    """
    assert set(AREAS) == set(Film)
    assert rolls(Film.MEDIUM, 1) == pytest.approx(1.0, abs=0.03)
    assert AREAS[Film.MEDIUM] > 8 * 0.056 * 0.084
    assert rolls(Film.LONG, 1) == pytest.approx(2.0, abs=0.06)
    assert 8 * 0.04 * 0.065 < AREAS[Film.NARROW] < AREAS[Film.MEDIUM]


def test_twenty_rolls_exhaust_a_litre_of_acid_fixer() -> None:
    """Anchell 2008 p. 108: 20 rolls per litre; the nineteenth leaves one, the twentieth none."""
    almost, spent = standing(fixer(), uses(19), MONDAY), standing(fixer(), uses(20), MONDAY)
    assert (almost.left_rolls, almost.usable) == (1.0, True)
    assert (spent.left_rolls, spent.usable) == (0.0, False)
    assert troubles(spent) == [Trouble.EXHAUSTED]
    assert "has taken its 20 rolls" in spent.notices[0].text


def test_a_run_reported_twice_counts_once() -> None:
    """The same run on the same bottle is one use, however often it comes in."""
    assert standing(fixer(), uses(3) + uses(3), MONDAY).rolls == 3


def test_rolls_from_before_count() -> None:
    """A bottle that was in use before wetside starts from there."""
    assert standing(fixer(rolls_before=17.5), uses(2), MONDAY).left_rolls == pytest.approx(0.5)


def test_age_runs_from_mixing_and_from_opening() -> None:
    """Sixty days full, thirty days once opened, whichever ends first."""
    fresh = standing(fixer(), [], MONDAY + timedelta(days=40))
    assert fresh.last_good_day == MONDAY + timedelta(days=60)
    opened = standing(fixer(), uses(1), MONDAY + timedelta(days=31))
    assert opened.last_good_day == MONDAY + timedelta(days=30)
    assert troubles(opened) == [Trouble.TOO_OLD]
    timed = fixer(fresh_clearing_seconds=40)
    last_day = standing(timed, uses(1), MONDAY + timedelta(days=30))
    assert (troubles(last_day), last_day.usable) == ([Trouble.AGES_SOON], True)
    late = standing(fixer(), [Use("r", "Fixer 1", MONDAY + timedelta(days=50), 1)], MONDAY)
    assert late.last_good_day == MONDAY + timedelta(days=60)


def test_opening_may_be_written_or_follow_from_earlier_rolls() -> None:
    """A written day of opening counts; rolls from before open the bottle on the day of mixing."""
    written = fixer(opened_on=MONDAY + timedelta(days=10))
    assert standing(written, [], MONDAY).last_good_day == MONDAY + timedelta(days=40)
    assert standing(fixer(rolls_before=1), [], MONDAY).last_good_day == MONDAY + timedelta(days=30)


def test_a_wrong_clock_is_noticed() -> None:
    """A day before the mixing asks whether the clock is right, and stops nothing."""
    found = standing(fixer(fresh_clearing_seconds=40), [], MONDAY - timedelta(days=1))
    assert (troubles(found), found.usable) == ([Trouble.DATE], True)


def test_a_clearing_time_twice_the_fresh_one_ends_a_fixer() -> None:
    """Discard at twice, fix for twice the clearing time (US Navy NAVEDTRA 14209)."""
    good, bad = judge_clearing(55, 40), judge_clearing(80, 40)
    assert (good.ratio, good.fix_seconds, good.discard) == (1.375, 110, False)
    assert good.text == "clears in 0:55, fresh 0:40: fix for 1:50"
    assert bad.discard
    assert "collect it" in bad.text


def test_the_formula_of_ten_minutes_clears_in_five() -> None:
    """The F-5 page gives 10 min for a fixer that clears in 5: twice the clearing time."""
    assert judge_clearing(300, 300).fix_seconds == 600


def test_film_that_would_stay_too_long_ends_a_fixer_too() -> None:
    """Over 15 min (T.O. 33B-1-1 p. 6-77) no film is fixed, even below twice the fresh time."""
    slow = judge_clearing(460, 300)
    assert slow.discard
    assert "over 15:00" in slow.text


@pytest.mark.parametrize("times", [(0, 40), (40, 0), (-1, 40)])
def test_impossible_clearing_times_are_refused(times: tuple[float, float]) -> None:
    """A time of nothing is no test."""
    with pytest.raises(ValueError, match="above zero"):
        judge_clearing(*times)


def test_a_failed_test_on_record_stops_the_bottle() -> None:
    """The last check counts: 85 s against 40 s fresh."""
    tested = fixer(
        fresh_clearing_seconds=40,
        check=[
            Check(on=MONDAY, clearing_seconds=50),
            Check(on=MONDAY + timedelta(days=2), clearing_seconds=85),
        ],
    )
    found = standing(tested, [], MONDAY + timedelta(days=3))
    assert (troubles(found), found.usable) == ([Trouble.TEST_FAILED], False)


def test_the_first_bath_hands_over_to_the_second() -> None:
    """When bath 1 has doubled, bath 2 becomes bath 1 (US Navy NAVEDTRA 14209)."""
    first = fixer(
        use="two-bath",
        bath=1,
        fresh_clearing_seconds=40,
        check=[Check(on=MONDAY, clearing_seconds=80)],
    )
    assert "bath 2 becomes bath 1" in standing(first, [], MONDAY).notices[0].text


def test_a_test_falls_due_after_rolls() -> None:
    """Ten rolls after the last clearing-time test the next one is due."""
    plain = fixer(fresh_clearing_seconds=40)
    assert troubles(standing(plain, uses(9), MONDAY)) == []
    assert troubles(standing(plain, uses(10), MONDAY)) == [Trouble.TEST_DUE]
    tested = fixer(fresh_clearing_seconds=40, check=[Check(on=MONDAY, clearing_seconds=45)])
    assert troubles(standing(tested, uses(12), MONDAY)) == []
    counted = fixer(
        fresh_clearing_seconds=40, check=[Check(on=MONDAY, clearing_seconds=45, rolls=1)]
    )
    assert troubles(standing(counted, uses(12), MONDAY)) == [Trouble.TEST_DUE]


def test_a_fixer_that_was_never_timed_is_asked_for_its_first_test() -> None:
    """Fresh it is timed itself; once film went through, only fresh fixer gives what to compare."""
    asked = [standing(fixer(), uses(count), MONDAY).notices for count in (0, 1)]
    assert [[Trouble.TEST_DUE]] * 2 == [[one.trouble for one in notices] for notices in asked]
    assert asked[0][0].text.endswith("to compare with; time it before any film")
    assert asked[1][0].text.endswith("to compare with; time a little fresh fixer of that strength")
    once = fixer(use="once", rolls_per_litre=None)
    assert troubles(standing(once, [], MONDAY)) == []


def test_the_indicator_is_judged_in_the_bottle_only() -> None:
    """Purple in the bottle is spent; what runs out of a tank says nothing."""
    assert judge_indicator(Colour.PURPLE, in_bottle=True).discard
    assert not judge_indicator(Colour.PURPLE, in_bottle=False).discard
    assert not judge_indicator(Colour.TURNING, in_bottle=True).discard
    assert not judge_indicator(Colour.YELLOW, in_bottle=True).discard
    stop = Bottle(
        label="Stop",
        holds=Holds.STOP,
        millilitres=1000,
        mixed_on=MONDAY,
        use=Usage.REUSED,
        rolls_per_litre=12,
        check=(Check(on=MONDAY, colour=Colour.PURPLE),),
    )
    assert troubles(standing(stop, [], MONDAY)) == [Trouble.TEST_FAILED]


def test_carry_over_thins_a_bath_and_takes_from_a_first_one() -> None:
    """10 mL a roll (Torzynski 2004): a litre after 20 rolls holds 0.99^20 of its strength."""
    volume, strength = carried(fixer(), 20)
    assert volume == 1000
    assert strength == pytest.approx(0.99**20)
    reused = developer(use="reused", rolls_per_litre=4, strength="stock")
    assert carried(reused, 4) == (960, 1.0)
    assert carried(developer(), 4) == (1000, 1.0)
    assert carried(fixer(use="two-bath", bath=2), 20) == (1000, 1.0)


def test_a_reused_developer_that_was_carried_out_is_empty() -> None:
    """Ten rolls take the last of 100 mL, and the next ones nothing more."""
    little = developer(use="reused", rolls_per_litre=200, strength="stock", millilitres=100)
    found = standing(little, uses(10, bottle="Developer"), MONDAY)
    assert (found.left_millilitres, found.left_rolls) == (0.0, 10.0)
    assert found.notices[0].text == "Developer: is empty (teacher's own); mix new"
    assert carried(little, 11) == (0.0, 1.0)


def test_reused_developer_takes_longer() -> None:
    """Ten per cent a roll and litre: after two rolls through a litre, 1.2 times."""
    reused = developer(use="reused", rolls_per_litre=4, strength="stock", longer_per_roll=0.10)
    found = standing(reused, uses(2, bottle="Developer"), MONDAY)
    assert found.times_longer == pytest.approx(1.2)
    assert (troubles(found), found.usable) == ([Trouble.LONGER], True)
    assert "develop 1.20 times as long as the sheet says" in found.notices[0].text


NEEDS = (Need(Holds.DEVELOPER, 300), Need(Holds.FIXER, 300))


def shelf(*bottles: Bottle) -> ShelfFile:
    return ShelfFile(format=1, bottle=bottles)


def test_a_run_counts_itself_onto_the_right_bottles() -> None:
    """300 mL at 1+1 draw 150 mL of stock; fixer comes back and takes a roll."""
    counted, missing = count_run(
        shelf(developer(), fixer()), [], run="r1", on=MONDAY, rolls=1, needs=NEEDS
    )
    assert missing == ()
    assert counted == (
        Use("r1", "Developer", MONDAY, 1, 150.0),
        Use("r1", "Fixer 1", MONDAY, 1, 0.0),
    )


def test_the_oldest_usable_bottle_goes_first() -> None:
    """A spent bottle is passed over, then the older of two is used."""
    old = fixer(label="Fixer old", mixed_on=MONDAY - timedelta(days=20))
    new = fixer(label="Fixer new")
    counted, _ = count_run(
        shelf(new, old), [], run="r", on=MONDAY, rolls=1, needs=[Need(Holds.FIXER, 300)]
    )
    assert [use.bottle for use in counted] == ["Fixer old"]
    counted, _ = count_run(
        shelf(new, old),
        uses(20, bottle="Fixer old"),
        run="r",
        on=MONDAY,
        rolls=1,
        needs=[Need(Holds.FIXER, 300)],
    )
    assert [use.bottle for use in counted] == ["Fixer new"]


def test_a_run_goes_through_both_baths() -> None:
    """Two-bath fixing counts on both bottles; with bath 1 spent it serves no more."""
    pair = shelf(fixer(use="two-bath", bath=1), fixer(label="Fixer 2", use="two-bath", bath=2))
    need = [Need(Holds.FIXER, 300)]
    counted, _ = count_run(pair, [], run="r", on=MONDAY, rolls=1, needs=need)
    assert [use.bottle for use in counted] == ["Fixer 1", "Fixer 2"]
    counted, missing = count_run(
        pair, uses(20, bottle="Fixer 1"), run="r", on=MONDAY, rolls=1, needs=need
    )
    assert counted == ()
    assert [notice.trouble for notice in missing] == [Trouble.MISSING]


def test_bath_2_has_no_limit_of_rolls_while_it_is_bath_2() -> None:
    """The twenty rolls that exhaust bath 1 leave bath 2 to take its place (NAVEDTRA 14209)."""
    first = standing(fixer(use="two-bath", bath=1), uses(20), MONDAY)
    assert troubles(first) == [Trouble.EXHAUSTED]
    assert first.notices[0].text == (
        "Fixer 1: has taken its 20 rolls (teacher's own); bath 2 becomes bath 1, "
        "new fixer is bath 2"
    )
    second = standing(fixer(use="two-bath", bath=2), uses(40), MONDAY)
    assert (second.rolls, second.left_rolls, second.usable) == (40, None, True)


def test_rolls_from_the_time_as_bath_2_are_no_part_of_the_capacity() -> None:
    """Of 25 rolls 20 went through it as bath 2: by capacity and strength it took five as bath 1."""
    moved = fixer(use="two-bath", bath=1, rolls_as_second_bath=20, moved_up_on=MONDAY)
    now = standing(moved, uses(25), MONDAY)
    assert (now.rolls, now.left_rolls) == (25, 15)
    five = standing(fixer(use="two-bath", bath=1), uses(5), MONDAY)
    assert now.dilution_left == five.dilution_left
    assert standing(moved, uses(40), MONDAY).left_rolls == 0
    assert standing(moved, [], MONDAY).left_rolls == 20


def test_what_no_bottle_serves_is_told() -> None:
    """A run of two rolls does not go onto a bottle with one roll left."""
    counted, missing = count_run(
        shelf(fixer()), uses(19), run="r", on=MONDAY, rolls=2, needs=[Need(Holds.FIXER, 300)]
    )
    assert counted == ()
    assert missing[0].text == "no bottle of fixer serves 2 rolls and 300 mL"


@pytest.mark.parametrize(
    ("bottle", "serves"),
    [
        (fixer(millilitres=299.6), True),
        (fixer(millilitres=299), False),
        (developer(millilitres=149.8), True),
        (developer(millilitres=149.5), False),
    ],
)
def test_a_bottle_that_lacks_a_millilitre_does_not_serve(bottle: Bottle, serves: bool) -> None:
    """300 mL are asked for, of the developer half of it as stock; only rounding is forgiven."""
    counted, missing = count_run(
        shelf(bottle), [], run="r", on=MONDAY, rolls=1, needs=[Need(bottle.holds, 300)]
    )
    assert (bool(counted), bool(missing)) == (serves, not serves)


@pytest.mark.parametrize(
    ("millilitres", "per_litre", "reels"),
    [(400, 20, 1), (400, 10, 1), (200, 20, 1), (250, 40, 1), (500, 12, 3), (250, 8, 1)],
)
def test_films_of_24_exposures_use_a_bottle_up_exactly(
    millilitres: float, per_litre: float, reels: int
) -> None:
    """As many two thirds of a roll as the capacity holds go through; then the bottle is spent."""
    bottle = fixer(millilitres=millilitres, rolls_per_litre=per_litre)
    each = rolls(Film.SMALL_24, reels)
    fit = int(millilitres * per_litre / 1000 / each + 1e-3)
    record: list[Use] = []
    for number in range(fit):
        counted, missing = count_run(
            shelf(bottle),
            record,
            run=str(number),
            on=MONDAY,
            rolls=each,
            needs=[Need(Holds.FIXER, 100)],
        )
        assert missing == ()
        record += counted
    left = standing(bottle, record, MONDAY).left_rolls
    assert left == pytest.approx(bottle.capacity_rolls - fit * each, abs=1e-9)  # type: ignore[operator]
    assert (left == 0.0) == (not standing(bottle, record, MONDAY).usable)


@given(rolls=st.lists(st.floats(0.1, 4), max_size=30), more=st.floats(0.1, 4))
def test_more_film_never_leaves_more(rolls: list[float], more: float) -> None:
    """Capacity, volume and strength fall with each roll and never below nothing."""
    record = [Use(f"r{n}", "Fixer 1", MONDAY, amount) for n, amount in enumerate(rolls)]
    before = standing(fixer(), record, MONDAY)
    after = standing(fixer(), [*record, Use("last", "Fixer 1", MONDAY, more)], MONDAY)
    assert before.left_rolls is not None
    assert after.left_rolls is not None
    assert 0 <= after.left_rolls <= before.left_rolls
    assert 0 < after.dilution_left < before.dilution_left


TWICE = (
    Check(on=MONDAY, clearing_seconds=50, rolls=3),
    Check(on=MONDAY, clearing_seconds=90, rolls=9),
)


def test_the_last_test_of_a_day_counts() -> None:
    """Fresh 40 s, in the morning 50 s, at noon 90 s: spent; written the other way round: good."""
    spent = fixer(fresh_clearing_seconds=40, check=TWICE)
    assert troubles(standing(spent, [], MONDAY)) == [Trouble.TEST_FAILED]
    good = fixer(fresh_clearing_seconds=40, check=TWICE[::-1])
    assert standing(good, [], MONDAY).usable


def test_tests_are_told_latest_first() -> None:
    """The later day first, whichever line comes first in the file; of a day the last line."""
    before = Check(on=MONDAY - timedelta(days=1), clearing_seconds=41)
    tested = fixer(
        mixed_on=MONDAY - timedelta(days=7),
        fresh_clearing_seconds=40,
        check=(TWICE[0], before, TWICE[1]),
    )
    assert latest_first(tested) == (TWICE[1], TWICE[0], before)
    assert latest_check(tested) == TWICE[1]
    assert latest_check(fixer()) is None
