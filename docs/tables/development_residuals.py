"""Every published row of developing times against what the laws give, as a table of Markdown.

Reads ``tt_*.csv`` of the facts folder beside the project (``WETSIDE_FACTS`` names another place)
and replaces the part of docs/development.md between the two marks.

    python docs/tables/development_residuals.py          # write the page
    python docs/tables/development_residuals.py --check  # exit 1 if the page would change
"""

from __future__ import annotations

import csv
import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from wetside.development.coefficient import Arrhenius, fit_arrhenius
from wetside.development.law import Row, TimeTable, ten_degree_ratio
from wetside.units import celsius_to_fahrenheit, clock_text, fahrenheit_to_celsius

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "development.md"
BEGIN = "<!-- rows: written by docs/tables/development_residuals.py -->\n"
END = "<!-- rows: end -->\n"

#: Short names of the publications, by file of the facts folder.
PUBLICATIONS = {
    "tt_us_state_radiation_rules_1F": "N. Dakota Adm. Code 33.1-10-06 App. D",
    "tt_intraoral_film_sheet": "Intraoral film maker's processing guidelines",
    "tt_to_33b_1_1_table_6_16": "USAF T.O. 33B-1-1, table 6-16",
    "tt_kodak_f32_rotary_rolls": "Kodak F-32, rotary tube",
    "tt_from_memory": "",
}

#: What the films of a publication are, in the order in which it has them; others keep their words.
FILMS = {
    "Kodak F-32, rotary tube": ("100-speed film", "400-speed film"),
    "Kodak F-4017 (2007/2016)": ("400-speed film, small tank",),
}


@dataclass(frozen=True, slots=True)
class Series:
    """The rows of one film with one developer in one publication."""

    publication: str
    what: str
    rows: tuple[Row, ...]
    rounding_seconds: float
    note: str
    from_memory: bool

    @property
    def table(self) -> TimeTable:
        """The series as a law."""
        return TimeTable(self.rows, f"{self.publication}, {self.what}", self.rounding_seconds)

    @property
    def fitted(self) -> Arrhenius:
        """The one Arrhenius law nearest to the series, at 20 degC."""
        return fit_arrhenius(self.rows, 20.0, f"fit to {self.publication}")

    @property
    def trusted(self) -> bool:
        """Read in the publication and not doubtful."""
        return not self.note and not self.from_memory


@dataclass(frozen=True, slots=True)
class Line:
    """One published row with what three uses of the laws give for it."""

    row: Row
    from_table: float
    low: float
    high: float
    without_row: float | None
    without_low: float
    without_high: float
    from_fit: float

    def within_without(self, half: float) -> bool | None:
        """Whether the rounded print agrees with the table that lacks this row."""
        if self.without_row is None:
            return None
        return self.without_low - half <= self.row.seconds <= self.without_high + half


def facts_folder() -> Path:
    """Where the published tables are kept."""
    told = os.environ.get("WETSIDE_FACTS")
    return Path(told) if told else ROOT.parent / "shared" / "facts"


def _groups(path: Path) -> Iterator[tuple[dict[str, str], str, float]]:
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line[:1] != "#"]
    for record in csv.DictReader(lines):
        for column in ("minutes", "minutes_normal", "minutes_maximum"):
            if record.get(column):
                yield record, column, float(record[column])


def _celsius(record: dict[str, str]) -> float:
    # Whole Fahrenheit degrees are what US publications state; their Celsius column is rounded.
    if record.get("temp_f"):
        return fahrenheit_to_celsius(float(record["temp_f"]))
    return float(record["temp_c"])


def _what(record: dict[str, str], column: str, films: dict[str, str], known: Iterator[str]) -> str:
    """Film, developer and format of a row; ``films`` are those of its publication so far."""
    told = record.get("film") or record.get("film_or_use") or ""
    film = films.setdefault(told, next(known, told))
    what = [film, record.get("developer", ""), record.get("format", "")]
    if column != "minutes":
        what.append(column.removeprefix("minutes_"))
    return ", ".join(filter(None, what))


def read_series(folder: Path) -> list[Series]:
    """All published series, in order of file and row."""
    found: dict[tuple[str, ...], list[tuple[Row, dict[str, str]]]] = {}
    met: dict[str, dict[str, str]] = {}
    for path in sorted((folder / "tables").glob("tt_*.csv")):
        for record, column, minutes in _groups(path):
            publication = record.get("publication") or PUBLICATIONS[path.stem]
            films = met.setdefault(publication, {})
            known = iter(FILMS.get(publication, ())[len(films) :])
            key = (path.stem, publication, _what(record, column, films, known))
            found.setdefault(key, []).append((Row(_celsius(record), minutes * 60.0), record))
    series = []
    for (stem, publication, name), members in found.items():
        rows = tuple(sorted(row for row, _ in members))
        halves = all(row.seconds % 30.0 == 0.0 for row in rows)
        series.append(
            Series(
                publication,
                name or "general chart",
                rows,
                30.0 if halves else 15.0,
                members[0][1].get("note", ""),
                stem == "tt_from_memory",
            )
        )
    return series


