"""Reading a journal while it is written, or after. Nothing here can change it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from wetside.journal import codec
from wetside.journal.closing import Closing
from wetside.journal.query import cursor_of, select_runs
from wetside.journal.readonly import Readers
from wetside.journal.rows import (
    EVENT_OF_STATION,
    NO_END,
    RUN,
    RUN_JOINS,
    event_row,
    events_of,
    last_moments,
    run_row,
)
from wetside.journal.schema import (
    EventRow,
    Forecast,
    Health,
    OpenRun,
    RunFilter,
    RunPage,
    RunRow,
    Sample,
)

#: Longest page of a list.
LONGEST_PAGE = 500

_BATCHES_AT_ONCE = 200  # of ten seconds each: half an hour in one read transaction
_NO_FILTER = RunFilter()
_BOOTS_LOOKED_AT = 50  # starts since an open run was left, before its end counts as unknown


class Reader(Closing):
    """Reads a journal.

    May be used from several threads at once. Each method is one read transaction that ends
    before it returns; the iterators read half an hour of a run at a time and hold nothing
    between.

    Parameters
    ----------
    path
        The file. It need not exist yet: each method then raises `JournalMissing`.

    Raises
    ------
    JournalMissing
        By every method: no journal yet.
    JournalUnavailable
        By every method: busy, or not to be read now.
    JournalError
        By every method: damaged, of a newer wetside, or of another program.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._readers = Readers(path)

    def runs(
        self, which: RunFilter = _NO_FILTER, after: str | None = None, limit: int = 50
    ) -> RunPage:
        """One page of runs, latest first.

        Parameters
        ----------
        which
            Which runs.
        after
            ``RunPage.after`` of the page before; None = the first page.
        limit
            Rows a page, 1 to `LONGEST_PAGE`.

        Raises
        ------
        ValueError
            ``after`` is not what a page gave, or ``limit`` is out of range.
        """
        if not 1 <= limit <= LONGEST_PAGE:
            raise ValueError(f"a page has 1 to {LONGEST_PAGE} runs, not {limit}")
        text, values = select_runs(which, after, RUN_JOINS)
        with self._readers.lend() as connection:
            found = connection.execute(f"{RUN} {text} LIMIT ?", (*values, limit + 1)).fetchall()
        rows = tuple(run_row(cells) for cells in found[:limit])
        more = len(found) > limit
        return RunPage(
            rows, cursor_of(found[limit - 1][20], found[limit - 1][21]) if more else None
        )

    def latest(self, limit: int = 50, skip: int = 0) -> tuple[RunRow, ...]:
        """Runs in the order in which they were begun, the last one first, whatever a clock said."""
        with self._readers.lend() as connection:
            found = connection.execute(
                f"{RUN} FROM run {RUN_JOINS} ORDER BY run.number DESC LIMIT ? OFFSET ?",
                (limit, skip),
            ).fetchall()
        return tuple(run_row(cells) for cells in found)

    def run(self, run: str) -> RunRow | None:
        """The digest of one run, None = there is no such run."""
        with self._readers.lend() as connection:
            found = connection.execute(
                f"{RUN} FROM run {RUN_JOINS} WHERE run.id = ?", (run,)
            ).fetchone()
        return None if found is None else run_row(found)

    def events(self, run: str) -> tuple[EventRow, ...]:
        """All events of one run in the order of their writing; none for an unknown run."""
        with self._readers.lend() as connection:
            return events_of(connection, run)

    def latest_events(self, station: str, limit: int = 100) -> tuple[EventRow, ...]:
        """Events of a station, of runs and of none, latest first."""
        with self._readers.lend() as connection:
            found = connection.execute(
                EVENT_OF_STATION + " ORDER BY event.seq DESC LIMIT ?", (station, limit)
            ).fetchall()
        return tuple(event_row(cells) for cells in found)

    def samples(self, run: str) -> Iterator[Sample]:
        """All samples of one run, in the order in which the station took them."""
        for cells in self._of_batches(
            run,
            "b.ms + s.offset_ms, b.wall_ms + s.offset_ms, b.trusted, boot.id, "
            "probe.name, s.place, s.condition, s.millicelsius",
            "CROSS JOIN sample AS s ON s.station = b.station AND s.seq = b.seq "
            "JOIN probe ON probe.number = s.probe",
        ):
            yield Sample(
                codec.moment_of(*cells[:4]),
                cells[4],
                codec.PLACES[cells[5]],
                codec.unmilli(cells[7]),
                codec.CONDITIONS[cells[6]],
            )

    def forecasts(self, run: str) -> Iterator[Forecast]:
        """All outlooks of one run, in the order in which they were made."""
        for cells in self._of_batches(
            run,
            "b.ms + s.offset_ms, b.wall_ms + s.offset_ms, b.trusted, boot.id, "
            "developer_mc, developer_sd_mc, bath_mc, bath_sd_mc, ready_p05_ds, ready_p50_ds, "
            "ready_p95_ds, leaves_p05_ds, leaves_p50_ds, leaves_p95_ds, never_e4, faults",
            "CROSS JOIN forecast AS s ON s.station = b.station AND s.seq = b.seq",
        ):
            moment = codec.moment_of(*cells[:4])
            yield Forecast(moment, codec.outlook_of(moment.seconds, cells[4:15], cells[15]))

    def probes(self) -> tuple[str, ...]:
        """Names of all probes that ever gave a sample, in the order of their first."""
        with self._readers.lend() as connection:
            found = connection.execute("SELECT name FROM probe ORDER BY number").fetchall()
        return tuple(row[0] for row in found)

    def sheets(self) -> tuple[str, ...]:
        """Names of all sheets that runs were made with, sorted."""
        return self._distinct("sheet_name")

    def states(self) -> tuple[str, ...]:
        """States that runs are in, sorted."""
        return self._distinct("state")

    def flags(self) -> tuple[str, ...]:
        """Flags that runs carry, sorted."""
        return self._distinct("flag", "run_flag")

    def open_run(self, station: str | None = None) -> OpenRun | None:
        """The latest run that has not ended, with its events, to take it up again.

        None where there is none; ``station`` limits to one station.
        """
        with self._readers.lend() as connection:
            found = connection.execute(
                f"{RUN} FROM run INDEXED BY run_open {RUN_JOINS} WHERE run.ended_ms IS NULL "
                "AND (?1 IS NULL OR station.name = ?1) ORDER BY run.number DESC LIMIT 1",
                (station,),
            ).fetchone()
            if found is None:
                return None
            row = run_row(found)
            events = events_of(connection, row.id)
            # a later boot may have journaled already, but not about this run
            boot = events[-1].moment.boot if events else row.began.boot
            moments = last_moments(connection, row.station, _BOOTS_LOOKED_AT)
            last = next((moment for moment in moments if moment.boot == boot), row.began)
            return OpenRun(row, events, last)

    def health(self, *, check: bool = False) -> Health:
        """How the journal is; ``check`` reads the whole file for damage, which takes long."""
        problems: tuple[str, ...] | None = None
        with self._readers.lend() as connection:
            one = connection.execute
            stations = [row[0] for row in one("SELECT name FROM station ORDER BY number")]
            runs = one("SELECT count(*) FROM run").fetchone()[0]
            samples = 0
            for row in one("SELECT number FROM station").fetchall():
                batch = one(
                    "SELECT total FROM batch WHERE station = ? ORDER BY seq DESC LIMIT 1", row
                ).fetchone()
                samples += batch[0] if batch else 0
            if check:
                lines = [row[0] for row in one("PRAGMA integrity_check").fetchall()]
                problems = tuple(line for line in lines if line != "ok")
        log = self._path.with_name(self._path.name + "-wal")
        room = os.statvfs(self._path.parent)
        return Health(
            size_bytes=self._path.stat().st_size,
            wal_bytes=log.stat().st_size if log.exists() else 0,
            free_bytes=room.f_bavail * room.f_frsize,
            stations=tuple(stations),
            runs=int(runs),
            samples=samples,
            problems=problems,
        )

    def close(self) -> None:
        """Let the file go; a later call opens it again."""
        self._readers.close()

    def _distinct(self, column: str, table: str = "run") -> tuple[str, ...]:
        # one index seek for each value, where SELECT DISTINCT would walk the whole index
        with self._readers.lend() as connection:
            found = connection.execute(
                f"WITH RECURSIVE v(x) AS (SELECT min({column}) FROM {table} UNION ALL "  # noqa: S608  # names from above
                f"SELECT (SELECT min({column}) FROM {table} WHERE {column} > x) FROM v "
                "WHERE x IS NOT NULL) SELECT x FROM v WHERE x IS NOT NULL AND x <> ''"
            ).fetchall()
        return tuple(row[0] for row in found)

    def _of_batches(self, run: str, columns: str, joins: str) -> Iterator[tuple[Any, ...]]:
        after = -1
        while True:
            with self._readers.lend() as connection:
                seqs = connection.execute(
                    "SELECT b.seq, run.number FROM run CROSS JOIN batch AS b "
                    "ON b.station = run.station AND b.seq > max(?, run.first_seq - 1) "
                    "AND b.seq <= ifnull(run.last_seq, ?) "
                    "WHERE run.id = ? AND b.run = run.number ORDER BY b.seq LIMIT ?",
                    (after, NO_END, run, _BATCHES_AT_ONCE),
                ).fetchall()
                if not seqs:
                    return
                found = connection.execute(
                    f"SELECT {columns} FROM batch AS b {joins} "  # noqa: S608  # columns from above
                    "JOIN boot ON boot.number = b.boot "
                    "WHERE b.station = (SELECT station FROM run WHERE number = ?1) "
                    "AND b.seq BETWEEN ?2 AND ?3 AND b.run = ?1 ORDER BY b.seq, s.nth",
                    (seqs[0][1], seqs[0][0], seqs[-1][0]),
                ).fetchall()
            yield from found
            after = seqs[-1][0]
