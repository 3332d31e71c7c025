"""An invented school: journals made with the real writer, and live files, for the desk's tests.

Nothing here was measured. The developer approaches the bath by one exponential, and the
forecasts are that exponential with an invented spread that shrinks as the wait goes on.
"""

from __future__ import annotations

import atexit
import base64
import json
import math
import os
import random
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient
from ulid import ULID

from wetside.clock import Moment
from wetside.journal.reader import Reader
from wetside.journal.writer import Writer
from wetside.outlook import Outlook, Quantiles, Temperature
from wetside.readings import Condition, Place, Reading
from wetside.session import record, sheet
from wetside.session.events import Event, Json, Kind
from wetside.session.machine import due, next_due, receive
from wetside.session.run import ENDED_STATES, Session, State
from wetside.station.rows import run_row
from wetside_desk.app import create_app
from wetside_desk.settings import DeskSettings

#: A Wednesday in term, 09:10 UTC.
SCHOOL_DAY = 1_762_938_600.0

SHEETS = tuple(sheet.load(path) for path in sorted(sheet.shipped_folder().glob("*.toml")))


@dataclass(frozen=True, slots=True)
class Story:
    """How one invented run goes."""

    wall: float = SCHOOL_DAY
    sheet: int = 0
    seed: int = 1
    outside: bool = False
    late_seconds: float = 2.0
    abandon_in: str | None = None
    stop_in: str | None = None
    power_cut: bool = False
    gap_seconds: float | None = None
    trusted: bool = True
    sample_every: float = 2.0
    probe_gap: bool = False


@lru_cache(maxsize=4096)
def approach(story: Story) -> tuple[float, float, float]:
    """Bath and developer at the begin in degrees Celsius, and the time constant in seconds."""
    dice = random.Random(story.seed)
    bath = dice.uniform(18.5, 19.6) + (dice.uniform(-0.3, 0.3))
    start = dice.uniform(23.0, 25.0)
    tau = dice.uniform(120.0, 260.0)
    off = SHEETS[story.sheet].setup().target_celsius - 20.0
    return bath + off, start + off, tau


@dataclass(slots=True)
class _Teller:
    writer: Writer
    station: str
    story: Story
    seconds: float
    boot: str
    session: Session = field(default_factory=Session)
    began: Moment | None = None
    run: str = ""
    zero: float = 0.0
    sampled: float = 0.0
    forecasted: float = 0.0

    def moment(self) -> Moment:
        wall = self.story.wall + self.seconds - self.zero
        return Moment(self.seconds, wall, self.story.trusted, self.boot)

    def receive(self, kind: Kind, **detail: Json) -> None:
        event = (
            record.begin(self.seconds, self.run, SHEETS[self.story.sheet])
            if kind is Kind.BEGIN
            else Event(kind, self.seconds, detail)
        )
        self.session, _ = receive(self.session, event)
        now = self.moment()
        if self.began is None:
            self.began = now
        self.writer.append(
            now,
            str(kind),
            record.encode(event),
            self.run,
            run_row(self.session, self.station, self.began, now),
        )

    def celsius(self, at: float) -> tuple[float, float]:
        bath, start, tau = approach(self.story)
        return bath + (start - bath) * math.exp(-(at - self.zero) / tau), bath

    def ready_at(self) -> float:
        setup = SHEETS[self.story.sheet].setup()
        bath, start, tau = approach(self.story)
        edge = setup.target_celsius + setup.tolerance_celsius
        return self.zero + math.ceil(2 * tau * math.log((start - bath) / (edge - bath))) / 2

    def go(self, until: float) -> None:
        """Let time pass: samples, forecasts, the clock's events."""
        while True:
            at = next_due(self.session)
            stop = min(until, at) if at is not None else until
            self._watch(stop)
            self.seconds = max(self.seconds, stop)
            event = due(self.session, self.seconds)
            if event is None:
                if self.seconds >= until:
                    return
                continue
            self.receive(event.kind)

    def _watch(self, until: float) -> None:
        dice = random.Random(self.story.seed * 7919 + int(until))
        tempering = self.session.state in {State.TEMPERING, State.READY}
        while self.sampled + self.story.sample_every <= until:
            self.sampled += self.story.sample_every
            at = self.sampled
            self.seconds = max(self.seconds, at)
            developer, bath = self.celsius(at)
            gap = self.story.probe_gap and 60 < at - self.zero < 100
            place = Place.BATH if not tempering else Place.DEVELOPER
            value = developer if place is Place.DEVELOPER else bath
            reading = Reading(
                at,
                "probe",
                None if gap else round((value + dice.gauss(0, 0.03)) * 16) / 16,
                place,
                Condition.VANISHED if gap else Condition.FINE,
            )
            wall = self.story.wall + at - self.zero
            moment = Moment(at, wall, self.story.trusted, self.boot)
            self.writer.sample(moment, [reading], self.run)
            if tempering and at >= self.forecasted + 5.0:
                self.forecasted = at
                self.writer.forecast(moment, self._outlook(at), self.run)

    def _outlook(self, at: float) -> Outlook:
        developer, bath = self.celsius(at)
        wait = self.ready_at() - at
        dice = random.Random(self.story.seed * 31 + int(at))
        spread = 0.35 * math.exp(-(at - self.zero) / 90.0) + 0.04
        middle = max(wait * (1 + dice.gauss(0, spread / 2)), 0.0)
        ready = (
            Quantiles(0.0, 0.0, 0.0)
            if wait <= 0
            else Quantiles(middle * (1 - spread), middle, middle * (1 + 1.5 * spread))
        )
        return Outlook(
            at,
            Temperature(developer, 0.05 + spread / 4),
            Temperature(bath, 0.2),
            ready,
            Quantiles(wait + 90, wait + 140, wait + 220),
            0.03,
        )


