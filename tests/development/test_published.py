"""The laws against every published row that could be found."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import pytest

from wetside.development.law import ten_degree_ratio


def test_every_row_of_every_publication_comes_back(residuals: ModuleType, facts: Path) -> None:
    """All rows, doubtful or not, are given by the law of their own table as printed."""
    everything = residuals.read_series(facts)
    lines = [line for series in everything for line in residuals.lines_of(series)]
    assert len(lines) >= 122
    assert [line.row.seconds for line in lines] == pytest.approx(
        [line.from_table for line in lines], abs=1e-6
    )


def test_a_row_left_out_is_found_within_the_rounding(residuals: ModuleType, facts: Path) -> None:
    """Each inner row agrees with the table without it, to what the rounding of both implies.

    Sources: state rules chart, intraoral sheet, T.O. 33B-1-1, and the rows of Kodak F-32 that
    carry no note.
    """
    judged = [
        (series.publication, line.row, line.within_without(series.rounding_seconds / 2))
        for series in residuals.read_series(facts)
        if series.trusted
        for line in residuals.lines_of(series)
        if line.without_row is not None
    ]
    assert len(judged) >= 50
    assert [entry for entry in judged if not entry[2]] == []


@pytest.mark.parametrize(
    ("publication", "what", "span", "coefficient"),
    [
        ("N. Dakota Adm. Code 33.1-10-06 App. D", "general chart", (15.56, 26.67), 3.8),
        ("Intraoral film maker's processing guidelines", "general chart", (20, 26.67), 2.9),
        ("USAF T.O. 33B-1-1, table 6-16", "normal", (17.22, 26.67), 1.9),
        ("USAF T.O. 33B-1-1, table 6-16", "maximum", (17.22, 26.67), 1.5),
    ],
)
def test_coefficient_of_ten_degrees_of_whole_tables(
    residuals: ModuleType,
    facts: Path,
    publication: str,
    what: str,
    span: tuple[float, float],
    coefficient: float,
) -> None:
    """The fitted law gives the coefficient that was worked out apart from this code, to 0.1."""
    series = next(
        one
        for one in residuals.read_series(facts)
        if (one.publication, one.what) == (publication, what)
    )
    assert ten_degree_ratio(series.fitted, *span) == pytest.approx(coefficient, abs=0.1)


def test_one_coefficient_does_not_serve_all(residuals: ModuleType, facts: Path) -> None:
    """Published tables disagree about ten degrees by more than a factor of two."""
    ratios = [
        ten_degree_ratio(series.fitted, 18, 24)
        for series in residuals.read_series(facts)
        if series.trusted
    ]
    assert max(ratios) / min(ratios) > 2


def test_the_page_shows_these_rows(residuals: ModuleType, facts: Path) -> None:
    """docs/development.md carries the rows that the laws give today."""
    page = residuals.PAGE.read_text(encoding="utf-8")
    assert page == residuals.replaced(page, residuals.read_series(facts))
