"""What finished runs say about a container: normal prior, normal evidence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from wetside.thermal.priors import Prior

#: Spread of log k from run to run in one container: filling, depth, still or running bath.
BETWEEN_RUNS_SD = 0.15


def learn(prior: Prior, couplings: Sequence[tuple[float, float]]) -> Prior:
    """Prior for the next run from (log coupling, sd) of finished ones, see ``coupling_of``.

    The container's own mean is a normal unknown with the given prior; each run measures it with
    its own error and :data:`BETWEEN_RUNS_SD`. What is returned predicts the next run, so its sd
    never falls below :data:`BETWEEN_RUNS_SD`. To forget, use the prior of the bare setup again.
    """
    precision = 1.0 / prior.log_coupling_sd**2
    weighted = precision * prior.log_coupling
    for value, sd in couplings:
        weight = 1.0 / (sd**2 + BETWEEN_RUNS_SD**2)
        precision += weight
        weighted += weight * value
    spread = math.hypot(math.sqrt(1.0 / precision), BETWEEN_RUNS_SD if couplings else 0.0)
    return replace(
        prior,
        log_coupling=weighted / precision,
        log_coupling_sd=min(spread, prior.log_coupling_sd),
        runs=prior.runs + len(couplings),
    )