def tell(writer: Writer, story: Story, station: str = "sink-1", boot: str = "boot-a") -> str:
    """Write one run; gives its id."""
    seconds = 500.0 + (story.wall - SCHOOL_DAY) % 1_000_000
    teller = _Teller(writer, station, story, seconds, boot)
    dice = random.Random(story.seed)
    teller.zero = teller.sampled = teller.forecasted = seconds
    teller.run = str(
        ULID.from_bytes(
            int(story.wall * 1000).to_bytes(6, "big") + dice.getrandbits(80).to_bytes(10, "big")
        )
    )
    teller.receive(Kind.BEGIN)
    ready = teller.ready_at()
    if story.outside:
        teller.go(seconds + (ready - seconds) * 0.6)
    else:
        teller.go(ready - 45)
        teller.receive(Kind.SOON, ready_in=45.0)
        teller.go(ready + 2)
        teller.receive(Kind.ENTERED, developer_celsius=round(teller.celsius(ready)[0], 3))
        teller.go(ready + 8 + story.late_seconds)
    while teller.session.state not in ENDED_STATES:
        teller.receive(Kind.NOW, developer_celsius=round(teller.celsius(teller.seconds)[0], 3))
        step = teller.session.present
        if step is None or step.seconds is None:
            break
        end = teller.seconds + step.seconds
        if story.stop_in == step.kind:
            teller.go(teller.seconds + step.seconds / 2)
            break
        if story.abandon_in == step.kind:
            teller.go(teller.seconds + step.seconds / 2)
            teller.receive(Kind.ABANDON)
            break
        if story.power_cut and step.kind == "fix":
            teller.go(teller.seconds + step.seconds / 2)
            _cut(teller)
            end = teller.session.began + step.seconds if teller.session.began else end
        teller.go(end + story.late_seconds)
    writer.flush()
    return teller.run


def _cut(teller: _Teller) -> None:
    """A reboot; without ``gap_seconds`` nobody knows how long the power was gone."""
    known = teller.story.gap_seconds
    shift = 40.0 - (known or 40.0) - teller.seconds
    teller.boot = f"{teller.boot}-again"
    teller.seconds = teller.sampled = teller.forecasted = 40.0
    teller.zero += shift
    teller.receive(
        Kind.POWER_LOST,
        shift_seconds=shift,
        gap="the power was gone",
        gap_seconds=known,
        at_least_seconds=known or 40.0,
        at_most_seconds=known,
    )
    teller.receive(Kind.CONTINUE)


