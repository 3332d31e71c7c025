"""What an error of the probe alone costs: the answer of somebody who can read ahead.

It knows what its probe, settled and without noise, will read at every moment to come, and so needs
no model of the sink. It does not know how far the probe is off, nor how far the layer around
it is from the container's mean, which is what gets poured. It believes the readings as they are,
with offsets drawn from what all probes of the benchmark have.
"""

from __future__ import annotations

import numpy as np
from forecast.bound import OFFSET_SD
from forecast.cases import Case
from forecast.simple import Forecast, from_samples

_DRAWS = 201


def read_ahead(case: Case) -> list[Forecast | None]:
    """Forecast at each of the questions of a case whose first probe stays in the developer."""
    setup, probe = case.plan.setup, case.plan.probes[0]
    offsets = np.random.default_rng(3).normal(0.0, OFFSET_SD, _DRAWS - 1)
    draws = np.concatenate([[0.0], offsets - offsets.mean()])[:, None]
    answers: list[Forecast | None] = []
    for question in case.questions:
        read = case.path.tip_developer[int(question.seconds) :] + probe.offset_celsius
        inside = np.abs(read - draws - setup.target_celsius) <= setup.tolerance_celsius
        wait = np.where(inside.any(axis=1), inside.argmax(axis=1).astype(float), np.inf)
        answers.append(from_samples(wait))
    return answers
