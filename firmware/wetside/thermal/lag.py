"""What one probe says about the medium it is in, before the probe has settled.

A steel tube follows its medium with a lag of some seconds. A small bank over possible lags
carries the probe's and the medium's temperature (two numbers, Gaussian) and so reads the
medium through the lag of a short dip. What it learns about the lag is kept over moves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Lags in water (seconds): 7-12 s measured for DS18B20 tubes, up to 30 s unstirred or sleeved.
WATER_LAGS = np.array([4.0, 5.5, 7.0, 8.5, 10.0, 12.0, 15.0, 20.0, 28.0])
_PRIOR = np.log(np.array([0.04, 0.08, 0.17, 0.2, 0.2, 0.16, 0.08, 0.05, 0.02]))
_LOG_LAGS = np.log(WATER_LAGS)

_UNKNOWN_KELVIN = 7.0
_MEDIUM_WALK = 0.03**2
_PROBE_WALK = 0.01**2


@dataclass(frozen=True, slots=True)
class LagBank:
    """Bank over :data:`WATER_LAGS`; arrays have one entry for each lag.

    ``medium``/``probe`` are means in degC; ``mm``, ``mp``, ``pp`` the covariance in K2.
    """

    medium: Array
    probe: Array
    mm: Array
    mp: Array
    pp: Array
    log_weight: Array


def fresh(celsius: float, learnt: LagBank | None = None) -> LagBank:
    """Begin in an unknown medium with the probe at ``celsius``."""
    ones = np.ones_like(WATER_LAGS)
    log_weight = _PRIOR if learnt is None else 0.5 * learnt.log_weight + 0.5 * _PRIOR
    return LagBank(
        ones * celsius,
        ones * celsius,
        ones * _UNKNOWN_KELVIN**2,
        ones * 0.0,
        ones * 0.04**2,
        log_weight,
    )


def follow(bank: LagBank, seconds: float, celsius: float, variance: float) -> LagBank:
    """Advance by ``seconds`` and take a reading with ``variance`` (K2) in."""
    keep = np.exp(-seconds / WATER_LAGS)
    settle = 1.0 - keep
    probe = bank.probe + settle * (bank.medium - bank.probe)
    pp = keep * keep * bank.pp + 2 * keep * settle * bank.mp + settle * settle * bank.mm
    pp = pp + _PROBE_WALK * seconds
    mp = keep * bank.mp + settle * bank.mm
    mm = bank.mm + _MEDIUM_WALK * seconds
    total = pp + variance
    innovation = celsius - probe
    gain_m, gain_p = mp / total, pp / total
    log_weight = bank.log_weight - 0.5 * (innovation * innovation / total + np.log(total))
    return LagBank(
        bank.medium + gain_m * innovation,
        probe + gain_p * innovation,
        mm - gain_m * mp,
        mp - gain_m * pp,
        pp - gain_p * pp,
        log_weight - log_weight.max(),
    )


def medium_estimate(bank: LagBank) -> tuple[float, float]:
    """Temperature of the medium and its standard deviation, degC."""
    weight = np.exp(bank.log_weight)
    weight /= weight.sum()
    middle = float(weight @ bank.medium)
    spread = float(weight @ (bank.mm + (bank.medium - middle) ** 2))
    return middle, spread**0.5


def lag_estimate(bank: LagBank) -> float:
    """Most fitting single lag, seconds (geometric mean)."""
    weight = np.exp(bank.log_weight)
    return float(np.exp(weight @ _LOG_LAGS / weight.sum()))
