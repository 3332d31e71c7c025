"""Plain sinks: one temperature for the developer and one for the bath, a lag, an offset.

    python tests/benchmarks/forecast/plain.py --seeds 100 --start 100000
    python tests/benchmarks/forecast/plain.py --seeds 100 --start 100000 --true-probes

The rich sinks of ``run.py`` have layers, walls that hold heat and stirring hands. Here the
physics is what a worked example would take, so that the methods' own errors stand out. The
coupling falls with the difference as Churchill and Chu's film correlation has it (Int. J. Heat
Mass Transfer 18 (1975) 1323): between 2 and 10 K overall, through 0.1 m of wall in still water.
"""

from __future__ import annotations

import argparse
import math
import os
import sys
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded: workers share few cores
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from forecast import metrics, simple
from forecast.candidate import run_candidate
from forecast.simple import Forecast

from wetside.outlook import Setup, Wall
from wetside.readings import Place, Reading

ARRANGEMENTS = ("developer", "two probes", "dip")
SHARES = (0.25, 0.5, 0.75)
_SECONDS = 3600
_SHORTEST = 100
#: W/(m2 K) at 2 and at 10 K overall: polypropylene 1.5 mm, glass 2.5 mm, stainless 0.5 mm.
_FILM = {Wall.PLASTIC: (51.0, 60.0), Wall.GLASS: (81.0, 106.0), Wall.STEEL: (114.0, 169.0)}
_WATER_J_PER_M3_K = 4.186e6


@dataclass(frozen=True, slots=True)
class Plain:
    """One sink: what is told, the path at every second, and the probes' lag, offsets and noise."""

    setup: Setup
    developer: list[float]
    bath: list[float]
    room: float
    lag_seconds: float
    offsets: tuple[float, float]
    noise: float
    ready_at: int


