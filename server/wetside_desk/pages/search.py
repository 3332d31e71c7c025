"""What a teacher may ask the list of runs for, and the runs that answer it."""

from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Annotated
from urllib.parse import urlencode

from fastapi import Depends, Query

from wetside.journal.schema import LATE, RunFilter
from wetside.units import day_text
from wetside_desk import formats
from wetside_desk.pages import words
from wetside_desk.problems import ProblemError
from wetside_desk.store import labels, notes, periods
from wetside_desk.store.database import Database
from wetside_desk.store.notes import NOT_GOOD

Text = Annotated[str, Query(max_length=64)]


@dataclass(frozen=True, slots=True)
class Search:
    """The fields of the form; an empty one does not limit."""

    day: str = ""
    until: str = ""
    sheet: str = ""
    state: str = ""
    flag: str = ""
    outcome: str = ""
    label: str = ""
    period: str = ""
    text: str = ""

    @property
    def empty(self) -> bool:
        """Whether nothing is asked for."""
        return not self.fields()

    def fields(self) -> list[tuple[str, str]]:
        """Names and texts of the fields that limit."""
        return [(name, text) for name, text in asdict(self).items() if text]

    def narrowed(self, **fields: str) -> "Search":
        """The search with other fields in it; days only draw its own days closer together."""
        first, last = fields.pop("day", ""), fields.pop("until", "")
        closer = {
            "day": max(self.day, first),
            "until": min(filter(None, (self.until, last)), default=""),
        }
        return replace(self, **closer, **fields)

    def query(self, **more: str) -> str:
        """As the query of an address."""
        return urlencode({name: value for name, value in {**asdict(self), **more}.items() if value})


def search_of(
    day: Text = "",
    until: Text = "",
    sheet: Text = "",
    state: Text = "",
    flag: Text = "",
    outcome: Text = "",
    label: Text = "",
    period: Text = "",
    text: Text = "",
) -> Search:
    """The search in an address."""
    return Search(day, until, sheet, state, flag, outcome, label, period, text)


Asked = Annotated[Search, Depends(search_of)]


def said(search: Search) -> str:
    """The search in words, for paper, where the form is left out."""
    parts = {
        "day": f"from {_day_text(search.day)}",
        "until": f"to {_day_text(search.until)}",
        "sheet": f"sheet {search.sheet}",
        "state": words.state(search.state).lower(),
        "flag": "any step left too long" if search.flag == LATE else words.flag(search.flag),
        "outcome": "any but good" if search.outcome == NOT_GOOD else search.outcome,
        "label": f"label {search.label}",
        "period": f"period {search.period}",
        "text": f"“{search.text}” in the note",
    }
    return "Looked for: " + ", ".join(parts[name] for name, _ in search.fields())


def _day_text(day: str) -> str:
    return day_text(date.fromisoformat(day)) if day else ""


def bounds(day: str, until: str) -> tuple[float | None, float | None]:
    """Unix seconds of the begin of ``day`` and the end of ``until``; an empty one is no bound.

    Raises
    ------
    ProblemError
        Not days.
    """
    try:
        since = formats.day_bounds(date.fromisoformat(day))[0] if day else None
        before = formats.day_bounds(date.fromisoformat(until))[1] if until else None
    except ValueError as error:
        given = " ".join(part for part in (day, until) if part)
        raise ProblemError(
            "invalid-request", f"{given!r} is no date, such as 2026-11-25."
        ) from error
    return since, before


def as_filter(search: Search, database: Database) -> RunFilter:
    """The journal's filter for a search; what only the desk knows becomes a set of ids."""
    ids: set[str] | None = None
    if search.outcome or search.text:
        ids = set(notes.runs_with(database, search.outcome or None, search.text or None))
    if search.label:
        found = set(labels.runs_with(database, search.label))
        ids = found if ids is None else ids & found
    if search.period:
        found = set(periods.runs_in(database, search.period))
        ids = found if ids is None else ids & found
    since, before = bounds(search.day, search.until)
    return RunFilter(
        state=search.state or None,
        sheet_name=search.sheet or None,
        flag=None if search.flag == LATE else search.flag or None,
        late=search.flag == LATE,
        since=since,
        before=before,
        ids=None if ids is None else tuple(sorted(ids)),
    )
