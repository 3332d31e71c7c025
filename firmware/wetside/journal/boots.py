"""Boots, and wall times mended once the clock of a boot is to be trusted.

A Pi without a clock battery starts with a wrong date, and its clock jumps when the network
answers. From then on the difference between wall and monotonic time of that boot is known, and
with it the right wall time of everything that happened before in the same boot.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from wetside.clock import Moment
from wetside.journal import codec


@dataclass(slots=True)
class Boot:
    """``offset_ms`` is wall minus monotonic time, None until the clock was trusted."""

    number: int
    offset_ms: int | None


class Boots:
    """The boots of one station, as far as this transaction needed them."""

    def __init__(self, connection: sqlite3.Connection, station: int) -> None:
        self._connection = connection
        self._station = station
        self._known: dict[str, Boot] = {}

    def at(self, moment: Moment, next_seq: int) -> Boot:
        """The boot of a moment; the first trusted moment mends what was written before it.

        ``next_seq`` is the number that the first row of a new boot will have.
        """
        if moment.boot not in self._known:
            self._known[moment.boot] = self._find(moment.boot, next_seq)
        boot = self._known[moment.boot]
        if moment.trusted and boot.offset_ms is None:
            ms, wall_ms, _ = codec.times(moment)
            boot.offset_ms = wall_ms - ms
            self._mend_runs(boot.number, boot.offset_ms)
        return boot

    def mended(self, moment: Moment, next_seq: int) -> tuple[int, int, int, int]:
        """Boot, ms, wall ms and trust of a moment, by the boot's trusted clock if it has one."""
        boot = self.at(moment, next_seq)
        ms, wall_ms, trusted = codec.times(moment)
        if not trusted and boot.offset_ms is not None:
            wall_ms, trusted = ms + boot.offset_ms, 1
        return boot.number, ms, wall_ms, trusted

    def _find(self, boot: str, next_seq: int) -> Boot:
        self._connection.execute(
            "INSERT OR IGNORE INTO boot (station, id, first_seq) VALUES (?, ?, ?)",
            (self._station, boot, next_seq),
        )
        found = self._connection.execute(
            "SELECT number, offset_ms FROM boot WHERE station = ? AND id = ?",
            (self._station, boot),
        ).fetchone()
        return Boot(*found)

    def _mend_runs(self, boot: int, offset_ms: int) -> None:
        change = self._connection.execute
        change("UPDATE boot SET offset_ms = ? WHERE number = ?", (offset_ms, boot))
        numbers = change(
            "SELECT number FROM run WHERE began_boot = ? AND began_trusted = 0", (boot,)
        ).fetchall()
        for (number,) in numbers:
            change(
                "UPDATE run SET began_wall_ms = began_ms + ?1, listed_ms = began_ms + ?1, "
                "began_trusted = 1 WHERE number = ?2",
                (offset_ms, number),
            )
            change(
                "UPDATE run_flag SET listed_ms = (SELECT listed_ms FROM run WHERE number = ?1) "
                "WHERE run = ?1",
                (number,),
            )
        change(
            "UPDATE run SET ended_wall_ms = ended_ms + ?, ended_trusted = 1 "
            "WHERE ended_boot = ? AND ended_trusted = 0",
            (offset_ms, boot),
        )
