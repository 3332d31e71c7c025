"""Developing times at other temperatures."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from printed import rows_of
from scipy import constants, interpolate, stats

from wetside.development.coefficient import GAS_CONSTANT, Q10, Arrhenius, fit_arrhenius
from wetside.development.law import (
    Law,
    Row,
    TimeTable,
    inverse_kelvin,
    ten_degree_ratio,
)

#: State radiation rules, N. Dakota Adm. Code 33.1-10-06 App. D: degF and minutes.
STATE_CHART = (
    (60, 9.5), (61, 8.5), (62, 8), (63, 7), (64, 6.5), (65, 6), (66, 5.5), (67, 5.5), (68, 5),
    (69, 4.5), (70, 4.5), (71, 4), (72, 4), (73, 3.5), (74, 3.5), (75, 3), (76, 3), (77, 2.5),
    (78, 2.5), (79, 2), (80, 2),
)  # fmt: skip

#: Intraoral film maker's processing guidelines: degF and minutes.
INTRAORAL = ((68, 5), (70, 4.5), (72, 4), (76, 3), (80, 2.5))


def table(pairs: tuple[tuple[float, float], ...] = STATE_CHART, rounding: float = 30) -> TimeTable:
    return TimeTable(rows_of(pairs), "chart", rounding)


def q10(coefficient: float = 2.5, **spread: float) -> Q10:
    return Q10(
        nominal_celsius=20,
        nominal_seconds=480,
        coefficient=coefficient,
        source="teacher's own",
        **spread,
    )


def arrhenius(joules_per_mole: float = 65_000) -> Arrhenius:
    return Arrhenius(
        nominal_celsius=20,
        nominal_seconds=480,
        joules_per_mole=joules_per_mole,
        source="teacher's own",
    )


@pytest.mark.parametrize("pairs", [STATE_CHART, INTRAORAL])
def test_every_published_row_comes_back_as_printed(pairs: tuple[tuple[float, float], ...]) -> None:
    """On a row of its table the law gives the printed time."""
    law = table(pairs)
    for row in rows_of(pairs):
        assert row.seconds == pytest.approx(law.seconds_at(row.celsius), abs=1e-9)


def test_between_rows_log_time_is_straight_against_inverse_kelvin() -> None:
    """Between rows the law agrees with scipy's linear interpolation of log t over 1/T."""
    law = table(INTRAORAL)
    rows = sorted(law.rows, key=lambda row: -row.celsius)
    reference = interpolate.interp1d(
        [1 / constants.convert_temperature(row.celsius, "C", "K") for row in rows],
        [math.log(row.seconds) for row in rows],
    )
    for step in range(66):
        celsius = 20.0 + step * 0.1
        kelvin = constants.convert_temperature(celsius, "C", "K")
        assert math.exp(reference(1 / kelvin)) == pytest.approx(law.seconds_at(celsius), rel=1e-9)


def test_gas_constant_is_the_committee_value() -> None:
    """The molar gas constant is CODATA's, as scipy carries it."""
    assert pytest.approx(constants.R, rel=1e-9) == GAS_CONSTANT


def test_q10_closed_form() -> None:
    """Ten degrees warmer divides by the coefficient, ten cooler multiplies."""
    assert pytest.approx(192) == q10().seconds_at(30)
    assert pytest.approx(1200) == q10().seconds_at(10)


def test_arrhenius_ratio_of_two_temperatures() -> None:
    """The ratio of two times is exp(E/R (1/T1 - 1/T2)), with scipy's R and kelvin."""
    cold, warm = (constants.convert_temperature(c, "C", "K") for c in (18.0, 24.0))
    expected = math.exp(65_000 / constants.R * (1 / cold - 1 / warm))
    assert pytest.approx(expected) == arrhenius().seconds_at(18) / arrhenius().seconds_at(24)


def test_fit_agrees_with_linear_regression() -> None:
    """The fitted energy and time are those of scipy's linregress on the state chart."""
    rows = table().rows
    line = stats.linregress(
        [inverse_kelvin(row.celsius) for row in rows], [math.log(row.seconds) for row in rows]
    )
    fitted = fit_arrhenius(rows, 20.0, "fit")
    expected = math.exp(line.intercept + line.slope * inverse_kelvin(20.0))
    assert pytest.approx(line.slope * constants.R, rel=1e-6) == fitted.joules_per_mole
    assert pytest.approx(expected, rel=1e-6) == fitted.nominal_seconds


def test_historic_coefficient_of_metol_hydroquinone() -> None:
    """Wall 1910: the image appears after 70 s at 8 degC, 25 s at 20 degC; K = 0.373 per 10 deg."""
    law = TimeTable((Row(8, 70), Row(20, 25)), "Wall, Jahrbuch 24 (1910) p. 44")
    assert math.log10(ten_degree_ratio(law, 8, 20)) == pytest.approx(0.373, abs=0.0005)


def test_bounds_hold_half_the_printed_step() -> None:
    """A time printed to half minutes is open by a quarter minute either way, on its row."""
    low, high = table(INTRAORAL).bounds_at((72 - 32) / 1.8)
    assert pytest.approx((225, 255)) == (low, high)


def test_an_exact_table_has_no_open_bounds() -> None:
    """A table without rounding gives one time."""
    law = TimeTable((Row(18, 500), Row(24, 300)), "teacher's own")
    assert law.bounds_at(20) == (law.seconds_at(20), law.seconds_at(20))


def test_spread_of_coefficient_opens_away_from_nominal() -> None:
    """A coefficient of 2 to 3 leaves nothing open at the nominal and 192/160..240 s at 30 degC."""
    law = q10(coefficient_low=2.0, coefficient_high=3.0)
    assert pytest.approx((480, 480)) == law.bounds_at(20)
    assert pytest.approx((160, 240)) == law.bounds_at(30)


