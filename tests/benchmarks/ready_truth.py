"""How often the developer really is in its window when the station calls READY.

    python tests/benchmarks/ready_truth.py --seeds 40 --start 500
    python tests/benchmarks/ready_truth.py --seeds 40 --start 500 --press-late 10

Whole rolls of the bench on virtual time, through the real libraries: a scripted student dips,
waits, dips again when asked, and pours; who presses late says so many seconds after each move
where the probe is. The truth is the simulated developer's mean.
"""

from __future__ import annotations

import argparse
import math
import os
import tempfile
from dataclasses import replace
from functools import partial
from multiprocessing import Pool
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded: workers share few cores

from wetside.commands.bench.rig import Rig, RigOptions
from wetside.session import sheetbook
from wetside.session.signals import Cue, CueName
from wetside.sim.scripts import script
from wetside.sim.situation import Arrangement, usual
from wetside.sim.student import Rule, Script, Verb

_LONGEST_SECONDS = 4000.0


def _pressing_late(by_the_book: Script, seconds: float) -> Script:
    """The same student, who presses ``probe`` so much later."""

    def later(rule: Rule) -> Rule:
        deeds = tuple(
            replace(deed, after=deed.after + seconds)
            if deed.verb is Verb.PRESS and deed.what == "probe"
            else deed
            for deed in rule.deeds
        )
        return replace(rule, deeds=deeds)

    return replace(by_the_book, rules=tuple(map(later, by_the_book.rules)))


def roll(job: tuple[int, str], press_late: float = 0.0) -> tuple[float, float] | None:
    """Kelvin that the developer is outside at READY, and its error then; None without READY."""
    seed, name = job
    student = _pressing_late(script("scripted", Arrangement(name)), press_late)
    arrangement = Arrangement(name)
    sheet = sheetbook.read(None).offers[0].sheet
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
            Path(folder), sheet, usual(setup, seed, arrangement), student, seed=seed,
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
    parser.add_argument("--press-late", type=float, default=0.0, metavar="SECONDS")
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args()
    seeds = range(given.start, given.start + given.seeds)
    print(f"{'arrangement':<12} rolls  READY  outside  worst K  rms K of the believed developer")
    for name in given.arrangements.split(","):
        with Pool(given.workers) as pool:
            one_roll = partial(roll, press_late=given.press_late)
            rolls = pool.map(one_roll, [(seed, name) for seed in seeds], chunksize=1)
        said = [one for one in rolls if one is not None]
        outside = [by for by, _ in said if by > 0.0]
        rms = math.sqrt(sum(error**2 for _, error in said) / max(1, len(said)))
        worst = max(outside, default=0.0)
        counts = f"{len(rolls):5d}  {len(said):5d}  {len(outside):7d}"
        print(f"{name:<12} {counts}  {worst:7.2f}  {rms:.3f}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