def _draw(seed: int, attempt: int, *, true_probes: bool) -> Plain | None:
    """Sink of that number; None where it is ready within 100 s or not within the hour."""
    rng = np.random.default_rng([seed, attempt, 40])

    def between(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    wall = list(_FILM)[int(rng.integers(3))]
    cubic_metres = math.exp(between(math.log(240e-6), math.log(1000e-6)))
    width = (4.0 * cubic_metres / (math.pi * between(0.8, 2.2))) ** (1.0 / 3.0)
    at_2, at_10 = (u * between(0.8, 1.25) for u in _FILM[wall])
    exponent = max(0.0, math.log(at_10 / at_2) / math.log(5.0))
    rate = at_2 * 4.0 / width * between(0.6, 1.0) / _WATER_J_PER_M3_K
    target = round(between(18.0, 24.0), 1)
    tolerance = float(rng.choice([0.2, 0.3, 0.5]))
    sign = float(rng.choice([-1.0, 1.0]))
    developer = target - sign * between(2.0, 10.0)
    bath = target + sign * between(0.5, 6.0)
    share = cubic_metres * 1000.0 / between(2.0, 8.0)
    running = rng.random() < 0.4
    room = between(15.0, 30.0)
    source = bath + float(rng.normal(0.0, 0.4)) if running else room
    pull = 1.0 / (between(60.0, 500.0) if running else between(4000.0, 15000.0))
    drift = float(rng.normal(0.0, 1.0)) / 3600.0 if running else 0.0
    stirred = rng.random() < 0.4
    developers, baths = [developer], [bath]
    for second in range(_SECONDS):
        stirring = 1.6 if stirred and second % 150 < 12 else 1.0
        difference = bath - developer
        flow = stirring * rate * (max(abs(difference), 0.1) / 2.0) ** exponent * difference
        bath += pull * (source + drift * second - bath) - share * flow
        developer += flow
        developers.append(developer)
        baths.append(bath)
    inside = np.abs(np.array(developers) - target) <= tolerance
    ready = int(inside.argmax())
    if ready < _SHORTEST:
        return None
    offsets = (0.0, 0.0) if true_probes else tuple(np.clip(rng.normal(0.0, 0.1, 2), -0.3, 0.3))
    setup = Setup(
        target_celsius=target,
        tolerance_celsius=tolerance,
        wall=wall if rng.random() < 0.7 else None,
        volume_millilitres=round(cubic_metres * 1e6, -1) if rng.random() < 0.7 else None,
    )
    probes = (float(offsets[0]), float(offsets[1]))
    return Plain(
        setup, developers, baths, room, between(7.0, 25.0), probes, between(0.01, 0.05), ready
    )


def draw(seed: int, *, true_probes: bool = False) -> Plain:
    """First usable sink of that number."""
    tries = (_draw(seed, attempt, true_probes=true_probes) for attempt in range(100))
    return next(plain for plain in tries if plain is not None)


def _place(arrangement: str, which: int, second: int, dip: int) -> Place:
    if which or (arrangement == "dip" and second >= dip + 2):
        return Place.BATH
    return Place.AIR if arrangement == "dip" and second >= dip else Place.DEVELOPER


def readings(plain: Plain, arrangement: str, seed: int) -> list[Reading]:
    """What the probes said until the developer was ready, once a second, places told."""
    rng = np.random.default_rng([seed, 41])
    dip = int(rng.integers(15, 41))
    inside = [plain.room, plain.bath[0]]
    rows = []
    for second in range(plain.ready_at + 1):
        for which in range(2 if arrangement == "two probes" else 1):
            place = _place(arrangement, which, second, dip)
            if place is Place.AIR:
                met, lag = plain.room, 120.0
            else:
                path = plain.developer if place is Place.DEVELOPER else plain.bath
                met, lag = path[second], plain.lag_seconds
            inside[which] += -math.expm1(-1.0 / lag) * (met - inside[which])
            said = inside[which] + plain.offsets[which] + plain.noise * rng.standard_normal()
            celsius = round(16.0 * float(said)) / 16.0
            rows.append(Reading(second + 0.1 * which, f"probe{which + 1}", celsius, place))
    return rows


def _asked(
    method: str, setup: Setup, rows: list[Reading], moments: list[float]
) -> list[Forecast | None]:
    if method == "wetside":
        return run_candidate(setup, rows, moments)
    ask = {"straight line": simple.straight_line, "free exponential": simple.free_exponential}
    return [ask[method](setup, [r for r in rows if r.seconds <= m], m) for m in moments]


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seeds", type=int, default=60)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--true-probes", action="store_true", help="probes without offset")
    given = parser.parse_args()
    errors: dict[tuple[str, str], list[list[float]]] = defaultdict(lambda: [[], [], []])
    held: dict[tuple[str, str], list[bool]] = defaultdict(list)
    for seed in range(given.start, given.start + given.seeds):
        plain = draw(seed, true_probes=given.true_probes)
        moments = [float(round(share * plain.ready_at)) for share in SHARES]
        for arrangement in ARRANGEMENTS:
            rows = readings(plain, arrangement, seed)
            simple_too = arrangement == "developer"
            for method in ("wetside", "straight line", "free exponential")[
                : 3 if simple_too else 1
            ]:
                answers = _asked(method, plain.setup, rows, moments)
                for i, (moment, said) in enumerate(zip(moments, answers, strict=True)):
                    truth = plain.ready_at - moment
                    quantiles = (said or simple.NOTHING).ready_in
                    errors[arrangement, method][i].append(
                        metrics.relative_error(quantiles.p50, truth)
                    )
                    held[arrangement, method].append(metrics.covered(quantiles, truth))
    print(f"{given.seeds} plain sinks from seed {given.start}, true probes: {given.true_probes}\n")
    print(f"{'arrangement':<12} {'method':<17} err@25  err@50  err@75   holds")
    for (arrangement, method), columns in errors.items():
        numbers = "  ".join(f"{metrics.mean(column):6.3f}" for column in columns)
        share = metrics.mean(held[arrangement, method])
        print(f"{arrangement:<12} {method:<17} {numbers}  {share:6.1%}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
