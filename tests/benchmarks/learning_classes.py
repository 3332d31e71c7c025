"""How many runs a container must make until the forecast of the next one is better for it.

A class has one container, one probe and many runs, each in another bath: other temperature,
litres, room, tap, stirring and target, the container filled within 3 %. The first runs teach, the
others are asked at 25 % of their wait, with the prior of the bare setup and with what 1, 2, 4 and 8
runs left.
Sinks and physics are those of the forecast benchmark (tests/benchmarks/forecast).

    python tests/benchmarks/learning_classes.py --classes 24 --start 900 --workers 2
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import sys
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded: workers share few cores
sys.path.insert(0, str(Path(__file__).resolve().parent))

import numpy as np
from forecast import cases, draw, metrics

from wetside.outlook import Quantiles, Setup
from wetside.readings import Reading
from wetside.sim.physics import footprint
from wetside.thermal.estimator import begin, update
from wetside.thermal.forecast import outlook
from wetside.thermal.learning import evidence_of, learn
from wetside.thermal.priors import Prior, prior_for

TAUGHT = (0, 1, 2, 4, 8)
ASKED_RUNS = 4
ARRANGEMENTS = ("developer", "check dip", "two probes")
#: Draws of a run's bath are told from those of other benchmarks by their attempt.
_FIRST_ATTEMPT = 1000


@dataclass(frozen=True, slots=True)
class Run:
    """One run of a class: its readings up to the pour, and the right answer at 25 %."""

    setup: Setup
    readings: tuple[Reading, ...]
    asked_seconds: float
    ready_in: float


@dataclass(frozen=True, slots=True)
class Answer:
    """What was said at 25 % of one run's wait after so many runs."""

    arrangement: str
    taught: int
    ready_in: Quantiles
    truth: float


def _plans(seed: int, count: int) -> list[tuple[draw.Plan, cases.Path, float]]:
    """Runs of one container that get into the window within the horizon."""
    base = draw.draw(seed)
    rng = np.random.default_rng([seed, 77])
    vessel = base.sink.vessel
    found: list[tuple[draw.Plan, cases.Path, float]] = []
    attempt = _FIRST_ATTEMPT
    while len(found) < count:
        attempt += 1
        other = draw.draw(seed, attempt)
        filled = replace(
            vessel,
            volume_millilitres=vessel.volume_millilitres * float(rng.uniform(0.97, 1.03)),
        )
        sink = replace(
            other.sink,
            vessel=filled,
            basin_square_metres=max(other.sink.basin_square_metres, 1.2 * footprint(filled)),
        )
        setup = replace(
            other.setup,
            wall=base.setup.wall,
            volume_millilitres=base.setup.volume_millilitres,
        )
        plan = replace(other, sink=sink, setup=setup, probes=base.probes, depths=base.depths)
        plan = replace(plan, cadence_seconds=1.0)
        band = setup.target_celsius, setup.tolerance_celsius
        if cases.crossings(cases.walk(plan, 60), *band)[0] is not None:
            continue
        path = cases.walk(plan, cases.HORIZON)
        ready = cases.crossings(path, *band)[0]
        if ready is not None and 0.75 * ready > 50.0:
            found.append((plan, path, ready))
    return found


def _run(seed: int, plan: draw.Plan, path: cases.Path, ready: float, arrangement: str) -> Run:
    salt = seed * 1000 + int(ready)
    places = cases._places(arrangement, salt, int(ready) + 20, ready)
    rows = cases._readings(plan, path, salt, places)
    asked = float(round(0.25 * ready))
    return Run(plan.setup, rows, asked, ready - asked)


def _said(run: Run, prior: Prior) -> Quantiles:
    belief = begin(run.setup, prior)
    for reading in run.readings:
        if reading.seconds > run.asked_seconds:
            break
        belief = update(belief, reading)
    return outlook(belief, run.asked_seconds).ready_in


def answers(seed: int, arrangements: Sequence[str]) -> list[Answer]:
    """All answers of one class."""
    plans = _plans(seed, max(TAUGHT) + ASKED_RUNS)
    given = []
    for arrangement in arrangements:
        runs = [_run(seed, *plan, arrangement) for plan in plans]
        told = [evidence_of(run.setup, run.readings) for run in runs[: max(TAUGHT)]]
        for taught in TAUGHT:
            some = [one for one in told[:taught] if one is not None]
            given += [
                Answer(
                    arrangement,
                    taught,
                    _said(run, learn(prior_for(run.setup), some)),
                    run.ready_in,
                )
                for run in runs[max(TAUGHT) :]
            ]
    return given


def table(given: Sequence[Answer]) -> str:
    """Mean capped relative error, coverage and width by arrangement and runs taught."""
    groups: dict[tuple[str, int], list[Answer]] = defaultdict(list)
    for answer in given:
        groups[answer.arrangement, answer.taught].append(answer)
    lines = [f"{'arrangement':<12} runs    n  err@25  change  holds  width  false never"]
    for arrangement in dict.fromkeys(answer.arrangement for answer in given):
        bare = None
        for taught in TAUGHT:
            some = groups[arrangement, taught]
            error = metrics.mean(metrics.relative_error(a.ready_in.p50, a.truth) for a in some)
            bare = error if bare is None else bare
            holds = metrics.mean(metrics.covered(a.ready_in, a.truth) for a in some)
            width = metrics.mean(metrics.relative_width(a.ready_in, a.truth) for a in some)
            never = metrics.mean(a.ready_in.p50 is None for a in some)
            change = error / bare - 1.0
            lines.append(
                f"{arrangement:<12} {taught:4d} {len(some):4d}  {error:6.3f} {change:+7.0%}"
                f" {holds:6.0%} {width:6.2f} {never:12.0%}"
            )
    return "\n".join(lines)


def main() -> int:
    """Run what the arguments ask for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--classes", type=int, default=24, help="how many containers")
    parser.add_argument("--start", type=int, default=900, help="first seed")
    parser.add_argument("--arrangements", default=",".join(ARRANGEMENTS))
    parser.add_argument("--workers", type=int, default=1)
    chosen = parser.parse_args()
    os.nice(5)
    ask = partial(answers, arrangements=chosen.arrangements.split(","))
    seeds = range(chosen.start, chosen.start + chosen.classes)
    with multiprocessing.get_context("spawn").Pool(chosen.workers) as pool:
        given = [one for some in pool.imap_unordered(ask, seeds) for one in some]
    print(f"{chosen.classes} containers, seeds {seeds.start} to {seeds.stop - 1}\n\n{table(given)}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
