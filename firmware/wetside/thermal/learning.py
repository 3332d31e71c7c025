"""What finished runs say about a container, and the prior of the next run that follows.

``evidence_of`` studies the readings of one run that is over. ``learn`` pools what several runs
of one container said: a normal prior from the physics, normal evidence of each run, and how far
runs of one container lie apart, which is learnt from the same runs (empirical Bayes; C. N.
Morris, Journal of the American Statistical Association 78 (1983) 47).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from wetside.outlook import Setup
from wetside.readings import Reading
from wetside.thermal import bank as banks
from wetside.thermal.bank import COUPLING
from wetside.thermal.estimator import begin
from wetside.thermal.hindsight import Hindsight, hear
from wetside.thermal.priors import Prior, prior_for

#: Spread of log k from run to run in one container before any were seen: filling, depth, still
#: or running bath; and the spread of its own logarithm.
BETWEEN_RUNS_SD = 0.25
_BETWEEN_LOG_SD = 0.3
_BETWEEN_GRID = np.array([0.08, 0.12, 0.16, 0.2, 0.25, 0.3, 0.4, 0.5])
#: A run says something if it knows log k better than that (sd).
_TELLS_SD = 0.55
#: Evidence off by more than so many sd of its own counts as less sure than it says.
_ODD = 1.5


@dataclass(frozen=True, slots=True)
class Evidence:
    """What one run says of log k (k in 1/s), the prior it began with taken out again."""

    log_coupling: float
    sd: float


def evidence_of(setup: Setup, readings: Iterable[Reading]) -> Evidence | None:
    """Evidence of one run's tempering; None where it tells nothing worth keeping.

    Where no probe was in the bath, coupling and bath explain each other: such evidence lay 1.6
    times further from the truth than its sd says and made the next forecast worse (containers 430
    to 453 of the learning benchmark), so it is not kept.

    Parameters
    ----------
    setup
        As the run began; its wall and volume give the prior that is taken out again, so that
        nothing learnt from other runs is counted twice.
    readings
        Everything until the developer was poured, in the order of arrival.
    """
    prior = prior_for(setup)
    past = Hindsight(begin(setup, prior))
    for reading in readings:
        past = hear(past, reading)
    story = past.belief.story
    if story.bank is None or not story.bath_seen:
        return None
    middle, sd = banks.moments(story.bank, COUPLING)
    gained = 1.0 / sd**2 - 1.0 / prior.log_coupling_sd**2
    if gained < 1.0 / _TELLS_SD**2:
        return None
    said = (middle / sd**2 - prior.log_coupling / prior.log_coupling_sd**2) / gained
    return Evidence(said, gained**-0.5)


def learn(prior: Prior, runs: Sequence[Evidence]) -> Prior:
    """Prior for the next run of the container that these runs were made with.

    The container's own mean is a normal unknown with the given prior; each run measures it with
    its own error and the spread between runs. What is returned predicts the next run: it is
    never surer than that spread, nor less sure than ``prior``. To forget, use ``prior`` again.
    """
    if not runs:
        return prior
    between = _between_runs(prior, runs)
    sds = [one.sd for one in runs]
    middle, spread = prior.log_coupling, prior.log_coupling_sd
    for _ in range(3):
        precision = 1.0 / prior.log_coupling_sd**2
        weighted = precision * prior.log_coupling
        for one, sd in zip(runs, sds, strict=True):
            weight = 1.0 / (sd**2 + between**2)
            precision += weight
            weighted += weight * one.log_coupling
        middle, spread = weighted / precision, math.hypot(precision**-0.5, between)
        sds = [
            one.sd * max(1.0, abs(one.log_coupling - middle) / math.hypot(one.sd, between) / _ODD)
            for one in runs
        ]
    return replace(
        prior,
        log_coupling=middle,
        log_coupling_sd=min(spread, prior.log_coupling_sd),
        runs=prior.runs + len(runs),
    )


def _between_runs(prior: Prior, runs: Sequence[Evidence]) -> float:
    """Standard deviation of log k from run to run, from its own prior and these runs.

    Posterior mean square over a grid, the container's mean integrated out.
    """
    off = np.array([one.log_coupling - prior.log_coupling for one in runs])
    own = np.array([one.sd for one in runs]) ** 2
    logs = []
    for between in _BETWEEN_GRID:
        covariance = np.diag(own + between**2) + prior.log_coupling_sd**2
        away = math.log(between / BETWEEN_RUNS_SD) / _BETWEEN_LOG_SD
        misfit = float(off @ np.linalg.solve(covariance, off))
        logs.append(-0.5 * (misfit + float(np.linalg.slogdet(covariance)[1]) + away**2))
    weight = np.exp(np.array(logs) - max(logs))
    return math.sqrt(float(weight @ _BETWEEN_GRID**2) / float(weight.sum()))