def lines_of(series: Series) -> list[Line]:
    """The law's answers for every row of a series."""
    lines = []
    for index, row in enumerate(series.rows):
        low, high = series.table.bounds_at(row.celsius)
        without, without_low, without_high = None, 0.0, 0.0
        if 0 < index < len(series.rows) - 1:
            others = series.rows[:index] + series.rows[index + 1 :]
            rest = TimeTable(others, series.publication, series.rounding_seconds)
            without = rest.seconds_at(row.celsius)
            without_low, without_high = rest.bounds_at(row.celsius)
        lines.append(
            Line(
                row,
                series.table.seconds_at(row.celsius),
                low,
                high,
                without,
                without_low,
                without_high,
                series.fitted.seconds_at(row.celsius),
            )
        )
    return lines


def _percent(found: float, printed: float) -> str:
    return f"{100.0 * (found / printed - 1.0):+.1f} %"


def _markdown(series: Series) -> Iterator[str]:
    ratio = ten_degree_ratio(series.fitted, 15.0, 25.0)
    mark = "from memory" if series.from_memory else "read"
    note = f"; {series.note}" if series.note else ""
    yield f"**{series.publication}: {series.what}** ({mark}{note}). "
    yield (
        f"Printed to {series.rounding_seconds:g} s; the fitted law changes "
        f"{ratio:.2f} times in ten degrees.\n\n"
    )
    yield "| degF | degC | printed | table law | allowed | without this row | | fitted law | |\n"
    yield "|---|---|---|---|---|---|---|---|---|\n"
    half = series.rounding_seconds / 2.0
    for line in lines_of(series):
        printed = line.row.seconds
        without = "end row"
        agrees = ""
        if line.without_row is not None:
            inside = line.within_without(half)
            without = f"{clock_text(line.without_row)} {_percent(line.without_row, printed)}"
            agrees = "" if inside else "outside rounding"
        fit_inside = abs(line.from_fit - printed) <= half
        yield (
            f"| {celsius_to_fahrenheit(line.row.celsius):.1f} | {line.row.celsius:.2f} "
            f"| {clock_text(printed)} | {clock_text(line.from_table)} "
            f"| {clock_text(line.low)}-{clock_text(line.high)} "
            f"| {without} | {agrees} | {clock_text(line.from_fit)} "
            f"{_percent(line.from_fit, printed)} | {'' if fit_inside else 'outside rounding'} |\n"
        )
    yield "\n"


def _summary(everything: list[Series]) -> Iterator[str]:
    yield "| series | rows | worst table residual | rows inside rounding when left out "
    yield "| rows inside rounding of the fit | worst of the fit |\n|---|---|---|---|---|---|\n"
    for series in everything:
        half = series.rounding_seconds / 2.0
        lines = lines_of(series)
        judged = [line.within_without(half) for line in lines]
        inner = [verdict for verdict in judged if verdict is not None]
        fits = [abs(line.from_fit - line.row.seconds) <= half for line in lines]
        table = max(abs(line.from_table - line.row.seconds) for line in lines)
        worst = max((line.from_fit / line.row.seconds - 1.0 for line in lines), key=abs)
        marks = " (from memory)" if series.from_memory else " (doubtful)" if series.note else ""
        yield (
            f"| {series.publication}: {series.what}{marks} | {len(lines)} | {table:.1f} s "
            f"| {sum(inner)} of {len(inner)} | {sum(fits)} of {len(fits)} "
            f"| {100 * worst:+.1f} % |\n"
        )
    yield "\n"


def written(everything: list[Series]) -> str:
    """The part of the page between the marks."""
    parts = ["\n", *_summary(everything)]
    for series in everything:
        parts.extend(_markdown(series))
    return "".join(parts)


def replaced(page: str, everything: list[Series]) -> str:
    """The page with fresh rows."""
    head, rest = page.split(BEGIN, 1)
    tail = rest.split(END, 1)[1]
    return f"{head}{BEGIN}{written(everything)}{END}{tail}"


def main() -> int:
    """Write or check the page."""
    page = PAGE.read_text(encoding="utf-8")
    fresh = replaced(page, read_series(facts_folder()))
    if "--check" in sys.argv[1:]:
        return 0 if fresh == page else 1
    PAGE.write_text(fresh, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
