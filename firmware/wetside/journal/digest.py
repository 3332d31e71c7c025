"""The statements of the writer, inside whatever transaction it has begun.

It keeps the small numbers that stand for stations, boots, probes and runs, gives out sequence
numbers, and keeps the ``run`` table true: where the rows of a run lie, and under which time
lists show it.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, field

from wetside.clock import Moment
from wetside.journal import codec
from wetside.journal.boots import Boot, Boots
from wetside.journal.codec import ForecastCells, SampleCells
from wetside.journal.schema import RunRow

_RUN_COLUMNS = (
    "sheet_name", "sheet_title", "began_boot", "began_ms", "began_wall_ms", "began_trusted",
    "ended_boot", "ended_ms", "ended_wall_ms", "ended_trusted", "listed_ms", "state",
    "window_hit", "flags", "target_mc", "tolerance_mc", "poured_mc", "planned_develop_ms",
    "actual_develop_ms",
)  # fmt: skip

_MARKS = ", ".join("?" * len(_RUN_COLUMNS))
_CHANGES = ", ".join(f"{name} = excluded.{name}" for name in _RUN_COLUMNS)
_KEEP_RUN = (
    f"INSERT INTO run (id, station, first_seq, {', '.join(_RUN_COLUMNS)}) "  # noqa: S608  # names from above
    f"VALUES (?, ?, ?, {_MARKS}) ON CONFLICT (id) DO UPDATE SET {_CHANGES}"
)

_PLACEHOLDER_STATE = "unknown"


def run_of(row: RunRow, run: str | None, station: str) -> str:
    """The id of the row's run.

    Raises
    ------
    ValueError
        The row is of another station, or ``run`` says another id.
    """
    if row.station != station:
        raise ValueError(f"run {row.id} is of station {row.station}, not {station}")
    if run not in {None, row.id}:
        raise ValueError(f"the event is of run {run}, the row of run {row.id}")
    return row.id


@dataclass(slots=True)
class _Known:
    """What need not be asked of the file again; thrown away when a transaction fails."""

    station: int
    next_seq: int
    total: int
    boots: Boots
    probes: dict[str, int] = field(default_factory=dict)
    runs: dict[str, tuple[int, int | None]] = field(default_factory=dict)  # number, last_seq


class Digest:
    """Writes rows through one connection for one station.

    ``first_seq`` is where the station begins to count if the file does not know it.
    """

    def __init__(self, connection: sqlite3.Connection, station: str, first_seq: int) -> None:
        self._connection = connection
        self._station = station
        self._first_seq = first_seq
        self._known: _Known | None = None

    def forget(self) -> None:
        """Read everything from the file again: what was written has been rolled back."""
        self._known = None

    def event(self, moment: Moment, run: str | None, kind: str, detail: str) -> int:
        """Insert one event and give back its sequence number."""
        boot, number = self._boot(moment), self._run(run, moment)
        seq = self._take_seq(run)
        self._connection.execute(
            "INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (self._now.station, seq, number, boot.number, *codec.times(moment), kind, detail),
        )
        return seq

    def batch(
        self,
        moment: Moment,
        run: str | None,
        samples: Sequence[SampleCells],
        forecasts: Sequence[ForecastCells],
    ) -> None:
        """Insert samples and forecasts under one moment, the moment of the last of them."""
        boot, number = self._boot(moment), self._run(run, moment)
        seq = self._take_seq(run)
        now = self._now
        now.total += len(samples)
        ms, wall_ms, trusted = codec.times(moment)
        self._connection.execute(
            "INSERT INTO batch VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (now.station, seq, number, boot.number, ms, wall_ms, trusted, now.total),
        )
        self._connection.executemany(
            "INSERT INTO sample VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (now.station, seq, nth, at - ms, self._probe(name), *rest)
                for nth, (at, name, *rest) in enumerate(samples)
            ],
        )
        self._connection.executemany(
            "INSERT INTO forecast VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (now.station, seq, nth, int(cells[0] or 0) - ms, *cells[1:])
                for nth, cells in enumerate(forecasts)
            ],
        )

    def keep(self, row: RunRow, moment: Moment) -> None:
        """Insert or replace the digest of a run; its event follows in the same transaction."""
        self._boot(moment)  # may teach us the offset of the row's boot
        boots, next_seq = self._now.boots, self._now.next_seq
        began_boot, *began = boots.mended(row.began, next_seq)
        ended: list[int | None] = [None] * 4
        if row.ended is not None:
            ended = list(boots.mended(row.ended, next_seq))
        listed = began[1]
        if not began[2]:
            listed = max(listed, self._trusted_floor())
        self._close_others(row.id)
        self._connection.execute(
            _KEEP_RUN,
            (
                row.id,
                self._now.station,
                self._now.next_seq,
                row.sheet_name,
                row.sheet_title,
                began_boot,
                *began,
                *ended,
                listed,
                row.state,
                None if row.window_hit is None else int(row.window_hit),
                json.dumps(list(row.flags)),
                codec.milli(row.target_celsius),
                codec.milli(row.tolerance_celsius),
                codec.milli(row.poured_celsius),
                codec.milli(row.planned_develop_seconds),
                codec.milli(row.actual_develop_seconds),
            ),
        )
        self._now.runs.pop(row.id, None)
        number, last_seq = self._find_run(row.id) or (0, None)
        self._connection.execute("DELETE FROM run_flag WHERE run = ?", (number,))
        self._connection.executemany(
            "INSERT OR IGNORE INTO run_flag VALUES (?, ?, ?)",
            [(flag, listed, number) for flag in row.flags],
        )
        if row.ended is not None and last_seq is None:
            self._set_last_seq(row.id, self._now.next_seq)

    @property
    def _now(self) -> _Known:
        if self._known is None:
            self._known = self._read_known()
        return self._known

    def _read_known(self) -> _Known:
        one = self._connection.execute
        found = one(
            "SELECT number, first_seq FROM station WHERE name = ?", (self._station,)
        ).fetchone()
        if found is None:
            cursor = one(
                "INSERT INTO station (name, first_seq) VALUES (?, ?)",
                (self._station, self._first_seq),
            )
            station = int(cursor.lastrowid or 0)
            return _Known(station, self._first_seq, 0, Boots(self._connection, station))
        station, first = found
        event = one("SELECT max(seq) FROM event WHERE station = ?", (station,)).fetchone()[0]
        batch = one(
            "SELECT seq, total FROM batch WHERE station = ? ORDER BY seq DESC LIMIT 1", (station,)
        ).fetchone() or (0, 0)
        next_seq = max(first, (event or 0) + 1, batch[0] + 1)
        return _Known(station, next_seq, batch[1], Boots(self._connection, station))

    def _take_seq(self, run: str | None) -> int:
        """The next sequence number; a run that seemed closed grows to include it."""
        seq = self._now.next_seq
        self._now.next_seq += 1
        if run is not None:
            last_seq = self._now.runs[run][1]
            if last_seq is not None and last_seq < seq:
                self._set_last_seq(run, seq)
        return seq

    def _set_last_seq(self, run: str, seq: int) -> None:
        number, _ = self._now.runs[run]
        self._connection.execute("UPDATE run SET last_seq = ? WHERE number = ?", (seq, number))
        self._now.runs[run] = (number, seq)

    def _close_others(self, run: str) -> None:
        """A new run begins: the rows of those left open are taken to end here."""
        if self._find_run(run) is None:
            self._connection.execute(
                "UPDATE run SET last_seq = ? "
                "WHERE station = ? AND ended_ms IS NULL AND last_seq IS NULL",
                (self._now.next_seq - 1, self._now.station),
            )
            self._now.runs.clear()

    def _find_run(self, run: str) -> tuple[int, int | None] | None:
        if run not in self._now.runs:
            found = self._connection.execute(
                "SELECT number, last_seq FROM run WHERE id = ?", (run,)
            ).fetchone()
            if found is None:
                return None
            self._now.runs[run] = (found[0], found[1])
        return self._now.runs[run]

    def _run(self, run: str | None, moment: Moment) -> int | None:
        """Number of a run; one that nobody described gets a row that says so."""
        if run is None:
            return None
        found = self._find_run(run)
        if found is None:
            self.keep(RunRow(run, self._station, "", "", moment, _PLACEHOLDER_STATE), moment)
            found = self._now.runs[run]
        return found[0]

    def _probe(self, name: str) -> int:
        probes = self._now.probes
        if name not in probes:
            self._connection.execute("INSERT OR IGNORE INTO probe (name) VALUES (?)", (name,))
            found = self._connection.execute(
                "SELECT number FROM probe WHERE name = ?", (name,)
            ).fetchone()
            probes[name] = int(found[0])
        return probes[name]

    def _boot(self, moment: Moment) -> Boot:
        return self._now.boots.at(moment, self._now.next_seq)

    def _trusted_floor(self) -> int:
        """Wall ms of the last run of this station that began by a trusted clock, else 0."""
        found = self._connection.execute(
            "SELECT listed_ms FROM run WHERE station = ? AND began_trusted = 1 "
            "ORDER BY listed_ms DESC LIMIT 1",
            (self._now.station,),
        ).fetchone()
        return 0 if found is None else int(found[0])