def test_beyond_the_last_row_the_slope_of_the_table_carries_on() -> None:
    """A flat last pair of rows does not freeze the time beyond it."""
    law = table()
    assert law.seconds_at(28.0) < law.rows[-1].seconds
    assert law.reaches(28.0) == pytest.approx(28.0 - 80 / 1.8 + 32 / 1.8)
    assert law.reaches(20.0) == 0.0


@pytest.mark.parametrize(
    ("build", "reason"),
    [
        (lambda: TimeTable((Row(20, 300),), "x"), "at least two rows"),
        (lambda: TimeTable((Row(20, 300), Row(22, 310)), "x"), "warmer is never longer"),
        (lambda: TimeTable((Row(20, 300), Row(20, 300)), "x"), "stands twice"),
        (lambda: TimeTable((Row(20, 300), Row(22, 0)), "x"), "above zero"),
        (lambda: TimeTable((Row(20, 300), Row(22, math.nan)), "x"), "above zero"),
        (lambda: TimeTable((Row(68, 300), Row(70, 280)), "x"), "no developing temperature"),
        (lambda: TimeTable((Row(20, 300), Row(22, 280)), "  "), "source is blank"),
        (lambda: TimeTable((Row(20, 300), Row(22, 280)), "x", 600), "rounding_seconds"),
        (lambda: q10(0.5), "between 1 and 10"),
        (lambda: q10(2.5, coefficient_low=2.6), "in order"),
        (lambda: arrhenius(-1), "not be below zero"),
    ],
)
def test_impossible_laws_are_refused_with_the_reason(build: Callable[[], Law], reason: str) -> None:
    """A law that no developer could have is refused where it is written."""
    with pytest.raises(ValueError, match=reason):
        build()


@st.composite
def tables(draw: st.DrawFn) -> TimeTable:
    """Tables of two to eight rows that fall with temperature."""
    count = draw(st.integers(2, 8))
    celsius = sorted(draw(st.sets(st.integers(12, 32), min_size=count, max_size=count)))
    times = sorted(
        (draw(st.integers(8, 80)) * 15.0 for _ in range(count)),
        reverse=True,
    )
    rows = tuple(Row(float(c), s) for c, s in zip(celsius, times, strict=True))
    return TimeTable(rows, "drawn", draw(st.sampled_from([0.0, 15.0, 30.0])))


LAWS: st.SearchStrategy[Law] = st.one_of(
    tables(),
    st.floats(1.0, 4.0).map(q10),
    st.floats(0.0, 120_000.0).map(arrhenius),
)


@given(law=LAWS, one=st.floats(10, 35), other=st.floats(10, 35))
def test_warmer_is_never_longer(law: Law, one: float, other: float) -> None:
    """For any law, a warmer developer never needs a longer time."""
    cooler, warmer = sorted((one, other))
    assert law.seconds_at(cooler) >= law.seconds_at(warmer) * (1 - 1e-12)


@given(law=LAWS, celsius=st.floats(10, 35))
def test_bounds_hold_the_time(law: Law, celsius: float) -> None:
    """The bounds of the source always hold the time that is given."""
    low, high = law.bounds_at(celsius)
    assert 0 < low <= law.seconds_at(celsius) * (1 + 1e-12)
    assert law.seconds_at(celsius) <= high * (1 + 1e-12)


@given(law=tables(), celsius=st.floats(12, 32))
def test_inside_the_table_stays_between_its_neighbours(law: TimeTable, celsius: float) -> None:
    """Between two rows the time lies between their times."""
    assume(law.reaches(celsius) == 0)
    below = min(row.seconds for row in law.rows if row.celsius <= celsius)
    above = max(row.seconds for row in law.rows if row.celsius >= celsius)
    assert above * (1 - 1e-12) <= law.seconds_at(celsius) <= below * (1 + 1e-12)


@given(
    law=st.floats(0.0, 120_000.0).map(arrhenius),
    celsius=st.floats(15, 28),
    stops=st.sets(st.integers(14, 29), min_size=2, max_size=6),
)
def test_a_table_cut_from_an_arrhenius_law_gives_it_back(
    law: Arrhenius, celsius: float, stops: set[int]
) -> None:
    """Interpolation and extension of exact rows reproduce the law they were taken from."""
    rows = tuple(Row(float(c), law.seconds_at(c)) for c in stops)
    assert TimeTable(rows, "cut").seconds_at(celsius) == pytest.approx(law.seconds_at(celsius))


def test_rounding_opens_wider_beyond_the_table() -> None:
    """Beyond the last row the slope is uncertain too: the bounds open as the table is left."""
    law = TimeTable((Row(18, 480), Row(24, 300)), "drawn", 30)
    shares = []
    for celsius in (24.0, 25.0, 26.0):
        low, high = law.bounds_at(celsius)
        shares.append((high - low) / law.seconds_at(celsius))
    assert shares[0] == pytest.approx(30 / 300)
    assert shares[0] < shares[1] < shares[2]
    # steepest: 495 s at 18 degC and 285 s at 24 degC, drawn on as an Arrhenius law
    steep = fit_arrhenius((Row(18, 495), Row(24, 285)), 24.0, "drawn")
    assert law.bounds_at(26.0)[0] == pytest.approx(steep.seconds_at(26.0))


def test_a_table_is_as_rough_as_its_rounding_allows() -> None:
    """A rounding of just under twice the shortest time is the most a table may have."""
    rows = (Row(18, 480), Row(24, 300))
    assert TimeTable(rows, "drawn", 599).bounds_at(24)[0] == pytest.approx(0.5)
    with pytest.raises(ValueError, match="does not fit"):
        TimeTable(rows, "drawn", 600)
