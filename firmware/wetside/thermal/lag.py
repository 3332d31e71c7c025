"""What one probe says about the medium it is in, before the probe has settled.

A steel tube follows its medium with a lag of some seconds. A small bank over possible lags
carries three numbers (temperature of the medium, its slope, temperature of the probe) and so
reads the medium through the lag of a short dip. What it learns about the lag is kept over
moves. Once the probe has settled, lag and slope cannot be told apart and the weights rest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Seconds. In water 7-12 s measured for DS18B20 tubes, up to 30 s unstirred or sleeved; the last
#: two are for still air.
LAGS = np.array([4.0, 5.5, 7.0, 8.5, 10.0, 12.0, 15.0, 20.0, 28.0, 60.0, 120.0])
_LIQUID = 9
_PRIOR = np.log(np.array([0.03, 0.07, 0.18, 0.22, 0.21, 0.16, 0.07, 0.04, 0.02, 0.03, 0.03]))
_LOG_LAGS = np.log(LAGS)
_EXCLUDED = -40.0

_UNKNOWN_KELVIN = 7.0
_SLOPE_SD = 0.02
_WALK = np.array([0.01, 0.0005, 0.006]) ** 2
_MEDIUM, _SLOPE, _PROBE = range(3)


@dataclass(frozen=True, slots=True)
class LagBank:
    """Bank over :data:`LAGS`.

    Attributes
    ----------
    mean : (11, 3) array
        Medium (degC), its slope (K/s), probe (degC).
    covariance : (11, 3, 3) array
    log_weight : (11,) array
    """

    mean: Array
    covariance: Array
    log_weight: Array


def fresh(celsius: float, learnt: LagBank | None = None, *, liquid: bool = True) -> LagBank:
    """Begin in an unknown medium with the probe at ``celsius``; ``liquid`` rules air out."""
    count = len(LAGS)
    mean = np.zeros((count, 3))
    mean[:, _MEDIUM] = mean[:, _PROBE] = celsius
    covariance = np.zeros((count, 3, 3))
    covariance[:, range(3), range(3)] = [_UNKNOWN_KELVIN**2, _SLOPE_SD**2, 0.05**2]
    log_weight = _PRIOR.copy()
    if learnt is not None:
        wet = learnt.log_weight[:_LIQUID]
        log_weight[:_LIQUID] = 0.5 * (wet - wet.max()) + 0.5 * (log_weight[:_LIQUID])
    if liquid:
        log_weight[_LIQUID:] = _EXCLUDED
    return LagBank(mean, covariance, log_weight)


def follow(bank: LagBank, seconds: float, celsius: float, variance: float) -> LagBank:
    """Advance by ``seconds`` and take a reading with ``variance`` (K2) in."""
    settle = 1.0 - np.exp(-seconds / LAGS)
    f = np.zeros_like(bank.covariance)
    f[:, range(3), range(3)] = 1.0
    f[:, _MEDIUM, _SLOPE] = seconds
    f[:, _PROBE, _PROBE] = 1.0 - settle
    f[:, _PROBE, _MEDIUM] = settle
    f[:, _PROBE, _SLOPE] = 0.5 * seconds * settle
    mean = (f @ bank.mean[:, :, None])[:, :, 0]
    covariance = f @ bank.covariance @ f.transpose(0, 2, 1)
    covariance[:, range(3), range(3)] += _WALK * seconds
    column = covariance[:, :, _PROBE]
    total = column[:, _PROBE] + variance
    innovation = celsius - mean[:, _PROBE]
    gain = column / total[:, None]
    log_weight = bank.log_weight - 0.5 * (innovation * innovation / total + np.log(total))
    return LagBank(
        mean + gain * innovation[:, None],
        covariance - gain[:, :, None] * column[:, None, :],
        log_weight - log_weight.max(),
    )


def medium_estimate(bank: LagBank) -> tuple[float, float]:
    """Temperature of the medium and its standard deviation, degC."""
    weight = np.exp(bank.log_weight)
    weight /= weight.sum()
    values = bank.mean[:, _MEDIUM]
    middle = float(weight @ values)
    spread = float(weight @ (bank.covariance[:, _MEDIUM, _MEDIUM] + (values - middle) ** 2))
    return middle, spread**0.5


def lag_estimate(bank: LagBank) -> float:
    """Most fitting single lag in a liquid, seconds (geometric mean)."""
    wet = bank.log_weight[:_LIQUID]
    weight = np.exp(wet - wet.max())
    return float(np.exp(weight @ _LOG_LAGS[:_LIQUID] / weight.sum()))


def slowness(bank: LagBank) -> float:
    """Probability that the probe follows as slowly as in air."""
    weight = np.exp(bank.log_weight)
    return float(weight[_LIQUID:].sum() / weight.sum())


def slope_estimate(bank: LagBank) -> float:
    """Slope of the medium, K/s."""
    weight = np.exp(bank.log_weight)
    return float(weight @ bank.mean[:, _SLOPE] / weight.sum())
