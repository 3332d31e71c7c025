"""One seed: make its cases (or take them from the cache) and ask every method."""

from __future__ import annotations

import hashlib
import os
import pickle
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from forecast import ahead, bound, candidate, cases, draw, simple, unscented
from forecast.score import Record, record

import wetside.sim

CANDIDATE = "wetside"
UNTOLD = "wetside untold"
BOUND = "bound"
AHEAD = "reads ahead"
OPEN: dict[str, simple.Method] = {
    "straight line": simple.straight_line,
    "free exponential": simple.free_exponential,
    "damped trend": simple.damped_trend,
}
HIDDEN: dict[str, simple.Method] = {"fixed constant": simple.fixed_constant}
UNSCENTED = "unscented"
METHODS = (CANDIDATE, UNTOLD, *OPEN, *HIDDEN, UNSCENTED, AHEAD, BOUND)
KINDS = draw.PHYSICAL + draw.DIRT


@dataclass(frozen=True, slots=True)
class Job:
    """What to do with one seed; ``disturbance`` "any" takes kinds in turn."""

    seed: int
    arrangements: tuple[str, ...]
    methods: tuple[str, ...]
    disturbance: str | None
    cache: Path | None
    true_probes: bool = False


def _version() -> str:
    """Digest of the code that makes cases: another physics is another cache."""
    here = Path(__file__).parent
    files = [here / "cases.py", here / "draw.py", here / "bound.py"]
    files += sorted(Path(wetside.sim.__path__[0]).glob("*.py"))
    names = {
        "cases.py",
        "draw.py",
        "bound.py",
        "physics.py",
        "sink.py",
        "film.py",
        "water.py",
        "probe.py",
    }
    digest = hashlib.sha256()
    for file in files:
        if file.name in names:
            digest.update(file.read_bytes())
    return digest.hexdigest()[:12]


def _cases(job: Job) -> tuple[list[cases.Case], bound.Sensitivity | None]:
    kind = KINDS[job.seed % len(KINDS)] if job.disturbance == "any" else job.disturbance
    wanted = BOUND in job.methods
    file = None
    if job.cache is not None:
        parts = (job.seed, kind, wanted, job.true_probes, "+".join(job.arrangements))
        name = "-".join([_version(), *(str(part).replace(" ", "_") for part in parts)])
        file = job.cache / f"{name}.pickle"
        if file.exists():
            made: tuple[list[cases.Case], bound.Sensitivity | None] = pickle.loads(
                file.read_bytes()
            )
            return made
    some = cases.make(job.seed, job.arrangements, kind, true_probes=job.true_probes)
    more = bound.sensitivity(some[0].plan, cases.NEVER_SECONDS) if wanted else None
    if file is not None:
        file.parent.mkdir(parents=True, exist_ok=True)
        part = file.with_suffix(f".{os.getpid()}")
        part.write_bytes(pickle.dumps((some, more)))
        part.replace(file)
    return some, more


def _answers(
    case: cases.Case, method: str, more: bound.Sensitivity | None
) -> Sequence[simple.Forecast | None] | None:
    setup, rows = case.plan.setup, case.readings
    moments = [q.seconds for q in case.questions]
    hidden = case.arrangement in {"dip", "check dip"}
    if method in {CANDIDATE, UNTOLD}:
        return candidate.run_candidate(setup, rows, moments, told=method == CANDIDATE)
    if method == UNSCENTED:
        return unscented.run_unscented(setup, rows, moments)
    if method == AHEAD:
        return None if hidden else ahead.read_ahead(case)
    if method == BOUND:
        return None if more is None else bound.run_bound(case, more)
    ask = OPEN.get(method) if not hidden else None
    if case.arrangement != "developer":
        ask = ask or HIDDEN.get(method)
    if ask is None:
        return None
    return [ask(setup, [r for r in rows if r.seconds <= m], m) for m in moments]


def work(job: Job) -> list[Record]:
    """Records of all methods on all arrangements of one seed."""
    some, more = _cases(job)
    records = []
    for case in some:
        event = case.plan.event
        for method in job.methods:
            answers = _answers(case, method, more)
            if answers is None:
                continue
            for question, said in zip(case.questions, answers, strict=True):
                where = (
                    case.seed,
                    case.arrangement,
                    event.what if event else None,
                    question.label,
                )
                records.append(record(where, method, question.ready_in, question.leaves_in, said))
    return records
