"""A probe that slips out of the developer for a minute while nobody presses anything.

Sinks, probes and physics are those of the forecast benchmark. Each run is told twice, with the
probe in the developer all the time and with it in air for a minute at two fifths of the wait:

    python tests/benchmarks/probe_out.py --seeds 40 --start 440
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import median

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded: workers share few cores
sys.path.insert(0, str(Path(__file__).resolve().parent))

import numpy as np
from forecast import cases, draw

from wetside.readings import Place, Reading
from wetside.thermal.astray import astray
from wetside.thermal.estimator import begin, update

_OUT_SECONDS = 60
_SHORTEST_WAIT = 300.0


def _readings(plan: draw.Plan, path: cases.Path, seed: int, out: range) -> Iterator[Reading]:
    """What the probe says, told to be in the developer all along."""
    places = [Place.AIR if s in out else Place.DEVELOPER for s in range(out.stop + 60)]
    inside = cases.inside_probe(plan, path, places, 0, cases.begun_at(plan, seed))
    noise = np.random.default_rng([seed, 26]).standard_normal(len(places))
    for second in range(0, len(places), int(plan.cadence_seconds)):
        said = cases.read(plan, 0, float(inside[second]), float(noise[second]))
        yield Reading(float(second), "p", said, Place.DEVELOPER)


def _believed_out(plan: draw.Plan, readings: Iterator[Reading]) -> list[float]:
    """Times at which the probe was believed to hang in air."""
    belief, times = begin(plan.setup, doubting=True), []
    for reading in readings:
        belief = update(belief, reading)
        if astray(belief.tracks[0]):
            times.append(reading.seconds)
    return times


def main() -> int:
    """Print what was noticed, how soon, and what was noticed without reason."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seeds", type=int, default=40)
    parser.add_argument("--start", type=int, default=440)
    given = parser.parse_args()
    delays: list[float] = []
    lifts, before, calm, still_out = 0, 0, 0, 0
    for seed in range(given.start, given.start + given.seeds):
        plan, path, ready, _ = cases.settle(seed)
        if ready is None or ready < _SHORTEST_WAIT:
            continue
        lifts += 1
        begin_at = int(0.4 * ready)
        out = range(begin_at, begin_at + _OUT_SECONDS)
        times = _believed_out(plan, _readings(plan, path, seed, out))
        before += any(second < out.start for second in times)
        seen = [second - out.start for second in times if second in out]
        delays += seen[:1]
        still_out += any(second > out.stop + 30 for second in times)
        never_out = range(out.stop, out.stop)
        calm += bool(_believed_out(plan, _readings(plan, path, seed, never_out)))
    print(f"lifted out for {_OUT_SECONDS} s: {lifts} sinks from seed {given.start}")
    print(f"noticed {len(delays)}, median after {median(delays or [0.0]):.0f} s")
    print(f"believed out before the lift: {before}, later than 30 s after it: {still_out}")
    print(f"never lifted, believed out nevertheless: {calm}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
