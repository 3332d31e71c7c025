"""How often the developer really is in its window when the station calls READY.

    python tests/benchmarks/ready_truth.py --seeds 40 --start 500

Whole rolls of the bench on virtual time, through the real libraries: a scripted student dips,
waits, dips again when asked, and pours. The truth is the simulated developer's mean.
"""

from __future__ import annotations

import argparse
import math
import os
import tempfile
from multiprocessing import Pool
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded: workers share few cores

from wetside.commands import sheets
from wetside.commands.bench.rig import Rig, RigOptions
from wetside.session.signals import Cue, CueName
from wetside.sim.scripts import script
from wetside.sim.situation import Arrangement, usual

_LONGEST_SECONDS = 4000.0


def roll(job: tuple[int, str]) -> tuple[float, float] | None:
    """Kelvin that the developer is outside at READY, and its error then; None without READY."""
    seed, name = job
    arrangement = Arrangement(name)
    sheet = sheets.load_all(None)[0][0]
    setup = sheet.setup()
    found: list[tuple[float, float]] = []
    with tempfile.TemporaryDirectory() as folder:
        rigs: list[Rig] = []

        def heard(cue: Cue) -> None:
            told = rigs[0].station.outlook
            if cue.name is CueName.READY and told is not None and told.developer is not None:
                truth = rigs[0].world.developer_celsius
                outside = abs(truth - setup.target_celsius) - setup.tolerance_celsius
                found.append((outside, told.developer.celsius - truth))

        options = RigOptions(
            Path(folder), sheet, usual(setup, seed, arrangement), script("scripted", arrangement),
            seed=seed,
        )  # fmt: skip
        rig = Rig(options, on_cue=heard)
        rigs.append(rig)
        end = rig.clock.now() + _LONGEST_SECONDS
        rig.student.begin()
        rig.turn_until(lambda: bool(found) or rig.clock.now() > end)
        rig.station.give_up()
        rig.station.turn()
        rig.close()
    return found[0] if found else None


def main() -> int:
    """Print one line for each arrangement."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--start", type=int, default=500)
    parser.add_argument("--arrangements", default=",".join(Arrangement))
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args()
    seeds = range(given.start, given.start + given.seeds)
    print(f"{'arrangement':<12} rolls  READY  outside  worst K  rms K of the believed developer")
    for name in given.arrangements.split(","):
        with Pool(given.workers) as pool:
            rolls = pool.map(roll, [(seed, name) for seed in seeds], chunksize=1)
        said = [one for one in rolls if one is not None]
        outside = [by for by, _ in said if by > 0.0]
        rms = math.sqrt(sum(error**2 for _, error in said) / max(1, len(said)))
        worst = max(outside, default=0.0)
        counts = f"{len(rolls):5d}  {len(said):5d}  {len(outside):7d}"
        print(f"{name:<12} {counts}  {worst:7.2f}  {rms:.3f}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
