"""Rows of the tables as values: the SELECTs that several of the reader's methods share."""

from __future__ import annotations

import json
import sqlite3
from typing import Any

from wetside.clock import Moment
from wetside.journal import codec
from wetside.journal.schema import EventRow, RunRow

#: Above every sequence number.
NO_END = 2**62

RUN = """
    SELECT run.id, station.name, sheet_name, sheet_title,
           began_ms, began_wall_ms, began_trusted, began.id,
           state, ended_ms, ended_wall_ms, ended_trusted, ended.id,
           window_hit, flags, target_mc, tolerance_mc, poured_mc,
           planned_develop_ms, actual_develop_ms, run.listed_ms, run.number
"""
# CROSS keeps SQLite from starting at the small tables, which would lose the order of the index
RUN_JOINS = """
    CROSS JOIN station ON station.number = run.station
    CROSS JOIN boot AS began ON began.number = run.began_boot
    LEFT JOIN boot AS ended ON ended.number = run.ended_boot
"""
EVENT = """
    SELECT station.name, event.seq, event.ms, event.wall_ms, event.trusted, boot.id,
           run.id, event.kind, event.detail
    FROM event
    CROSS JOIN station ON station.number = event.station
    CROSS JOIN boot ON boot.number = event.boot
    LEFT JOIN run ON run.number = event.run
"""
EVENT_OF_STATION = f"{EVENT} WHERE event.station = (SELECT number FROM station WHERE name = ?)"  # noqa: S608  # text from above


def _moment(ms: int | None, wall_ms: int, trusted: int, boot: str) -> Moment | None:
    return None if ms is None else codec.moment_of(ms, wall_ms, trusted, boot)


def run_row(cells: tuple[Any, ...]) -> RunRow:
    """A run from a row of `RUN`."""
    return RunRow(
        id=cells[0],
        station=cells[1],
        sheet_name=cells[2],
        sheet_title=cells[3],
        began=codec.moment_of(*cells[4:8]),
        state=cells[8],
        ended=_moment(*cells[9:13]),
        window_hit=None if cells[13] is None else bool(cells[13]),
        flags=tuple(json.loads(cells[14])),
        target_celsius=codec.unmilli(cells[15]),
        tolerance_celsius=codec.unmilli(cells[16]),
        poured_celsius=codec.unmilli(cells[17]),
        planned_develop_seconds=codec.unmilli(cells[18]),
        actual_develop_seconds=codec.unmilli(cells[19]),
        listed_wall_seconds=cells[20] / 1000,
    )


def event_row(cells: tuple[Any, ...]) -> EventRow:
    """An event from a row of `EVENT`."""
    return EventRow(
        station=cells[0],
        seq=cells[1],
        moment=codec.moment_of(*cells[2:6]),
        run=cells[6],
        kind=cells[7],
        detail=codec.detail_of(cells[8]),
    )


def events_of(connection: sqlite3.Connection, run: str) -> tuple[EventRow, ...]:
    """All events of a run by sequence number; none for an unknown run."""
    found = connection.execute(
        "SELECT station, number, first_seq, ifnull(last_seq, ?) FROM run WHERE id = ?",
        (NO_END, run),
    ).fetchone()
    if found is None:
        return ()
    station, number, first, last = found
    return tuple(
        event_row(cells)
        for cells in connection.execute(
            f"{EVENT} WHERE event.station = ? AND event.seq BETWEEN ? AND ? "
            "AND event.run = ? ORDER BY event.seq",
            (station, first, last, number),
        )
    )


def last_moments(connection: sqlite3.Connection, station: str, limit: int) -> tuple[Moment, ...]:
    """The last moment of each of the latest boots, latest boot first."""
    boots = connection.execute(
        "SELECT boot.number, boot.station, boot.id, boot.first_seq FROM boot "
        "JOIN station ON station.number = boot.station WHERE station.name = ? "
        "ORDER BY boot.number DESC",
        (station,),
    ).fetchall()
    moments: list[Moment] = []
    ends: dict[int, int] = {}
    for number, at, boot, first in boots:
        if len(moments) == limit:
            break
        end = ends.get(at, NO_END)
        found = connection.execute(
            "SELECT ms, wall_ms, trusted FROM ("
            "SELECT * FROM (SELECT seq, ms, wall_ms, trusted FROM event WHERE station = ?1 "
            "AND seq >= ?2 AND seq < ?3 AND boot = ?4 ORDER BY seq DESC LIMIT 1) UNION ALL "
            "SELECT * FROM (SELECT seq, ms, wall_ms, trusted FROM batch WHERE station = ?1 "
            "AND seq >= ?2 AND seq < ?3 AND boot = ?4 ORDER BY seq DESC LIMIT 1)"
            ") ORDER BY seq DESC LIMIT 1",
            (at, first, end, number),
        ).fetchone()
        if found is not None:
            moments.append(codec.moment_of(found[0], found[1], found[2], boot))
            ends[at] = first
    return tuple(moments)
