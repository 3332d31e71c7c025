"""A bound: the answer of somebody who knows the sink, but not the first temperatures.

It knows every parameter of the physics, the probe's lag and noise level and everything that
hands will do, also later. Unknown are the developer's and the bath's first temperature and the
probes' offsets. Around the truth these are estimated from the readings by linear least squares
with a prior; forecasts are draws from that answer. No honest method can do better on average.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from forecast.cases import Case, Floats, Path, begun_at, inside_probe, places_of, salt_of, walk
from forecast.draw import Plan
from forecast.simple import Forecast, from_samples

from wetside.outlook import Quantiles

DELTA = 0.5
OFFSET_SD = 0.11  # of all probes that draw.py draws, taken together
_STEP = 2


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """The sink again with another first temperature of developer and of bath."""

    developer: Path
    bath: Path


def sensitivity(plan: Plan, seconds: int) -> Sensitivity:
    """Two more walks of the same plan."""
    return Sensitivity(
        walk(plan, seconds, developer_more=DELTA), walk(plan, seconds, bath_more=DELTA)
    )


def run_bound(case: Case, more: Sensitivity) -> list[Forecast | None]:
    """Forecast at each of the case's questions."""
    places = places_of(case)
    count = 2 + len(places)
    truth = []
    slopes = []
    for which, path in enumerate(places):
        first = case.plan.bath_celsius if which else begun_at(case.plan, salt_of(case))
        base = inside_probe(case.plan, case.path, path, which, first)
        columns = [
            (inside_probe(case.plan, other, path, which, first) - base) / DELTA
            for other in (more.developer, more.bath)
        ]
        truth.append(base + case.plan.probes[which].offset_celsius)
        slopes.append(columns)
    design, misses, weights, seconds = _table(case, truth, slopes, count)
    answers: list[Forecast | None] = []
    for question in case.questions:
        seen = seconds <= question.seconds
        prior = np.diag([1 / 10.0**2, 1 / 10.0**2] + [1 / OFFSET_SD**2] * len(places))
        known = np.array(
            [0.0, 0.0] + [case.plan.probes[w].offset_celsius for w in range(len(places))]
        )
        a, w = design[seen], weights[seen]
        precision = prior + (a * w[:, None]).T @ a
        # deviations are from the truth; the prior of an offset is centred on zero, not on it
        mean = np.linalg.solve(precision, (a * w[:, None]).T @ misses[seen] - prior @ known)
        covariance: Floats = np.linalg.inv(precision)[:2, :2].astype(np.float64)
        answers.append(_cast(case, more, mean[:2], covariance, question.seconds))
    return answers


def _table(
    case: Case, truth: list[Floats], slopes: list[list[Floats]], count: int
) -> tuple[Floats, Floats, Floats, Floats]:
    rows = [r for r in case.readings if r.celsius is not None and r.celsius not in {85.0, 0.0}]
    design = np.zeros((len(rows), count))
    misses, weights = np.empty(len(rows)), np.empty(len(rows))
    for i, row in enumerate(rows):
        which = int(row.probe[-1]) - 1
        now = int(row.seconds)
        design[i, 0], design[i, 1] = slopes[which][0][now], slopes[which][1][now]
        design[i, 2 + which] = 1.0
        misses[i] = (row.celsius or 0.0) - truth[which][now]
        weights[i] = 1.0 / (case.plan.probes[which].noise_sd ** 2 + 0.0625**2 / 12)
    return design, misses, weights, np.array([row.seconds for row in rows])


def _cast(
    case: Case, more: Sensitivity, mean: Floats, covariance: Floats, seconds: float
) -> Forecast:
    setup = case.plan.setup
    span = slice(int(seconds), None, _STEP)
    base = case.path.developer[span]
    slope = np.stack([more.developer.developer[span] - base, more.bath.developer[span] - base])
    rng = np.random.default_rng(2)
    draws = rng.multivariate_normal(mean, covariance, 200, check_valid="ignore")
    inside = (
        np.abs(base + draws @ (slope / DELTA) - setup.target_celsius) <= setup.tolerance_celsius
    )
    reached = inside.any(axis=1)
    first = inside.argmax(axis=1)
    wait = np.where(reached, first * float(_STEP), np.inf)
    forecast = from_samples(wait)
    index = np.arange(inside.shape[1])
    gone = ~inside & (index[None, :] > first[:, None])
    leaves = np.where(reached & gone.any(axis=1), gone.argmax(axis=1) * float(_STEP), np.inf)
    later: Quantiles = from_samples(leaves).ready_in
    return Forecast(forecast.ready_in, forecast.never, later)
