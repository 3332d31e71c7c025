"""Forecast benchmark: many randomised sinks, several methods, one table, one picture.

    python tests/benchmarks/forecast/run.py --seeds 200 --start 0 --out build/forecast
    python tests/benchmarks/forecast/run.py --seeds 40 --methods wetside --arrangements developer
    python tests/benchmarks/forecast/run.py --seeds 90 --disturbances --out build/disturbed
    python tests/benchmarks/forecast/run.py --measured --out build/measured

Seeds 0 to 999 are for tuning, those from 100000 on for published figures only.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import sys
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded: workers share few cores
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from forecast import measured, metrics, plot, score, work
from forecast.cases import ARRANGEMENTS

TUNING = range(1000)
HELD_OUT = 100_000


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    add = parser.add_argument
    add("--seeds", type=int, default=100, help="how many sinks")
    add("--start", type=int, default=0, help="first seed")
    add("--out", type=Path, default=Path("build/forecast"), help="folder for table, JSON and PNG")
    add("--methods", default=",".join(work.METHODS), help="comma-separated, see the table")
    add("--arrangements", default=",".join(ARRANGEMENTS), help="comma-separated")
    add("--disturbances", nargs="?", const="any", help="one disturbance a sink (or a named kind)")
    add("--true-probes", action="store_true", help="probes without offset")
    add("--measured", action="store_true", help="only the measured series")
    add("--workers", type=int, default=1)
    add("--no-cache", action="store_true", help="make every case anew")
    return parser.parse_args()


def _records(jobs: Sequence[work.Job], workers: int) -> Iterator[list[score.Record]]:
    if workers <= 1:
        yield from map(work.work, jobs)
        return
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        yield from pool.imap_unordered(work.work, jobs, chunksize=2)


def _range_word(start: int, count: int) -> str:
    if start >= HELD_OUT:
        return "held-out seeds"
    return "tuning seeds" if start + count <= len(TUNING) else "neither tuning nor held-out seeds"


def _by_kind(records: Sequence[score.Record]) -> str:
    """Errors of wetside at each moment after each kind of disturbance."""
    groups: dict[tuple[str, str, str], list[score.Record]] = defaultdict(list)
    for r in records:
        if r.method == work.CANDIDATE and r.truth is not None:
            groups[r.arrangement, r.disturbance or "", r.label].append(r)
    text = ["", f"{work.CANDIDATE} after each disturbance: mean capped error / coverage (n)"]
    for arrangement, kind in dict.fromkeys(key[:2] for key in sorted(groups)):
        cells = []
        for label in ("+10", "+30", "+60", "+120"):
            some = [(r, r.truth or 0.0) for r in groups.get((arrangement, kind, label), [])]
            error = metrics.mean(metrics.relative_error(r.ready_in[1], t) for r, t in some)
            cover = metrics.mean(metrics.covered(r.quantiles, t) for r, t in some)
            cells.append(f"{label}: {error:5.2f} /{cover:5.0%} ({len(some)})")
        text.append(f"  {arrangement:<12} {kind:<12} " + "  ".join(cells))
    return "\n".join(text)


def _calibration(records: Sequence[score.Record]) -> str:
    text = [
        "",
        f"never said by {work.CANDIDATE}: mean said / happened (n), by bins of what was said",
    ]
    for arrangement in dict.fromkeys(r.arrangement for r in records):
        pairs = [
            (r.never, r.truth is None)
            for r in records
            if r.method == work.CANDIDATE and r.arrangement == arrangement
        ]
        bins = [f"{a:.2f}/{b:.2f} ({n})" for _, a, b, n in metrics.reliability(pairs) if n]
        text.append(f"  {arrangement:<12} " + "  ".join(bins))
    return "\n".join(text)


def main() -> int:
    """Run what the arguments ask for."""
    given = _arguments()
    os.nice(10)
    given.out.mkdir(parents=True, exist_ok=True)
    if given.measured:
        text, rows = measured.report()
        (given.out / "measured.json").write_text(json.dumps(rows, indent=1), encoding="utf-8")
        (given.out / "measured.txt").write_text(text + "\n", encoding="utf-8")
        print(text)
        return 0
    methods = tuple(name.strip() for name in given.methods.split(","))
    unknown = [m for m in methods if m not in work.METHODS]
    if unknown:
        print(
            f"unknown method {unknown[0]!r}; there are: {', '.join(work.METHODS)}", file=sys.stderr
        )
        return 2
    arrangements = tuple(a.strip() for a in given.arrangements.split(","))
    cache = None if given.no_cache else Path("build/forecast_cases")
    seeds = range(given.start, given.start + given.seeds)
    jobs = [
        work.Job(s, arrangements, methods, given.disturbances, cache, given.true_probes)
        for s in seeds
    ]
    begun = time.monotonic()
    records: list[score.Record] = []
    for done, some in enumerate(_records(jobs, given.workers), 1):
        records += some
        if sys.stderr.isatty() or done % 25 == 0:
            print(f"{done}/{len(jobs)} sinks, {time.monotonic() - begun:.0f} s", file=sys.stderr)
    labels = ("+10", "+30", "+60", "+120") if given.disturbances else ("25", "50", "75")
    scores = score.lines(records, work.METHODS)
    word = _range_word(given.start, given.seeds)
    title = f"{given.seeds} sinks, seeds {seeds.start} to {seeds.stop - 1} ({word})"
    if given.true_probes:
        title += ", probes without offset"
    text = f"{title}\n\n{score.table(scores, labels)}"
    if given.disturbances:
        text += "\n" + _by_kind(records)
    if work.CANDIDATE in methods:
        text += "\n" + _calibration(records)
    print(text)
    records.sort(key=lambda r: (r.seed, r.arrangement, r.method, r.label))
    (given.out / "table.txt").write_text(text + "\n", encoding="utf-8")
    (given.out / "scores.json").write_text(
        json.dumps({"title": title, "lines": [asdict(s) for s in scores]}, indent=1),
        encoding="utf-8",
    )
    with (given.out / "records.jsonl").open("w", encoding="utf-8") as file:
        file.writelines(json.dumps(asdict(r)) + "\n" for r in records)
    plot.draw(scores, labels, given.out / "forecast.png", title)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
