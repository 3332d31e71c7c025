"""Dilutions, volumes and the stock of a week."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.development.mixing import (
    ACID_CAUTION,
    GENERAL_CAUTION,
    LABELLED,
    POWDER_CAUTION,
    Dilution,
    Planned,
    from_powder,
    instructions,
    measures,
    rolls_of_stock,
    tank_millilitres,
    week_once,
    week_reused,
)
from wetside.errors import UnitsError
from wetside.outlook import Wall
from wetside.units import (
    MILLILITRES_PER_FLUID_OUNCE,
    parse_millilitres,
    parse_number,
    volume_text,
)


def test_parts() -> None:
    """One part and four of water make a fifth and four fifths."""
    amounts = measures(500, Dilution.parse("1+4"))
    assert (amounts.concentrates, amounts.water) == ((100.0,), 400.0)


def test_two_concentrates() -> None:
    """1+1+8 takes a tenth of each concentrate."""
    amounts = measures(600, Dilution.parse("1 + 1 + 8"))
    assert (amounts.concentrates, amounts.water) == ((60.0, 60.0), 480.0)


def test_stock_takes_no_water() -> None:
    """Stock is used as it is."""
    amounts = measures(300, Dilution.parse("stock"))
    assert (amounts.concentrates, amounts.water) == ((300.0,), 0.0)


@pytest.mark.parametrize(
    ("total", "strength", "said"),
    [
        (8 * MILLILITRES_PER_FLUID_OUNCE, "stock", "237 mL of it are enough for 1 roll:"),
        (8 * MILLILITRES_PER_FLUID_OUNCE, "1+1", "118 mL of it are too little for a roll:"),
        (16 * MILLILITRES_PER_FLUID_OUNCE, "1+1", "237 mL of it are enough for 1 roll:"),
        (473, "1+1", "enough for 1 roll:"),
        (1000, "1+1", "500 mL of it are enough for 2 rolls:"),
        (1000, "1+3", "250 mL of it are enough for 1 roll:"),
    ],
)
def test_stock_from_powder_says_how_many_rolls_it_is_for(
    total: float, strength: str, said: str
) -> None:
    """8 fl oz of stock a roll, 16 fl oz at 1+1 (Kodak J-78); nobody is told to take longer."""
    sentence = rolls_of_stock(total, Dilution.parse(strength))
    assert sentence is not None
    assert said in sentence
    assert "longer" not in sentence


@pytest.mark.parametrize("strength", ["1+4", "1+9", "1+50", "1+1+8"])
def test_liquid_concentrates_have_no_least_stock(strength: str) -> None:
    """A litre of 1+50 holds 20 mL of concentrate, and that is as it should be."""
    assert rolls_of_stock(1000, Dilution.parse(strength)) is None


def test_steps_speak_in_fluid_ounces() -> None:
    """32 fl oz at 1+7 are 4 of concentrate and 28 of water, of which 21 go in first."""
    amounts = measures(parse_millilitres("32 floz"), Dilution.parse("1+7"))
    steps = instructions(amounts, acid=True, unit="fl oz")
    assert steps[2:5] == (
        "Pour 21 fl oz of water into the marked jug.",
        "Add 4 fl oz of the concentrate slowly, stirring, to it.",
        "Fill up with water to 32 fl oz and stir.",
    )
    assert parse_millilitres("1 qt") == parse_millilitres("32 floz")
    assert parse_millilitres("1 gal") == pytest.approx(3785.411784)  # NIST Handbook 44, appendix C
    told = rolls_of_stock(amounts.water, Dilution.parse("1+1"), "fl oz")
    assert told is not None
    assert "14 fl oz of it are enough for 1 roll: each takes at least 8 fl oz" in told
    assert not any("mL" in text for text in (*steps, told))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1,000 mL", "'1,000': a comma before three digits is read in two ways; write 1000 or 1.0"),
        ("1,500 L", "write 1500 or 1.5"),
        ("12,345", "write 12345 or 12.345"),
    ],
)
def test_a_comma_before_three_digits_is_refused(text: str, says: str) -> None:
    """A thousand to some and one to others: the message says what would do."""
    with pytest.raises(UnitsError, match=re.escape(says)):
        parse_millilitres(text)


def test_other_decimal_commas_are_read() -> None:
    """No thousands are written so: one, two or four digits behind it, or nought before it."""
    read = [parse_number(text) for text in ("0,5", "1,25", "-2,5", "1,0000", "0,125", "1000")]
    assert read == [0.5, 1.25, -2.5, 1.0, 0.125, 1000.0]
    assert parse_millilitres("1,5 L") == 1500
    assert Dilution.parse("1,5+4").concentrates == (1.5,)


@pytest.mark.parametrize("text", ["", "soon", "nan", "inf", "1e3", "1_000", "1.000,5", "1,000,000"])
def test_what_is_no_number_is_refused(text: str) -> None:
    """Only digits with one point or comma between them."""
    with pytest.raises(UnitsError, match="is not a number"):
        parse_number(text)


def test_volumes_are_written_without_an_exponent() -> None:
    """Three digits, litres from one litre on, whole numbers from a thousand on."""
    assert ["0.5 mL", "237 mL", "1 L", "1.24 L", "1200 L"] == [
        volume_text(value) for value in (0.5, 236.6, 999.6, 1236.0, 1.2e6)
    ]
    assert "1014 fl oz" == volume_text(30000.0, "fl oz")


def test_colons_and_nonsense_are_refused() -> None:
    """1:4 means two things, so it is not guessed; zero and words are refused too."""
    with pytest.raises(UnitsError, match="write 1\\+4"):
        Dilution.parse("1:4")
    for text in ("", "one plus four", "0+4", "1+", "+4", "1+4x"):
        with pytest.raises(UnitsError):
            Dilution.parse(text)
    with pytest.raises(UnitsError, match="above zero"):
        measures(0, Dilution.parse("1+4"))


def test_water_comes_first_and_acid_into_it() -> None:
    """In the steps, cautions lead, water is poured before the acid, and nothing after it but water.

    Source: T.O. 33B-1-1 p. 6-76.
    """
    steps = instructions(measures(1000, Dilution.parse("1+19")), acid=True)
    assert steps[:2] == (GENERAL_CAUTION, ACID_CAUTION)
    water = next(i for i, step in enumerate(steps) if step.startswith("Pour"))
    acid = next(i for i, step in enumerate(steps) if step.startswith("Add"))
    assert water < acid
    assert "slowly" in steps[acid]
    assert "Fill up with water to 1 L" in steps[acid + 1]


def test_parts_are_named_in_their_order() -> None:
    """Two concentrates are part A and part B."""
    steps = instructions(measures(600, Dilution.parse("1+1+8")), acid=False)
    assert [step for step in steps if step.startswith("Add")] == [
        "Add 60 mL of part A to it.",
        "Add 60 mL of part B to it.",
    ]


def test_undiluted_nothing_is_added_to_nothing() -> None:
    """Stock, of an acid too, is measured; no step speaks of water or of a jug without any."""
    steps = instructions(measures(1000, Dilution.parse("stock")), acid=True)
    assert ("It is used undiluted: measure 1 L.", LABELLED) == steps[1:]


def test_a_powder_is_a_packet_and_no_volume() -> None:
    """The dust is warned of first; all of the packet goes into the water and makes the stock."""
    steps = from_powder(1000.0)
    assert POWDER_CAUTION == steps[1]
    assert "Pour 750 mL of water" in steps[3]
    assert not any("concentrate" in step for step in steps)
    assert "this is the stock" in steps[-2]


def test_volumes_per_reel() -> None:
    """8 fl oz in steel (common tank size), 300 mL in plastic, more for wide film."""
    assert tank_millilitres(Wall.STEEL).value == pytest.approx(
        8 * MILLILITRES_PER_FLUID_OUNCE, abs=0.5
    )
    assert tank_millilitres(Wall.PLASTIC).value == 300
    assert tank_millilitres(Wall.PLASTIC, wide=True).value == 590
    assert tank_millilitres(Wall.STEEL, wide=True).value == 500


WEEK = [Planned(tanks=6, rolls_per_tank=1, millilitres=300)] * 4


def test_stock_for_a_week_of_one_shot_developer() -> None:
    """24 tanks of 300 mL at 1+1 take 7.2 L, with a tenth spare 7.92 L, half of it stock."""
    need = week_once(WEEK, Dilution.parse("1+1"))
    assert need.working_millilitres == pytest.approx(7920)
    assert need.concentrate_millilitres == pytest.approx((3960,))


def test_fixer_for_a_week_follows_capacity_or_tanks() -> None:
    """24 rolls at 20 per litre take 1.2 L; six tanks at once hold 1.8 L, which is more.

    A tenth is added to either for spills.
    """
    need = week_reused(WEEK, Dilution.parse("1+4"), 20, at_once=2)
    assert need.working_millilitres == pytest.approx(1320)
    assert need.concentrate_millilitres == pytest.approx((264,))
    more = week_reused(WEEK, Dilution.parse("1+4"), 20, at_once=6)
    assert more.working_millilitres == pytest.approx(1980)


def test_bath_2_only_fills_the_tanks() -> None:
    """Twelve rolls, four tanks of 300 mL at once: 1.2 L, however many rolls follow each other.

    With a tenth for spills 1.32 L; bath 1 would take the 3 L of its capacity and a tenth.
    """
    plan = [Planned(12, 5.0, 300)]
    need = week_reused(plan, Dilution.parse("1+4"), None, at_once=4)
    assert need.working_millilitres == pytest.approx(1320)
    assert need.concentrate_millilitres == pytest.approx((264,))
    bath_1 = week_reused(plan, Dilution.parse("1+4"), 20, 4)
    assert bath_1.working_millilitres == pytest.approx(3300)


def test_a_week_without_classes_needs_nothing() -> None:
    """No classes, no stock."""
    assert week_once([], Dilution.parse("stock")).working_millilitres == 0
    assert week_reused([], Dilution.parse("stock"), 20, 2).concentrate_millilitres == ()


@given(
    total=st.floats(1, 1e5),
    parts=st.lists(st.integers(1, 100), min_size=1, max_size=3),
    water=st.integers(0, 200),
)
def test_measures_add_up_to_the_total(total: float, parts: list[int], water: int) -> None:
    """Whatever the dilution, all measures together make the volume asked for."""
    dilution = Dilution.parse("+".join(map(str, [*parts, water])))
    amounts = measures(total, dilution)
    assert sum(amounts.concentrates) + amounts.water == pytest.approx(total)