def stories(number: int, seed: int = 1) -> Iterator[Story]:
    """Runs of an invented school: two or three a school day, most of them well."""
    dice = random.Random(seed)
    wall = SCHOOL_DAY
    for at in range(number):
        yield Story(
            wall=wall,
            sheet=dice.choice([0, 0, 1, 2]),
            seed=seed * 1000 + at,
            outside=dice.random() < 0.2,
            late_seconds=dice.choice([1.0, 2.0, 4.0, 14.0, 25.0]),
            abandon_in="wash" if dice.random() < 0.06 else None,
        )
        wall += 5400.0 if at % 3 else 86_400.0 - 2 * 5400.0


def local(folder: DeskSettings, *, loud: bool = True) -> TestClient:
    """A client on this machine, which may look around until a passphrase is set.

    ``loud``: mistakes of the desk are raised in the test instead of being answered.
    """
    return TestClient(
        create_app(folder),
        base_url="http://127.0.0.1:8470",
        client=("127.0.0.1", 50000),
        raise_server_exceptions=loud,
    )


def distant(folder: DeskSettings) -> TestClient:
    """A client somewhere on the school's network."""
    return TestClient(
        create_app(folder), base_url="http://192.168.1.20:8470", client=("192.168.1.77", 50000)
    )


def tell_alone(journal: Path, story: Story) -> str:
    """Make a journal of one run; gives the run's id. The same story is told only once."""
    kept = in_memory() / f"{abs(hash(story)):x}.sqlite3"
    if not kept.exists():
        with Writer(kept, "sink-1") as writer:
            tell(writer, story)
    shutil.copy(kept, journal)
    with Reader(journal) as reader:
        return reader.runs().rows[0].id


def ten_runs(journal: Path) -> None:
    """Make a journal of ten runs; they are told only once."""
    kept = in_memory() / "ten.sqlite3"
    if not kept.exists():
        with Writer(kept, "sink-1") as writer:
            for story in stories(10):
                tell(writer, story)
    shutil.copy(kept, journal)


@lru_cache(maxsize=1)
def in_memory() -> Path:
    """A folder where the writer's waiting for the disk costs nothing, gone at the end."""
    memory = Path("/dev/shm")
    folder = Path(tempfile.mkdtemp(prefix="wetside-", dir=memory if memory.is_dir() else None))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


#: Age of a live file that nobody asked to be old: a slow machine must not make it so.
YOUNG = -600.0


def write_live(file: Path, age_seconds: float = YOUNG, **changes: object) -> None:
    """Replace the live file as the station does; ``changes`` replace members."""
    rows = bytearray(1024)
    for y in range(16, 48):
        for x in range(32, 96):
            if x in {32, 95} or y in {16, 47}:
                rows[y * 16 + x // 8] |= 128 >> (x % 8)
    values: dict[str, Any] = {
        "format": 1,
        "station": "sink-1",
        "version": "0.1.0",
        "at": 900.0,
        "boot": "boot-a",
        "wall": SCHOOL_DAY,
        "trusted": True,
        "state": "tempering",
        "run": "01KB0A7QJ8M3T5W9XYZ2C4D6EF",
        "sheet": {"name": "one reel 20", "title": "One reel of 135 film at 20 °C"},
        "step": {
            "index": 0,
            "kind": "temper",
            "solution": "developer",
            "planned_seconds": None,
            "elapsed_seconds": 61.0,
            "agitating": False,
        },
        "next": "developer",
        "outlook": {
            "seconds": 900.0,
            "developer": {"celsius": 22.41, "sd": 0.1},
            "bath": {"celsius": 19.2, "sd": 0.2},
            "ready_in": {"p05": 150.0, "p50": 181.0, "p95": 230.0},
            "leaves_in": {"p05": 260.0, "p50": 330.0, "p95": None},
            "never": 0.02,
            "faults": [],
        },
        "places": {"probe": "bath"},
        "troubles": {},
        "flags": [],
        "screen": {
            "name": "tempering",
            "head": "READY IN",
            "big": "3:01",
            "lines": ["dev 22.4 C", "bath 19.2 C"],
            "text": "READY IN in bath 3:01 \N{PLUS-MINUS SIGN}0.2 C dev 22.4 C bath 19.2 C",
        },
        "dark": False,
        "picture": base64.b64encode(bytes(rows)).decode(),
        "last_cue": None,
        "warnings": [],
        **changes,
    }
    part = file.with_name(".live.json.next")
    part.write_text(json.dumps(values), encoding="utf-8")
    if age_seconds:
        then = part.stat().st_mtime - age_seconds
        os.utime(part, (then, then))
    part.replace(file)
