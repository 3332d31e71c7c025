"""Turns a plan into readings, truth and questions."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from forecast.draw import DIRT, Plan, Span, begin, disturb, draw, follow_plan

from wetside.readings import Condition, Place, Reading
from wetside.sim.physics import around, developer_mean
from wetside.sim.probe import follow, sense, settled
from wetside.sim.scratchpad import count_of

ARRANGEMENTS = ("developer", "dip", "check dip", "two probes")
SHARES = (0.25, 0.5, 0.75)
#: A developer that is not ready after this long is a "never"; between the horizon and this the
#: draw is turned down, because neither answer would be wrong.
NEVER_SECONDS = 7200
HORIZON = 3600
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Path:
    """Temperatures at every whole second: developer's mean, and what probe tips would meet."""

    developer: Floats
    tip_developer: Floats
    tip_bath: Floats
    tip_bath_first: Floats  # the first probe, standing in the bath


@dataclass(frozen=True, slots=True)
class Question:
    """One moment at which the forecast is asked, and the right answers (None = never, stays)."""

    label: str
    seconds: float
    ready_in: float | None
    leaves_in: float | None


@dataclass(frozen=True, slots=True)
class Case:
    """One recording with the truth behind it.

    ``readings`` are in the order of arrival and tell the place.
    """

    seed: int
    arrangement: str
    plan: Plan
    readings: tuple[Reading, ...]
    path: Path
    ready_at: float | None
    leaves_at: float | None
    questions: tuple[Question, ...]


def walk(plan: Plan, seconds: int, *, developer_more: float = 0.0, bath_more: float = 0.0) -> Path:
    """Run the physics for that many seconds."""
    state = begin(plan, developer_more=developer_more, bath_more=bath_more)
    rows = np.empty((4, seconds + 1))
    for now in range(seconds + 1):
        rows[0, now] = developer_mean(state)
        rows[1, now] = around(state, plan.sink, Place.DEVELOPER, plan.depths[0])
        rows[2, now] = around(state, plan.sink, Place.BATH, plan.depths[1])
        rows[3, now] = around(state, plan.sink, Place.BATH, plan.depths[0])
        state = follow_plan(plan, state, float(now))
    return Path(rows[0], rows[1], rows[2], rows[3])


def crossings(path: Path, target: float, tolerance: float) -> tuple[float | None, float | None]:
    """Seconds at which the mean developer first enters the band, and then leaves it."""
    inside = np.abs(path.developer - target) <= tolerance
    if not inside.any():
        return None, None
    ready = int(inside.argmax())
    outside = ~inside[ready:]
    return float(ready), float(ready + int(outside.argmax())) if outside.any() else None


def _places(arrangement: str, seed: int, seconds: int, ready_at: float | None) -> list[list[Place]]:
    """Place of each probe at each second."""
    rng = np.random.default_rng([seed, 22])
    if arrangement == "developer":
        return [[Place.DEVELOPER] * (seconds + 1)]
    if arrangement == "two probes":
        return [[Place.DEVELOPER] * (seconds + 1), [Place.BATH] * (seconds + 1)]
    places = [Place.BATH] * (seconds + 1)
    dip = int(rng.integers(10, 41))
    moves = [(0, dip)]
    if arrangement == "check dip":
        wait = 800.0 if ready_at is None else ready_at
        later = max(dip + 20, int(wait * rng.uniform(0.35, 0.45)))
        moves.append((later, int(rng.integers(15, 41))))
    for first, long in moves:
        for now in range(first, min(first + long, seconds + 1)):
            places[now] = Place.DEVELOPER
        for now in range(first + long, min(first + long + 2, seconds + 1)):
            places[now] = Place.AIR
    return [places]


def inside_probe(plan: Plan, path: Path, places: list[Place], which: int, begun: float) -> Floats:
    """Temperature of a probe's sensor at every second, without offset and noise."""
    body = plan.probes[which]
    bath = path.tip_bath if which else path.tip_bath_first
    inside = np.empty(len(places))
    now = settled(begun)
    for second, place in enumerate(places):
        if place is Place.AIR:
            met = plan.sink.room_celsius
        else:
            met = float((path.tip_developer if place is Place.DEVELOPER else bath)[second])
        if second:
            now = follow(body, now, met, 1.0, in_air=place is Place.AIR)
        inside[second] = now.sensor
    return inside


def begun_at(plan: Plan, seed: int) -> float:
    """Temperature inside the probe at second 0: settled already, or straight from the air."""
    settled = np.random.default_rng([seed, 23]).random() < 0.6
    return plan.developer_celsius if settled else plan.sink.room_celsius


def read(plan: Plan, which: int, sensor_celsius: float, standard_normal: float) -> float:
    """What the probe says then, degC: rounded, with its offset and noise."""
    return count_of(sense(plan.probes[which], sensor_celsius, standard_normal)) / 16.0


