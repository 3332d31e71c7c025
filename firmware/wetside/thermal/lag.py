"""What one probe says about the medium it is in, before the probe has settled.

A steel tube follows its medium with a lag of some seconds. A small bank over possible lags
carries three numbers (temperature of the medium, its slope, temperature of the probe) and so
reads the medium through the lag of a short dip. What it learns about the lag is kept over
moves, spells in air among them. Once the probe has settled, lag and slope cannot be told apart and
the weights rest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Seconds. In water 7-12 s measured for DS18B20 tubes, up to 30 s unstirred or sleeved: density of
#: the logarithm at these lags, straight between them.
_KNOTS = np.log([3.6, 4.0, 5.5, 7.0, 8.5, 10.0, 12.0, 15.0, 20.0, 28.0, 32.0])
_DENSITY = np.array([0.0, 0.07, 0.18, 0.68, 1.05, 1.15, 0.85, 0.45, 0.25, 0.12, 0.0])
#: Neighbours differ by 6 %, so that none is off by more than 3 % from what is between them.
_LIQUID_LAGS = np.exp(np.arange(np.log(4.0), np.log(29.0), 0.06))
_AIR_LAGS = np.array([60.0, 120.0])
_KINDS = len(_LIQUID_LAGS) + len(_AIR_LAGS)
#: Each stands twice: the second time for a probe that has settled before its first reading.
LAGS = np.tile(np.concatenate([_LIQUID_LAGS, _AIR_LAGS]), 2)
_LIQUID_PRIOR = np.interp(np.log(_LIQUID_LAGS), _KNOTS, _DENSITY)
_PRIOR = np.log(np.tile(np.concatenate([_LIQUID_PRIOR / _LIQUID_PRIOR.sum(), [0.5, 0.5]]), 2))
_LOG_LAGS = np.log(LAGS)
_LIQUID = LAGS < 40.0
_SETTLED = np.arange(2 * _KINDS) >= _KINDS
_EXCLUDED = -60.0
#: Rooms that darkrooms are in, and the developers and baths in them: middle and spread, degC.
ROOM_CELSIUS = 21.0
_ROOM_SD, _ROOM_SLOPE_SD = 4.0, 0.0002
_LIQUID_SD = 6.0
_WILD = 5.0

_UNKNOWN_KELVIN, _SETTLED_KELVIN = 7.0, 0.3
_SLOPE_SD = 0.02
# A liquid changes under the probe; a room hardly does.
_WALK = np.where(_LIQUID[:, None], [0.01, 0.0005, 0.006], [0.003, 0.00001, 0.006]) ** 2
_MEDIUM, _SLOPE, _PROBE = range(3)


@dataclass(frozen=True, slots=True)
class LagBank:
    """Bank over the K lags of :data:`LAGS`.

    Attributes
    ----------
    mean : (K, 3) array
        Medium (degC), its slope (K/s), probe (degC).
    covariance : (K, 3, 3) array
    log_weight : (K,) array
    log_evidence
        Logarithm of the probability density of all readings so far.
    surprise
        Latest reading against what was expected of it, in standard deviations.
    most_fitting
        Most fitting single lag in a liquid, seconds (geometric mean), and sd of its logarithm.
    kept
        Of a probe in air: the log weights that its time in liquids left, (K,).
    """

    mean: Array
    covariance: Array
    log_weight: Array
    log_evidence: float = 0.0
    surprise: float = 0.0
    most_fitting: tuple[float, float] = (0.0, 0.0)
    kept: Array | None = None


def fresh(
    celsius: float,
    learnt: LagBank | None = None,
    *,
    liquid: bool = True,
    first: bool = False,
    medium: tuple[float, float] | None = None,
) -> LagBank:
    """Begin with the probe at ``celsius`` in a liquid, or in room air.

    ``medium`` is what is expected of the liquid (degC, sd), None for any temperature;
    ``first`` says that this is the first reading ever: the probe may have settled before it.
    """
    count = len(LAGS)
    mean = np.zeros((count, 3))
    mean[:, _MEDIUM] = mean[:, _PROBE] = celsius
    medium_sd = np.where(_SETTLED, _SETTLED_KELVIN, _UNKNOWN_KELVIN)
    log_weight, known = _PRIOR.copy(), _PRIOR
    if learnt is not None:
        known = learnt.log_weight if learnt.kept is None else learnt.kept
        halves = np.logaddexp(known[:_KINDS], known[_KINDS:])
        log_weight = 0.5 * (log_weight + np.tile(halves, 2))
    log_weight[liquid != _LIQUID] = _EXCLUDED
    unusual = (celsius - ROOM_CELSIUS) / (_LIQUID_SD if liquid else _ROOM_SD)
    log_weight[_SETTLED] -= 0.5 * unusual**2 if first else -_EXCLUDED
    slope_sd = _SLOPE_SD
    if medium is not None:
        mean[:, _MEDIUM], medium_sd = medium[0], np.full(count, medium[1])
    if not liquid:
        mean[~_SETTLED, _MEDIUM] = ROOM_CELSIUS
        medium_sd[~_SETTLED] = _ROOM_SD
        slope_sd = _ROOM_SLOPE_SD
    covariance = np.zeros((count, 3, 3))
    covariance[:, _MEDIUM, _MEDIUM] = medium_sd**2
    covariance[:, _SLOPE, _SLOPE] = slope_sd**2
    covariance[:, _PROBE, _PROBE] = 0.05**2
    log_weight -= log_weight.max()
    return LagBank(
        mean,
        covariance,
        log_weight,
        most_fitting=_most_fitting(log_weight),
        kept=None if liquid else known,
    )


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
    weight = np.exp(bank.log_weight - bank.log_weight.max())
    weight /= weight.sum()
    expected = weight @ mean[:, _PROBE]
    spread = weight @ (total + (mean[:, _PROBE] - expected) ** 2)
    surprise = float((celsius - expected) / np.sqrt(spread))
    if abs(surprise) > _WILD:
        total = total * (surprise / _WILD) ** 2
        gain = column / total[:, None]
    density = np.exp(-0.5 * innovation * innovation / total) / np.sqrt(2.0 * np.pi * total)
    log_weight = bank.log_weight + np.log(density + 1e-300)
    return LagBank(
        mean + gain * innovation[:, None],
        covariance - gain[:, :, None] * column[:, None, :],
        log_weight - log_weight.max(),
        bank.log_evidence + float(np.log(weight @ density + 1e-300)),
        surprise,
        _most_fitting(log_weight),
        bank.kept,
    )


def medium_estimate(bank: LagBank) -> tuple[float, float]:
    """Temperature of the medium and its standard deviation, degC."""
    weight = np.exp(bank.log_weight)
    weight /= weight.sum()
    values = bank.mean[:, _MEDIUM]
    middle = float(weight @ values)
    spread = float(weight @ (bank.covariance[:, _MEDIUM, _MEDIUM] + (values - middle) ** 2))
    return middle, spread**0.5


def _most_fitting(log_weight: Array) -> tuple[float, float]:
    wet = log_weight[_LIQUID]
    weight = np.exp(wet - wet.max())
    weight /= weight.sum()
    values = _LOG_LAGS[_LIQUID]
    middle = float(weight @ values)
    spread = float(weight @ (values - middle) ** 2)
    return math.exp(middle), math.sqrt(spread)
