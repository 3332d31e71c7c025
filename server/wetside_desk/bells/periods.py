"""The period of each run, out of the bell table and the moment at which the run began."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

from wetside import tomlfile
from wetside.development.bells import Bells
from wetside.errors import BellsError, JournalUnavailable
from wetside.journal.reader import Reader
from wetside.journal.schema import RunRow
from wetside_desk import formats
from wetside_desk.files import papers
from wetside_desk.store import periods
from wetside_desk.store.database import Database
from wetside_desk.store.periods import RunPeriod

#: Tempering may begin before the bell: a run so shortly before a period belongs to it.
EARLY = timedelta(minutes=10)

#: Runs that one look reads, at most; the next look goes on behind them.
AT_ONCE = 500


def period_at(table: Bells, began: datetime) -> str:
    """Name of the period of a run that began then, in local time; empty where there is none."""
    for period in table.on(began.date()):
        starts = datetime.combine(began.date(), period.starts)
        if starts - EARLY <= began < datetime.combine(began.date(), period.ends):
            return period.name
    return ""


class PeriodKeeper:
    """Gives runs their periods; may be called from any thread.

    Parameters
    ----------
    reader, database
        The journal, and where periods are kept.
    file
        The bell table.
    """

    def __init__(self, reader: Reader, database: Database, file: Path) -> None:
        self._reader = reader
        self._database = database
        self._file = file
        self._guard = threading.Lock()
        self._doing = ""
        self._behind: str | None = None
        self._parsed: tuple[str, Bells] | None = None

    def of_rows(self, rows: Sequence[RunRow]) -> dict[str, RunPeriod]:
        """The periods of these runs, read from the bells where nobody did yet.

        What cannot be kept now, on a full disk say, is given all the same.
        """
        found, tag = self._found(rows)
        with suppress(JournalUnavailable):
            self._keep(found, tag)
        read = {run: RunPeriod(name) for run, name in found.items() if name}
        return {**read, **periods.of_runs(self._database, [row.id for row in rows])}

    def look(self) -> None:
        """Give the latest runs their periods, and a part of the others, so that searches find them.

        Raises
        ------
        JournalError
            The journal cannot be read now.
        """
        with self._guard:
            found = self._table()
            if found is None:
                return
            if found[1] != self._doing:  # another table: once through the whole journal
                self._doing, self._behind = found[1], ""
            self._keep(*self._found(self._reader.latest()))
            if self._behind is not None:
                page = self._reader.runs(after=self._behind or None, limit=AT_ONCE)
                self._keep(*self._found(page.rows))
                self._behind = page.after

    def _table(self) -> tuple[Bells, str] | None:
        """The bell table and its tag; None where there is none that can be read."""
        if not self._file.exists():
            return None
        try:
            text = tomlfile.read_text(self._file, BellsError)
            parsed = self._parsed
            if parsed is None or parsed[0] != text:
                parsed = self._parsed = (text, papers.parse_bells(text, self._file.name))
        except BellsError:
            return None  # the page of the bells says what is wrong
        return parsed[1], papers.tag_of(text)

    def _found(self, rows: Sequence[RunRow]) -> tuple[dict[str, str], str]:
        """What the bells say of runs that are not settled, and the tag of the table."""
        known = [row for row in rows if row.began.trusted]
        if not known or (there := self._table()) is None:
            return {}, ""
        table, tag = there
        done = periods.settled(self._database, [row.id for row in known], tag)
        found = {
            row.id: period_at(table, formats.local(row.began.wall_seconds).replace(tzinfo=None))
            for row in known
            if row.id not in done
        }
        return found, tag

    def _keep(self, found: dict[str, str], tag: str) -> None:
        if found:
            periods.keep(self._database, found, tag)
