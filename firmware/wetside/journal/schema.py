"""Tables of the journal and the values that travel in and out of them.

One file holds one station, or several once a hub has taken them in. Everything that is
written has a sequence number of its station: an event has one, and so has a batch of samples
and forecasts. ``(station, seq)`` names a row for ever, and rows under it never change. The
``run`` table is the exception: it is a digest for lists, changed in the same transaction as
the event that changes it, and could be made again from the events.

The rows of one run lie between ``run.first_seq`` and ``run.last_seq`` of its station (open
upwards while ``last_seq`` is null), so neither events nor batches need an index by run.
docs/journal.md shows every column.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wetside.clock import Moment
from wetside.outlook import Outlook
from wetside.readings import Condition, Place

#: What an event's detail may hold: JSON values only.
Json = str | int | float | bool | None | list["Json"] | dict[str, "Json"]

#: "wets" in ASCII: SQLite's place for saying whose file this is.
APPLICATION_ID = 0x77657473
#: The same of the desk's database, "wetd".
DESK_APPLICATION_ID = 0x77657464
#: Newest version of the desk's database that this wetside opens; a test of the desk holds it.
DESK_VERSION = 3

TABLES = (
    """
    CREATE TABLE station (
        number    INTEGER PRIMARY KEY,
        name      TEXT NOT NULL UNIQUE,
        first_seq INTEGER NOT NULL      -- above 1 where an earlier file was set aside
    ) STRICT
    """,
    """
    CREATE TABLE boot (
        number    INTEGER PRIMARY KEY,
        station   INTEGER NOT NULL REFERENCES station,
        id        TEXT NOT NULL,
        first_seq INTEGER NOT NULL,
        offset_ms INTEGER,              -- wall minus monotonic, once the clock was trusted
        UNIQUE (station, id)
    ) STRICT
    """,
    "CREATE TABLE probe (number INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT",
    """
    CREATE TABLE run (
        number             INTEGER PRIMARY KEY,
        id                 TEXT NOT NULL UNIQUE,
        station            INTEGER NOT NULL REFERENCES station,
        first_seq          INTEGER NOT NULL,
        last_seq           INTEGER,
        sheet_name         TEXT NOT NULL,
        sheet_title        TEXT NOT NULL,
        began_boot         INTEGER NOT NULL REFERENCES boot,
        began_ms           INTEGER NOT NULL,
        began_wall_ms      INTEGER NOT NULL,
        began_trusted      INTEGER NOT NULL,
        ended_boot         INTEGER REFERENCES boot,
        ended_ms           INTEGER,
        ended_wall_ms      INTEGER,
        ended_trusted      INTEGER,
        listed_ms          INTEGER NOT NULL,
        state              TEXT NOT NULL,
        window_hit         INTEGER,
        flags              TEXT NOT NULL,   -- JSON list; run_flag has them one a row
        target_mc          INTEGER,
        tolerance_mc       INTEGER,
        poured_mc          INTEGER,
        planned_develop_ms INTEGER,
        actual_develop_ms  INTEGER
    ) STRICT
    """,
    "CREATE INDEX run_by_time ON run (listed_ms)",
    "CREATE INDEX run_by_state ON run (state, listed_ms)",
    "CREATE INDEX run_by_sheet ON run (sheet_name, listed_ms)",
    "CREATE INDEX run_by_station ON run (station, listed_ms)",
    "CREATE INDEX run_open ON run (station) WHERE ended_ms IS NULL",
    """
    CREATE TABLE run_flag (
        flag      TEXT NOT NULL,
        listed_ms INTEGER NOT NULL,
        run       INTEGER NOT NULL REFERENCES run,
        PRIMARY KEY (flag, listed_ms, run)
    ) STRICT, WITHOUT ROWID
    """,
    """
    CREATE TABLE event (
        station INTEGER NOT NULL REFERENCES station,
        seq     INTEGER NOT NULL,
        run     INTEGER REFERENCES run,
        boot    INTEGER NOT NULL REFERENCES boot,
        ms      INTEGER NOT NULL,
        wall_ms INTEGER NOT NULL,
        trusted INTEGER NOT NULL,
        kind    TEXT NOT NULL,
        detail  TEXT NOT NULL,
        PRIMARY KEY (station, seq)
    ) STRICT, WITHOUT ROWID
    """,
    """
    CREATE TABLE batch (
        station INTEGER NOT NULL REFERENCES station,
        seq     INTEGER NOT NULL,
        run     INTEGER REFERENCES run,
        boot    INTEGER NOT NULL REFERENCES boot,
        ms      INTEGER NOT NULL,
        wall_ms INTEGER NOT NULL,
        trusted INTEGER NOT NULL,
        total   INTEGER NOT NULL,       -- samples of this station up to and with this batch
        PRIMARY KEY (station, seq)
    ) STRICT, WITHOUT ROWID
    """,
    """
    CREATE TABLE sample (
        station      INTEGER NOT NULL,
        seq          INTEGER NOT NULL,  -- of its batch
        nth          INTEGER NOT NULL,
        offset_ms    INTEGER NOT NULL,  -- from the batch's moment, so mostly below zero
        probe        INTEGER NOT NULL REFERENCES probe,
        place        INTEGER NOT NULL,
        condition    INTEGER NOT NULL,
        millicelsius INTEGER,
        PRIMARY KEY (station, seq, nth)
    ) STRICT, WITHOUT ROWID
    """,
    """
    CREATE TABLE forecast (
        station         INTEGER NOT NULL,
        seq             INTEGER NOT NULL,
        nth             INTEGER NOT NULL,
        offset_ms       INTEGER NOT NULL,
        developer_mc    INTEGER,
        developer_sd_mc INTEGER,
        bath_mc         INTEGER,
        bath_sd_mc      INTEGER,
        ready_p05_ds    INTEGER,        -- tenths of a second; null = beyond an hour or never
        ready_p50_ds    INTEGER,
        ready_p95_ds    INTEGER,
        leaves_p05_ds   INTEGER,
        leaves_p50_ds   INTEGER,
        leaves_p95_ds   INTEGER,
        never_e4        INTEGER NOT NULL,   -- probability in ten-thousandths
        faults          TEXT,           -- JSON list, null when empty
        PRIMARY KEY (station, seq, nth)
    ) STRICT, WITHOUT ROWID
    """,
)

#: Numbers that stand for words in ``sample``. Only ever add at the end: files hold them.
PLACE_CODES = {Place.UNKNOWN: 0, Place.DEVELOPER: 1, Place.BATH: 2, Place.AIR: 3}
CONDITION_CODES = {
    Condition.FINE: 0,
    Condition.POWER_ON: 1,
    Condition.FAILED: 2,
    Condition.IMPLAUSIBLE: 3,
    Condition.VANISHED: 4,
    Condition.BUS_GONE: 5,
    Condition.STALE: 6,
    Condition.IN_AIR: 7,
    Condition.STUCK: 8,
    Condition.UNMOVED: 9,
}


#: Flags of steps that were late begin so.
LATE = "late-"


@dataclass(frozen=True, slots=True)
class RunRow:
    """One run as lists show it.

    ``id`` is a ULID; ``state`` any short word of the session; ``flags`` short words that lists
    can be filtered by; temperatures in degrees Celsius, times in seconds, None = not known
    (yet). ``listed_wall_seconds`` is given by the reader and ignored by the writer: the Unix
    time under which lists sort the run and days find it. It is the wall time of its begin,
    mended once the clock is trusted, and until then never before an earlier trusted moment.
    """

    id: str
    station: str
    sheet_name: str
    sheet_title: str
    began: Moment
    state: str
    ended: Moment | None = None
    window_hit: bool | None = None
    flags: tuple[str, ...] = ()
    target_celsius: float | None = None
    tolerance_celsius: float | None = None
    poured_celsius: float | None = None
    planned_develop_seconds: float | None = None
    actual_develop_seconds: float | None = None
    listed_wall_seconds: float | None = None


@dataclass(frozen=True, slots=True)
class EventRow:
    """One event as it was journaled; ``run`` is None for what belongs to no run."""

    station: str
    seq: int
    moment: Moment
    run: str | None
    kind: str
    detail: Mapping[str, Json]


@dataclass(frozen=True, slots=True)
class Sample:
    """One reading as it was journaled; ``moment`` is when its conversion ended."""

    moment: Moment
    probe: str
    place: Place
    celsius: float | None
    condition: Condition


@dataclass(frozen=True, slots=True)
class Forecast:
    """One outlook as it was journaled, to tenths of a second and thousandths of a degree."""

    moment: Moment
    outlook: Outlook


@dataclass(frozen=True, slots=True)
class OpenRun:
    """A run that has not ended, with all that is needed to take it up again.

    ``last`` is the last moment that anything of this station was journaled in the boot of the
    run's last event: later boots may have journaled things that are not of the run.
    """

    row: RunRow
    events: tuple[EventRow, ...]
    last: Moment


@dataclass(frozen=True, slots=True)
class RunFilter:
    """Which runs a list shows; None = any.

    ``since`` and ``before`` are Unix seconds of the day's or period's ends (the desk knows the
    time zone); ``ids`` limits to known runs, for searches in what the desk keeps. ``late``: only
    runs in which a step was late, whichever.
    """

    state: str | None = None
    sheet_name: str | None = None
    station: str | None = None
    flag: str | None = None
    window_hit: bool | None = None
    since: float | None = None
    before: float | None = None
    ids: tuple[str, ...] | None = None
    late: bool = False


@dataclass(frozen=True, slots=True)
class RunPage:
    """One page of a list, latest first; ``after`` asks for the next, None = this is the last."""

    rows: tuple[RunRow, ...]
    after: str | None


@dataclass(frozen=True, slots=True)
class Health:
    """How the journal is.

    ``problems`` is empty when the check found none and None when it was not asked for.
    """

    size_bytes: int
    wal_bytes: int
    free_bytes: int
    stations: tuple[str, ...]
    runs: int
    samples: int
    problems: tuple[str, ...] | None = None