def _readings(
    plan: Plan, path: Path, seed: int, all_places: list[list[Place]]
) -> tuple[Reading, ...]:
    rng = np.random.default_rng([seed, 24])
    rows: list[Reading] = []
    step = int(plan.cadence_seconds)
    for which, places in enumerate(all_places):
        first = plan.bath_celsius if which else begun_at(plan, seed)
        inside = inside_probe(plan, path, places, which, first)
        noise = rng.standard_normal(len(places))
        rows.extend(
            Reading(
                float(now) + 0.1 * which,
                f"probe{which + 1}",
                read(plan, which, float(inside[now]), float(noise[now])),
                places[now],
            )
            for now in range(0, len(places), step)
        )
    rows.sort(key=lambda row: row.seconds)
    return tuple(rows)


def soil(rows: tuple[Reading, ...], event: Span, seed: int) -> tuple[Reading, ...]:
    """The same recording with a dirty stretch: gaps, glitches, repeats or late arrivals."""
    rng = np.random.default_rng([seed, 25])
    made: list[Reading] = []
    for row in rows:
        hit = event.begin <= row.seconds < event.end
        if not hit:
            made.append(row)
        elif event.what == "unplugged":
            made.append(replace(row, celsius=None, condition=Condition.VANISHED))
        elif event.what == "85.0" and rng.random() < 0.3:
            made.append(replace(row, celsius=85.0))
        elif event.what == "0.0" and rng.random() < 0.3:
            made.append(replace(row, celsius=0.0))
        elif event.what == "duplicates" and rng.random() < 0.5:
            made.extend((row, row))
        elif event.what == "late rows" and made and rng.random() < 0.3:
            made.insert(-1, row)
        else:
            made.append(row)
    return tuple(made)


def _questions(
    arrangement: str, ready_at: float | None, leaves_at: float | None, event: Span | None
) -> tuple[Question, ...]:
    if event is not None:
        ended = event.begin if event.end > 1e6 else event.end
        moments = [(f"+{s}", ended + s) for s in (10, 30, 60, 120)]
    elif ready_at is None:
        moments = [("25", 120.0), ("50", 300.0), ("75", 600.0)]
    else:
        moments = [(f"{round(100 * s)}", round(s * ready_at)) for s in SHARES]
    asked = []
    for label, seconds in moments:
        if arrangement in {"dip", "check dip"} and event is None and seconds < 50:
            continue  # the first dip is still going on
        if ready_at is not None and ready_at - seconds < 10:
            continue
        ready = None if ready_at is None else ready_at - seconds
        leaves = None if leaves_at is None else leaves_at - seconds
        asked.append(
            Question(label, float(seconds), ready, None if (leaves or 0) > HORIZON else leaves)
        )
    return tuple(asked)


def settle(seed: int) -> tuple[Plan, Path, float | None, float | None]:
    """First draw of the seed whose developer needs at least a minute, or never arrives."""
    for attempt in range(100):
        plan = draw(seed, attempt)
        target, tolerance = plan.setup.target_celsius, plan.setup.tolerance_celsius
        if crossings(walk(plan, 60), target, tolerance)[0] is not None:
            continue
        path = walk(plan, NEVER_SECONDS)
        ready, leaves = crossings(path, target, tolerance)
        if ready is None or ready <= HORIZON:
            return plan, path, ready, leaves
    raise RuntimeError(f"seed {seed}: no usable draw in 100")


def make(
    seed: int,
    arrangements: tuple[str, ...] = ARRANGEMENTS,
    disturbance: str | None = None,
    *,
    true_probes: bool = False,
) -> list[Case]:
    """All arrangements of one seed, undisturbed or with the named disturbance.

    Every arrangement shares the sink, the truth and the probes; ``true_probes`` takes their
    offsets away, so that the estimator's own error remains.
    """
    plan, path, ready, leaves = settle(seed)
    if true_probes:
        first, second = (replace(body, offset_celsius=0.0) for body in plan.probes)
        plan = replace(plan, probes=(first, second))
    if disturbance is not None:
        plan = disturb(plan, seed, disturbance, ready)
        if disturbance not in DIRT:
            path = walk(plan, NEVER_SECONDS)
            ready, leaves = crossings(path, plan.setup.target_celsius, plan.setup.tolerance_celsius)
    made = []
    for arrangement in arrangements:
        questions = _questions(arrangement, ready, leaves, plan.event)
        last = int(max((q.seconds for q in questions), default=0.0))
        salt = seed * 7 + zlib.crc32(arrangement.encode()) % 7
        rows = _readings(plan, path, salt, _places(arrangement, salt, last, ready))
        if plan.event is not None:
            rows = soil(rows, plan.event, seed)
        made.append(Case(seed, arrangement, plan, rows, path, ready, leaves, questions))
    return made


def places_of(case: Case) -> list[list[Place]]:
    """The places that the case's readings were made from (for the bound)."""
    last = int(max((q.seconds for q in case.questions), default=0.0))
    return _places(case.arrangement, salt_of(case), last, case.ready_at)


def salt_of(case: Case) -> int:
    """Seed of the random numbers that belong to this arrangement."""
    return case.seed * 7 + zlib.crc32(case.arrangement.encode()) % 7
