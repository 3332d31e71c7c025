"""The linear part against filterpy (R. Labbe), and long steps against short ones."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from filterpy.kalman import KalmanFilter
from scipy.linalg import expm

from wetside.thermal import bank as banks
from wetside.thermal.bank import (
    BATH,
    DEVELOPER,
    EXPONENT,
    PROBE_A,
    SHARE,
    SIZE,
    TUBE_A,
    Bank,
    Medium,
)

_RATE, _LAG, _PART, _VARIANCE = 0.002, 9.0, 0.2, 0.03**2


def _one_hypothesis() -> Bank:
    """One hypothesis with known constant coupling: what is left of the model is linear."""
    mean = np.zeros((1, SIZE))
    mean[0, [DEVELOPER, BATH, TUBE_A, PROBE_A]] = [27.0, 19.0, 22.0, 22.0]
    mean[0, banks.SOURCE] = 19.0
    mean[0, banks.COUPLING] = math.log(_RATE)
    mean[0, SHARE] = math.log(0.1)
    covariance = np.zeros((1, SIZE, SIZE))
    for index, sd in ((DEVELOPER, 2.0), (BATH, 1.0), (TUBE_A, 0.5), (PROBE_A, 0.4)):
        covariance[0, index, index] = sd**2
    walk = np.zeros((1, SIZE))
    walk[0, [DEVELOPER, BATH, TUBE_A, PROBE_A]] = [1e-6, 4e-6, 2e-5, 1e-5]
    return Bank(mean, covariance, np.zeros(1), np.zeros(1), walk, np.ones(1), np.zeros(1))


def test_update_agrees_with_filterpy() -> None:
    """Sixty readings leave the same means and covariance as filterpy's Kalman filter."""
    states = [DEVELOPER, BATH, TUBE_A, PROBE_A]
    bank = _one_hypothesis()
    other = KalmanFilter(dim_x=4, dim_z=1)
    other.x = bank.mean[0, states].reshape(4, 1)
    other.P = bank.covariance[0][np.ix_(states, states)]
    gain, share = -math.expm1(-_RATE), 0.1
    # tube and sensor, in what stays the same for a second: the matrix exponential of the chain
    slow, fast = _LAG * (1.0 - _PART), _LAG * _PART
    chain = expm(np.array([[-1 / slow, 0.0], [1 / fast, -1 / fast]]))
    follows = 1.0 - chain.sum(axis=1)
    # they follow the mean of the developer before and after the step
    half = 0.5 * follows * gain
    other.F = np.zeros((4, 4))
    other.F[0, :2] = 1.0 - gain, gain
    other.F[1, :2] = share * gain, 1.0 - share * gain
    other.F[2:, 0], other.F[2:, 1], other.F[2:, 2:] = follows - half, half, chain
    other.H = np.array([[0.0, 0.0, 0.0, 1.0]])
    other.Q = np.diag(bank.walk[0, states])
    other.R = np.array([[_VARIANCE]])
    random = np.random.default_rng(3)
    medium = (Medium(PROBE_A, DEVELOPER, _LAG, sensor_part=_PART),)
    for second in range(60):
        reading = 22.0 + 4.0 * (1.0 - math.exp(-second / 9.0)) + 0.03 * random.standard_normal()
        bank = banks.correct(banks.predict(bank, 1.0, medium), PROBE_A, reading, _VARIANCE)
        other.predict()
        other.update(np.array([[reading]]))
    assert other.x[:, 0] == pytest.approx(bank.mean[0, states], abs=1e-6)
    ours = bank.covariance[0][np.ix_(states, states)]
    assert np.sqrt(np.diag(other.P)) == pytest.approx(np.sqrt(np.diag(ours)), rel=1e-6)


def test_one_long_step_equals_many_short_ones() -> None:
    """A gap of two minutes is carried like 120 readings' worth of single seconds."""
    bank = _one_hypothesis()
    medium = (Medium(PROBE_A, DEVELOPER, _LAG, sensor_part=_PART),)
    short = bank
    for _ in range(120):
        short = banks.predict(short, 1.0, medium)
    long = banks.predict(bank, 120.0, medium)
    assert short.mean[0] == pytest.approx(long.mean[0], abs=0.02)


def test_slope_of_the_step_is_that_of_differences() -> None:
    """The covariance of one step follows the numerical derivative of the equations."""
    bank = _one_hypothesis()
    mean = bank.mean.copy()
    mean[0, EXPONENT] = 0.2
    spread = 1e-3
    covariance = np.eye(SIZE)[None] * spread**2
    start = replace(
        bank,
        mean=mean,
        covariance=covariance,
        pull=np.full(1, 0.01),
        walk=np.zeros((1, SIZE)),
    )
    medium = (Medium(PROBE_A, DEVELOPER, _LAG, sensor_part=_PART),)
    columns = []
    for index in range(SIZE):
        sides = []
        for sign in (1.0, -1.0):
            moved = mean.copy()
            moved[0, index] += sign * 1e-5
            sides.append(banks.predict(replace(start, mean=moved), 1.0, medium).mean[0])
        columns.append((sides[0] - sides[1]) / 2e-5)
    slope = np.array(columns).T
    expected = slope @ slope.T
    actual = banks.predict(start, 1.0, medium).covariance[0] / spread**2
    assert expected == pytest.approx(actual, abs=2e-4)
