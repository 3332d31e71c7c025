"""What one probe says about the medium it is in, before the probe has settled.

A steel tube follows its medium with a lag of some seconds, and the sensor follows the tube with a
part of it. A small bank over possible lags and parts carries four numbers (temperature of the
medium, its slope, of the tube, of the sensor) and so reads the medium through the lag of a short
dip. What it learns about the lag is kept over moves, spells in air among them. Once the probe has
settled, lag and slope cannot be told apart and the weights rest.
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
_LIQUID_LAGS = np.exp(np.arange(np.log(4.0), np.log(30.0), 0.06))
_AIR_LAGS = np.array([60.0, 120.0])
#: The sensor's part of the lag, with probabilities: about a third where water flows (half of a step
#: takes 0.42 of what 90 % takes; SAB Broeckskes), less where a still liquid keeps the tube waiting.
_SPLITS = (
    (0.01, 0.1),
    (0.05, 0.1),
    (0.09, 0.14),
    (0.14, 0.16),
    (0.2, 0.16),
    (0.28, 0.16),
    (0.37, 0.12),
    (0.47, 0.06),
)
_AIR_PART = 0.03
#: First what a probe on its way may have for a lag, then the same for one that has settled before
#: its first reading: there the parts make no difference.
_WET = len(_SPLITS) * len(_LIQUID_LAGS)
_MOVING = _WET + len(_AIR_LAGS)
LAGS = np.concatenate([np.tile(_LIQUID_LAGS, len(_SPLITS)), _AIR_LAGS, _LIQUID_LAGS, _AIR_LAGS])
_LIQUID = LAGS < 40.0
_SETTLED = np.arange(len(LAGS)) >= _MOVING
_PART = np.where(_LIQUID, _SPLITS[0][0], _AIR_PART)
_PART[:_WET] = np.repeat([part for part, _ in _SPLITS], len(_LIQUID_LAGS))
_TUBE_LAGS, _SENSOR_LAGS = LAGS * (1.0 - _PART), LAGS * _PART
_LIQUID_PRIOR = np.interp(np.log(_LIQUID_LAGS), _KNOTS, _DENSITY)
_LIQUID_PRIOR /= _LIQUID_PRIOR.sum()
_PRIOR = np.full(len(LAGS), math.log(0.5))
_PRIOR[:_WET] = np.log(np.outer([chance for _, chance in _SPLITS], _LIQUID_PRIOR).ravel())
_PRIOR[_SETTLED & _LIQUID] = np.log(_LIQUID_PRIOR)
#: Of the lags in liquids: 1, their logarithm, its square (about that of 10 s), the sensor's part.
_WET_ONES = np.flatnonzero(_LIQUID)
_LOG_MIDDLE = math.log(10.0)
_FITTED = np.log(LAGS[_WET_ONES]) - _LOG_MIDDLE
_FITTED = np.array([np.ones_like(_FITTED), _FITTED, _FITTED**2, _PART[_WET_ONES]])
_EXCLUDED = -60.0
#: Rooms that darkrooms are in, and the developers and baths in them: middle and spread, degC.
ROOM_CELSIUS = 21.0
_ROOM_SD, _ROOM_SLOPE_SD = 4.0, 0.0002
_LIQUID_SD = 6.0
_WILD = 5.0

_UNKNOWN_KELVIN, _SETTLED_KELVIN = 7.0, 0.3
_SLOPE_SD = 0.02
#: Open liquids hotter than this steam in puffs (K2/s, chosen on two measured beakers).
HOT_CELSIUS, _PUFFS = 45.0, 0.1**2
# A liquid changes under the probe; a room hardly does.
_WALK = (
    np.where(_LIQUID[:, None], [0.01, 0.0005, 0.003, 0.006], [0.003, 0.00001, 0.003, 0.006]).T ** 2
)
_MEDIUM, _SLOPE, _TUBE, _PROBE = range(4)
_SIZE = 4
#: What the tube may be off from the sensor before a move, K.
_TUBE_SD = 0.05
#: The first reading after a move comes so long after it (and sd), seconds: the tube has gone a part
#: of the way by then, the sensor hardly.
_SINCE_MOVE, _SINCE_MOVE_SD = 0.7, 0.5


@dataclass(frozen=True, slots=True)
class LagBank:
    """Bank over the K lags of :data:`LAGS`.

    Attributes
    ----------
    mean : (4, K) array
        Medium (degC), its slope (K/s), the probe's tube and its sensor (degC).
    covariance : (4, 4, K) array
    log_weight : (K,) array
    log_evidence
        Logarithm of the probability density of all readings so far.
    surprise
        Latest reading against what was expected of it, in standard deviations.
    most_fitting
        Most fitting single lag in a liquid, seconds (geometric mean), and sd of its logarithm.
    sensor_part
        The sensor's part of that lag, 0 to 0.5.
    kept
        Of a probe in air: the log weights that its time in liquids left, (K,).
    """

    mean: Array
    covariance: Array
    log_weight: Array
    log_evidence: float = 0.0
    surprise: float = 0.0
    most_fitting: tuple[float, float] = (0.0, 0.0)
    sensor_part: float = 0.0
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
    mean = np.zeros((_SIZE, count))
    mean[[_MEDIUM, _TUBE, _PROBE]] = celsius
    medium_sd = np.where(_SETTLED, _SETTLED_KELVIN, _UNKNOWN_KELVIN)
    log_weight, known = _PRIOR.copy(), _PRIOR
    if learnt is not None:
        known = learnt.log_weight if learnt.kept is None else learnt.kept
        # one that was settled from the first has told nothing of its lag
        rested = _PRIOR + np.logaddexp.reduce(known[_SETTLED & _LIQUID])
        log_weight = 0.5 * (log_weight + np.logaddexp(known, rested))
    log_weight[liquid != _LIQUID] = _EXCLUDED
    log_weight[_SETTLED] += (
        _log_density(celsius, _LIQUID_SD if liquid else _ROOM_SD) if first else _EXCLUDED
    )
    if first and liquid:
        log_weight[~_SETTLED] += _log_density(celsius, _ROOM_SD)
    slope_sd = _SLOPE_SD
    if medium is not None:
        mean[_MEDIUM], medium_sd = medium[0], np.full(count, medium[1])
    if not liquid:
        mean[_MEDIUM, ~_SETTLED] = ROOM_CELSIUS
        medium_sd[~_SETTLED] = _ROOM_SD
        slope_sd = _ROOM_SLOPE_SD
    covariance = np.zeros((_SIZE, _SIZE, count))
    covariance[_MEDIUM, _MEDIUM] = medium_sd**2
    covariance[_SLOPE, _SLOPE] = slope_sd**2
    covariance[_PROBE, _PROBE] = 0.05**2
    gone = np.where(_SETTLED, 0.0, -np.expm1(-_SINCE_MOVE / _TUBE_LAGS))
    doubt = np.where(_SETTLED, 0.0, _SINCE_MOVE_SD / _TUBE_LAGS)
    way = mean[_MEDIUM] - celsius
    mean[_TUBE] += gone * way
    covariance[_TUBE, _MEDIUM] = covariance[_MEDIUM, _TUBE] = gone * medium_sd**2
    covariance[_TUBE, _TUBE] = (
        _TUBE_SD**2 + (gone * medium_sd) ** 2 + doubt**2 * (medium_sd**2 + way**2)
    )
    log_weight -= log_weight.max()
    most_fitting, sensor_part = _fitting(log_weight)
    return LagBank(
        mean,
        covariance,
        log_weight,
        most_fitting=most_fitting,
        sensor_part=sensor_part,
        kept=None if liquid else known,
    )


def _log_density(celsius: float, sd: float) -> float:
    """Of a temperature about that of rooms, up to a constant."""
    return -0.5 * ((celsius - ROOM_CELSIUS) / sd) ** 2 - math.log(sd / _ROOM_SD)


def gone_at_first(bank: LagBank) -> tuple[float, float]:
    """Part of its way that the tube has gone at the first reading after a move, and its sd."""
    tube_lag = bank.most_fitting[0] * (1.0 - bank.sensor_part)
    return -math.expm1(-_SINCE_MOVE / tube_lag), _SINCE_MOVE_SD / tube_lag


def follow(bank: LagBank, seconds: float, celsius: float, variance: float) -> LagBank:
    """Advance by ``seconds`` and take a reading with ``variance`` (K2) in."""
    tube, sensor = np.exp(-seconds / _TUBE_LAGS), np.exp(-seconds / _SENSOR_LAGS)
    by_tube = (tube - sensor) * _TUBE_LAGS / (_TUBE_LAGS - _SENSOR_LAGS)
    kept = seconds, tube, by_tube, sensor
    mean, covariance = np.empty_like(bank.mean), np.empty_like(bank.covariance)
    across = np.empty_like(bank.covariance)
    _advance(bank.mean, mean, kept)
    _advance(bank.covariance, across, kept)
    _advance(across.swapaxes(0, 1), covariance, kept)  # which is symmetric
    covariance.reshape(_SIZE * _SIZE, -1)[:: _SIZE + 1] += _WALK * seconds  # the diagonal
    covariance[_MEDIUM, _MEDIUM] += np.where(mean[_MEDIUM] > HOT_CELSIUS, _PUFFS * seconds, 0.0)
    column = covariance[_PROBE]
    total = column[_PROBE] + variance
    innovation = celsius - mean[_PROBE]
    weight = np.exp(bank.log_weight)
    weight /= weight.sum()
    expected = celsius - float(weight @ innovation)
    spread = float(weight @ (total + (mean[_PROBE] - expected) ** 2))
    surprise = (celsius - expected) / math.sqrt(spread)
    if abs(surprise) > _WILD:
        total = total * (surprise / _WILD) ** 2
    gain = column / total
    density = np.exp(-0.5 * innovation * innovation / total) / np.sqrt(math.tau * total)
    density += 1e-300
    log_weight = bank.log_weight + np.log(density)
    log_weight -= log_weight.max()
    mean += gain * innovation
    covariance -= gain[:, None] * column
    return LagBank(
        mean,
        covariance,
        log_weight,
        bank.log_evidence + math.log(weight @ density),
        surprise,
        *_fitting(log_weight),
        bank.kept,
    )


def _advance(now: Array, after: Array, kept: tuple[float, Array, Array, Array]) -> None:
    """Fill ``after`` with what ``now``, a row for each number, becomes.

    ``kept`` holds the seconds, what a tube keeps of its way to the medium in them, and what a
    sensor has of its tube and keeps of itself.
    """
    seconds, tube, by_tube, sensor = kept
    drift = 0.5 * seconds * now[_SLOPE]
    medium = now[_MEDIUM] + drift  # as it is in between
    after[_MEDIUM], after[_SLOPE] = medium + drift, now[_SLOPE]
    way = now[_TUBE] - medium
    after[_TUBE] = medium + tube * way
    way *= by_tube
    way += sensor * (now[_PROBE] - medium)
    np.add(medium, way, out=after[_PROBE])


def medium_estimate(bank: LagBank) -> tuple[float, float]:
    """Temperature of the medium and its standard deviation, degC."""
    return _estimate(bank, _MEDIUM)


def tube_estimate(bank: LagBank) -> tuple[float, float, float]:
    """Temperature of the probe's tube, its sd (degC), and its covariance with the medium (K2)."""
    middle, sd = _estimate(bank, _TUBE)
    weight = np.exp(bank.log_weight)
    weight /= weight.sum()
    mediums, tubes = bank.mean[_MEDIUM], bank.mean[_TUBE]
    apart = (mediums - weight @ mediums) * (tubes - middle)
    return middle, sd, float(weight @ (bank.covariance[_MEDIUM, _TUBE] + apart))


def _estimate(bank: LagBank, index: int) -> tuple[float, float]:
    weight = np.exp(bank.log_weight)
    weight /= weight.sum()
    values = bank.mean[index]
    middle = float(weight @ values)
    spread = float(weight @ (bank.covariance[index, index] + (values - middle) ** 2))
    return middle, spread**0.5


def _fitting(log_weight: Array) -> tuple[tuple[float, float], float]:
    """Lag in a liquid (seconds, sd of its logarithm) and the sensor's part of it."""
    wet = log_weight.take(_WET_ONES)
    weight = np.exp(wet - wet.max())
    whole, middle, square, part = (_FITTED @ weight).tolist()
    middle /= whole
    sd = math.sqrt(max(square / whole - middle**2, 0.0))
    return (math.exp(_LOG_MIDDLE + middle), sd), part / whole
