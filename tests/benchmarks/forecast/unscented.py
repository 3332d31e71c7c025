"""A plain filterpy unscented filter: five or six states, an hour's work.

Its noise levels are the best of thirteen settings
tried on 100 tuning seeds: it expects a bath a little beyond the target, as people set it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from filterpy.kalman import MerweScaledSigmaPoints, UnscentedKalmanFilter
from forecast.simple import Forecast, from_samples

from wetside.outlook import HORIZON_SECONDS, Setup
from wetside.readings import Place, Reading

Floats = npt.NDArray[np.float64]
LAG_SECONDS = 12.0
_READ_SD = 0.1


def _move(x: Floats, dt: float, place: Place) -> Floats:
    """State (developer, bath, log coupling, log lag, one or two probes) after ``dt`` seconds."""
    developer, bath = x[0], x[1]
    out = x.copy()
    out[0] = bath + (developer - bath) * math.exp(-math.exp(min(0.0, x[2])) * dt)
    kept = math.exp(-dt / math.exp(min(4.0, max(1.0, x[3]))))
    for probe in range(4, len(x)):
        met = bath if (place is Place.BATH and len(x) == 5) or probe == 5 else developer
        out[probe] = met + (x[probe] - met) * kept
    return out


class Unscented:
    """Filter over a recording whose places are told."""

    def __init__(self, setup: Setup, first: float, probes: int) -> None:
        size = 4 + probes
        points = MerweScaledSigmaPoints(size, alpha=0.5, beta=2.0, kappa=0.0)
        self.filter = UnscentedKalmanFilter(
            dim_x=size, dim_z=1, dt=1.0, hx=lambda x: x[4:5], fx=_move, points=points
        )
        way = setup.target_celsius - first
        bath = setup.target_celsius + math.copysign(1.5, way)
        self.filter.x = np.array(
            [first, bath, math.log(1 / 800.0), math.log(LAG_SECONDS)] + [first] * probes
        )
        spread = max(2.5, 0.3 * abs(way))
        self.filter.P = np.diag([9.0, spread**2, 0.5, 0.2] + [0.04] * probes)
        self.filter.R = np.array([[_READ_SD**2]])
        self.noise = np.array([1e-6, 1e-5, 1e-5, 1e-7] + [1e-6] * probes)
        self.seconds: float | None = None

    def feed(self, row: Reading, which: int) -> None:
        """Take one reading of probe ``which`` in; both probes of a pair belong to one moment."""
        if row.celsius is None or row.celsius in {85.0, 0.0} or row.place is Place.AIR:
            return
        dt = 0.0 if self.seconds is None else max(0.0, row.seconds - self.seconds)
        self.seconds = row.seconds if self.seconds is None else max(self.seconds, row.seconds)
        self.filter.Q = np.diag(self.noise * max(dt, 1e-3))
        self.filter.P = 0.5 * (self.filter.P + self.filter.P.T) + 1e-10 * np.eye(len(self.noise))
        self.filter.predict(dt=dt, place=row.place)
        self.filter.update(np.array([row.celsius]), hx=lambda x: x[4 + which : 5 + which])

    def forecast(self, setup: Setup) -> Forecast:
        """Waiting times of 300 draws of the state, the bath held."""
        rng = np.random.default_rng(1)
        x = rng.multivariate_normal(self.filter.x, self.filter.P, 300, check_valid="ignore")
        developer, bath, rate = x[:, 0], x[:, 1], np.exp(np.minimum(0.0, x[:, 2]))
        short = setup.target_celsius - developer
        goal = setup.target_celsius - np.copysign(setup.tolerance_celsius, short)
        with np.errstate(all="ignore"):
            ratio = (goal - bath) / (developer - bath)
            wait = np.where((ratio > 0) & (ratio < 1), -np.log(ratio) / rate, np.inf)
        wait = np.where(np.abs(short) <= setup.tolerance_celsius, 0.0, wait)
        return from_samples(np.where(wait > HORIZON_SECONDS, np.inf, wait))


def run_unscented(
    setup: Setup, rows: Sequence[Reading], moments: Sequence[float]
) -> list[Forecast | None]:
    """Forecasts at the given moments (rising), each from the readings up to then."""
    fine = [row for row in rows if row.celsius is not None]
    names = sorted({row.probe for row in fine})
    if not fine or fine[0].celsius is None:
        return [None] * len(moments)
    model = Unscented(setup, fine[0].celsius, len(names))
    answers: list[Forecast | None] = []
    position = 0
    for moment in moments:
        try:
            while position < len(rows) and rows[position].seconds <= moment:
                model.feed(rows[position], names.index(rows[position].probe))
                position += 1
            answers.append(model.forecast(setup))
        except np.linalg.LinAlgError:
            answers.append(None)
    return answers
