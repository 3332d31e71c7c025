"""How a filter of runs becomes SQL that an index answers, page by page."""

from __future__ import annotations

import json
import re

from wetside.journal.schema import LATE, RunFilter

_CURSOR = re.compile(r"^(-?\d{1,18})\.(\d{1,18})$")


def cursor_of(listed_ms: int, number: int) -> str:
    """The place behind a run in the list, as text that goes into a link."""
    return f"{listed_ms}.{number}"


def place_of(cursor: str) -> tuple[int, int]:
    """What `cursor_of` was given.

    Raises
    ------
    ValueError
        The text is no place in a list of runs.
    """
    match = _CURSOR.match(cursor)
    if match is None:
        raise ValueError(f"{cursor!r} is not a place in the list of runs; take the one of a page")
    return int(match[1]), int(match[2])


def select_runs(
    which: RunFilter, after: str | None, joins: str
) -> tuple[str, tuple[str | int, ...]]:
    """FROM, WHERE and ORDER BY for the runs of a filter, and the values for its marks.

    Rows come latest first, and those behind ``after`` only. A flag is answered from its own
    table, everything else from the indexes of ``run``.

    Raises
    ------
    ValueError
        ``after`` is no place in a list of runs.
    """
    if which.flag is None:
        tables, time, number = "run", "run.listed_ms", "run.number"
    else:
        tables = "run_flag CROSS JOIN run ON run.number = run_flag.run"
        time, number = "run_flag.listed_ms", "run_flag.run"
    terms: list[str] = []
    values: list[str | int] = []

    def add(term: str, *given: str | int) -> None:
        terms.append(term)
        values.extend(given)

    for term, wanted in (
        ("run_flag.flag = ?", which.flag),
        ("run.state = ?", which.state),
        ("run.sheet_name = ?", which.sheet_name),
        ("run.station = (SELECT number FROM station WHERE name = ?)", which.station),
    ):
        if wanted is not None:
            add(term, wanted)
    if which.window_hit is not None:
        add("run.window_hit = ?", int(which.window_hit))
    if which.since is not None:
        add(f"{time} >= ?", round(which.since * 1000))
    if which.before is not None:
        add(f"{time} < ?", round(which.before * 1000))
    if which.ids is not None:
        add("run.id IN (SELECT value FROM json_each(?))", json.dumps(list(which.ids)))
    if which.late:
        add("instr(run.flags, ?)", f'"{LATE}')  # flags are a JSON list
    if after is not None:
        add(f"({time}, {number}) < (?, ?)", *place_of(after))
    where = f"WHERE {' AND '.join(terms)}" if terms else ""
    order = f"ORDER BY {time} DESC, {number} DESC"
    return f"FROM {tables} {joins} {where} {order}", tuple(values)
