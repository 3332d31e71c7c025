"""The benchmark's scores against hand-worked numbers and closed forms."""

from __future__ import annotations

import math

import pytest
from forecast import metrics, score
from forecast.simple import Forecast
from scipy.stats import norm

from wetside.outlook import Quantiles


@pytest.mark.parametrize(
    ("p50", "remaining", "expected"),
    [
        (90.0, 100.0, 0.1),
        (130.0, 100.0, 0.3),
        (1000.0, 100.0, 3.0),
        (None, 100.0, 3.0),
        (0.0, 7.0, 1.0),
    ],
)
def test_relative_error_is_capped_at_three(
    p50: float | None, remaining: float, expected: float
) -> None:
    """|p50 - truth| / remaining by hand; far off and missing both score 3."""
    assert expected == pytest.approx(metrics.relative_error(p50, remaining))


@pytest.mark.parametrize(
    ("quantiles", "truth", "expected"),
    [
        (Quantiles(10.0, 20.0, 30.0), 10.0, True),
        (Quantiles(10.0, 20.0, 30.0), 30.5, False),
        (Quantiles(10.0, 20.0, None), 3000.0, True),
        (Quantiles(10.0, 20.0, None), None, True),
        (Quantiles(10.0, 20.0, 30.0), None, False),
        (Quantiles(None, None, None), 50.0, False),
    ],
)
def test_coverage_reads_none_as_never(
    quantiles: Quantiles, truth: float | None, expected: bool
) -> None:
    """An upper end of None holds every later truth and never itself; a lower end of None none."""
    assert expected is metrics.covered(quantiles, truth)


def test_width_puts_none_at_the_horizon() -> None:
    """(p95 - p05) / remaining by hand, capped at 3."""
    assert pytest.approx(0.4) == metrics.relative_width(Quantiles(80.0, 95.0, 120.0), 100.0)
    assert pytest.approx(1.75) == metrics.relative_width(Quantiles(100.0, 900.0, None), 2000.0)
    assert pytest.approx(3.0) == metrics.relative_width(Quantiles(100.0, 900.0, None), 100.0)


def test_crps_of_a_point_is_the_absolute_error() -> None:
    """A forecast without spread scores its distance (Gneiting and Raftery 2007, sec. 4.2)."""
    assert pytest.approx(25.0) == metrics.crps(Quantiles(100.0, 100.0, 100.0), 125.0)
    assert pytest.approx(3500.0) == metrics.crps(Quantiles(None, None, None), 100.0)


def test_quantile_function_meets_the_three_quantiles() -> None:
    """At 5, 50 and 95 % it gives back what was said, None at 3600 s, and nothing before now."""
    said = Quantiles(10.0, 100.0, None)
    levels = [metrics.quantile_function(said, p) for p in (0.001, 0.05, 0.5, 0.95, 0.999)]
    assert levels == pytest.approx([0.0, 10.0, 100.0, 3600.0, 3600.0])


@pytest.mark.parametrize("z", [-2.0, -0.5, 0.0, 1.0, 3.0])
def test_crps_is_near_that_of_a_normal(z: float) -> None:
    """From the three quantiles of a normal the closed form is met within half a percent.

    s [z (2 Phi(z) - 1) + 2 phi(z) - 1/sqrt(pi)], Gneiting and Raftery 2007, eq. 21's companion;
    the same that the package properscoring computes as crps_gaussian.
    """
    closed = 50.0 * (z * (2 * norm.cdf(z) - 1) + 2 * norm.pdf(z) - 1 / math.sqrt(math.pi))
    half = 1.6449 * 50.0
    found = metrics.crps(Quantiles(1000 - half, 1000.0, 1000 + half), 1000 + 50.0 * z)
    assert closed == pytest.approx(found, rel=5e-3)


def test_brier_by_hand() -> None:
    """(0.1^2 + 0.3^2) / 2 = 0.05."""
    assert pytest.approx(0.05) == metrics.brier([(0.1, False), (0.7, True)])


def test_reliability_counts_each_answer_once() -> None:
    """Every probability from 0 to 1 falls into one bin with its share that happened."""
    pairs = [(0.0, False), (0.05, True), (0.5, False), (0.79, True), (0.95, True), (1.0, True)]
    rows = metrics.reliability(pairs)
    assert [1, 1, 0, 2, 0, 2] == [n for *_, n in rows]
    assert rows[3][1:3] == pytest.approx((0.645, 0.5))


def _record(method: str, truth: float | None, said: Quantiles, never: float) -> score.Record:
    return score.record(
        (1, "developer", None, "25"), method, truth, 400.0, Forecast(said, never, said)
    )


def test_line_by_hand() -> None:
    """Two arrivals and a never: errors 0.1 and 3, half covered, a false and a missed never."""
    line = score.line(
        [
            _record("m", 100.0, Quantiles(80.0, 90.0, 110.0), 0.0),
            _record("m", 200.0, Quantiles(None, None, None), 0.9),
            _record("m", None, Quantiles(100.0, 200.0, 300.0), 0.2),
        ]
    )
    assert line.errors["25"] == pytest.approx(1.55)
    assert line.coverage == pytest.approx(0.5)
    assert line.width == pytest.approx(0.15)
    assert line.false_never == pytest.approx(0.5)
    assert line.missed_never == pytest.approx(1.0)
    assert line.brier == pytest.approx((0.0 + 0.81 + 0.64) / 3)
    assert line.leaves_error == pytest.approx((310 / 400 + 3.0) / 2)
    assert "developer" in score.table([line], ["25"])


def test_no_answer_counts_as_a_sure_never() -> None:
    """A method that stays silent gets error 3 and never = 1."""
    row = score.record((1, "dip", None, "25"), "m", 100.0, None, None)
    assert row.never == pytest.approx(1.0)
    assert score.line([row]).errors["25"] == pytest.approx(3.0)
