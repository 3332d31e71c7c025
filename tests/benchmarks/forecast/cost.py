"""Cost of one update with its forecast, beside what others would pay for the same data.

    python tests/benchmarks/forecast/cost.py [--seeds 6] [--start 1] [--json FILE]

All figures are medians of one run on one core, over the recordings of several sinks: one reading
and one forecast of wetside; one filterpy unscented predict and update (no forecast); one scipy
curve_fit of a free exponential through the readings so far. Each goes through a recording by
itself, as it would at a sink, so that none finds the processor's caches full of another's. The
first minute is dearer, so a short recording has a higher median: the range over the sinks is told.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from forecast import cases, simple, unscented

from wetside.readings import Place
from wetside.thermal.estimator import begin
from wetside.thermal.forecast import outlook
from wetside.thermal.hindsight import Hindsight, hear


def _timed(action: Callable[[], object]) -> float:
    begun = time.perf_counter()
    action()
    return 1e3 * (time.perf_counter() - begun)


Took = dict[str, list[float]]


def measure(seed: int) -> Took:
    """Milliseconds of each action on one recording with the probe in the developer."""
    case = cases.make(seed, ("developer",))[0]
    setup, rows = case.plan.setup, case.readings
    past = Hindsight(begin(setup))
    filter_ = unscented.Unscented(setup, rows[0].celsius or 20.0, 1)
    took: Took = {name: [] for name in ("update", "outlook", "both", "unscented", "curve_fit")}
    for row in rows:
        start = time.perf_counter()
        past = hear(past, row)
        middle = time.perf_counter()
        outlook(past.belief, row.seconds)
        end = time.perf_counter()
        took["update"].append(1e3 * (middle - start))
        took["outlook"].append(1e3 * (end - middle))
        took["both"].append(1e3 * (end - start))
    for row in rows:
        took["unscented"].append(_timed(partial(filter_.feed, row, 0)))
    for count in range(70, len(rows), 10):
        x, y = simple.in_place(rows[: count + 1], Place.DEVELOPER)
        took["curve_fit"].append(_timed(partial(simple.fit_exponential, x - x[0], y)))
    return took


def figures_of(runs: list[Took]) -> dict[str, float]:
    """Medians in milliseconds over all sinks, the range of the sinks' own, and ratios."""
    whole = {name: [value for took in runs for value in took[name]] for name in runs[0]}
    figures = {name: statistics.median(values) for name, values in whole.items()}
    of_sinks = [statistics.median(took["both"]) for took in runs]
    figures["both, least sink"], figures["both, most sink"] = min(of_sinks), max(of_sinks)
    figures["both, p99"] = sorted(whole["both"])[int(0.99 * len(whole["both"]))]
    figures["ratio to unscented"] = figures["both"] / figures["unscented"]
    figures["ratio to curve_fit"] = figures["both"] / figures["curve_fit"]
    return figures


def main() -> int:
    """Print the table and write it if asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=6)
    parser.add_argument("--start", type=int, default=1)
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    if given.seeds < 1:
        parser.error("--seeds: at least one sink")
    figures = figures_of([measure(given.start + i) for i in range(given.seeds)])
    for name, value in figures.items():
        print(f"{name:<24} {value:9.3f}{'' if 'ratio' in name else ' ms'}")
    if given.json is not None:
        given.json.write_text(json.dumps(figures, indent=1), encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
