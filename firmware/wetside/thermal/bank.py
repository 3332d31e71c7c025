"""A bank of extended Kalman filters: many guesses about the sink, each carried exactly enough.

One hypothesis holds thirteen numbers with their covariance. The equations (d = bath - developer):

    d developer/dt = k |d / 3 K|**n d
    d bath/dt      = -share k |d / 3 K|**n d + pull (source - bath) + poured
    d poured/dt    = -poured / 45 s
    d tube/dt      = (medium - tube) / (lag - sensor's part)
    d probe/dt     = (tube - probe) / (sensor's part)

A sensor follows its tube, and the tube what it is in. In the developer that is
``developer + layer d``: an unstirred container is layered, the more so the greater the difference
is.
``source`` is the tap in a running bath and the room for a still one, ``poured`` what ice that melts
or water that mixes in still does to the bath. While the container is lifted out, k is next to
nothing. Log coupling, exponent,
log share and the difference between what the bath probe reads and what the developer feels are
constants that may creep. All functions take arrays and return new ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wetside.thermal.priors import REFERENCE_KELVIN

Array = NDArray[np.float64]

#: What moves by itself stands first, what the future depends on from the developer to the share.
PROBE_A, PROBE_B, TUBE_A, TUBE_B, DEVELOPER, BATH, POURED = range(7)
SOURCE, COUPLING, EXPONENT, SHARE, SHIFT, LAYER = range(7, 13)
SIZE = 13
_MOVING = 7
PROBES = [PROBE_A, PROBE_B, TUBE_A, TUBE_B]
#: From a probe's sensor to its tube.
_TUBE = TUBE_A - PROBE_A
FUTURE = slice(DEVELOPER, SHARE + 1)
#: 1/s: a still bath of some litres follows the room over hours, a running one its tap at once.
#: With 25 W/(m2 K) of convection, radiation and evaporation, 0.1 m2 and 5 L: 8400 s.
STILL_PULL = 1.0 / 9000.0
#: How long ice melts or water mixes in: what is left to come falls by e in that time.
POURED_SECONDS = 45.0
#: Below this difference, in kelvin, the coupling falls no further.
SMOOTH_KELVIN = 0.25
#: Steps of a silence are so long, or longer where it takes more than so many of them.
_STEP_SECONDS, _MOST_STEPS = 5.0, 24
#: Beyond these no sink is; a hypothesis that a wild reading drove there must not run away.
LEAST_EXPONENT, MOST_EXPONENT, MOST_LOG_SHARE = 0.0, 0.35, 0.0
_BOUNDED = slice(COUPLING, SHARE + 1)
_LEAST = np.array([[-10.0], [LEAST_EXPONENT], [-50.0]])
_MOST = np.array([[-3.0], [MOST_EXPONENT], [MOST_LOG_SHARE]])
#: What moves depends on itself only, until the equations say more.
_STAYS = np.eye(_MOVING, SIZE)[:, :, None]
LOG_REFERENCE = math.log(REFERENCE_KELVIN)


@dataclass(frozen=True, slots=True)
class Bank:
    """Hypotheses side by side.

    Attributes
    ----------
    mean : (H, 13) array
        Temperatures in degC, K/s, logarithms, exponent; the order is that of the module's names.
    covariance : (H, 13, 13) array
    log_weight : (H,) array
        Up to a constant; readings set the greatest to 0.
    pull : (H,) array
        1/s, how fast the bath follows its source.
    walk : (H, 13) array
        Variance per second by which each number creeps.
    immersed : (H,) array
        Part of the coupling at work: 1 in the bath, next to nothing while lifted out.
    born : (H,) array
        Time, seconds, at which the change that a hypothesis supposes happened; -inf for none.
    """

    mean: Array
    covariance: Array
    log_weight: Array
    pull: Array
    walk: Array
    immersed: Array
    born: Array

    @property
    def running(self) -> NDArray[np.bool_]:
        """Whether the bath's tap is open, shape (H,)."""
        return np.asarray(self.pull > 1.5 * STILL_PULL)

    def weights(self) -> Array:
        """Probabilities of the hypotheses, shape (H,), sum 1."""
        weight = np.exp(self.log_weight - self.log_weight.max())
        return np.asarray(weight / weight.sum())


@dataclass(frozen=True, slots=True)
class Medium:
    """What one probe is in: the index of its state, of its medium, and its lag in seconds.

    ``layered`` is how far the developer's layers have formed, 0 to 1; ``sensor_part`` what the
    sensor's lag behind its tube is of the whole, 0 to below 0.5.
    """

    probe: int
    medium: int
    lag_seconds: float
    layered: float = 1.0
    sensor_part: float = 0.0


def predict(bank: Bank, seconds: float, media: tuple[Medium, ...]) -> Bank:
    """Carry every hypothesis forward by ``seconds`` (not negative)."""
    steps = min(max(1, math.ceil(seconds / _STEP_SECONDS - 1e-9)), _MOST_STEPS)
    mean, covariance = bank.mean, bank.covariance
    for _ in range(steps):
        mean, covariance = _step(mean, covariance, seconds / steps, bank, media)
    return Bank(mean, covariance, bank.log_weight, bank.pull, bank.walk, bank.immersed, bank.born)


def _step(
    mean: Array,
    covariance: Array,
    seconds: float,
    bank: Bank,
    media: tuple[Medium, ...],
) -> tuple[Array, Array]:
    now = mean.T.copy()  # a row for each number, which is what the equations ask for
    after, f = _followed(now, seconds, bank, media)
    forth, back = f.transpose(2, 0, 1).copy(), f.transpose(2, 1, 0).copy()
    across = forth @ covariance
    spread = covariance.copy()
    spread[:, :_MOVING] = across
    spread[:, _MOVING:, :_MOVING] = across[:, :, _MOVING:].transpose(0, 2, 1)
    spread[:, :_MOVING, :_MOVING] = across @ back
    spread.reshape(len(spread), -1)[:, :: SIZE + 1] += bank.walk * seconds  # the diagonals
    bounded = after[_BOUNDED]
    np.minimum(np.maximum(bounded, _LEAST, out=bounded), _MOST, out=bounded)
    return after.T.copy(), spread


def _followed(
    now: Array, seconds: float, bank: Bank, media: tuple[Medium, ...]
) -> tuple[Array, Array]:
    """The numbers ``seconds`` later, (13, H), and what those that move depend on, (7, 13, H)."""
    difference = now[BATH] - now[DEVELOPER]
    square = difference * difference + SMOOTH_KELVIN**2
    log_ratio = 0.5 * np.log(square) - LOG_REFERENCE
    exponent = now[EXPONENT]
    rate = np.exp(now[COUPLING] + exponent * log_ratio) * (seconds * bank.immersed)
    kept = np.exp(-rate)
    gain = 1.0 - kept
    flow = gain * difference
    slope = rate * kept * difference  # d flow / d log rate
    by_difference = gain + slope * exponent * difference / square
    share = np.exp(now[SHARE])
    follow = -np.expm1(-bank.pull * seconds)
    fades = math.exp(-seconds / POURED_SECONDS)
    comes = POURED_SECONDS * (1.0 - fades)

    after = now.copy()
    after[DEVELOPER] += flow
    after[BATH] += follow * (now[SOURCE] - now[BATH]) - share * flow
    after[BATH] += comes * now[POURED]
    after[POURED] *= fades

    f = np.empty((_MOVING, *now.shape))  # the rows of the others are those of the unit matrix
    f[:] = _STAYS
    developer, bath = f[DEVELOPER], f[BATH]
    developer[DEVELOPER] -= by_difference
    developer[BATH] = by_difference
    developer[COUPLING] = slope
    developer[EXPONENT] = slope * log_ratio
    bath[DEVELOPER] = share * by_difference
    bath[BATH] -= bath[DEVELOPER]
    bath[BATH] -= follow
    bath[SOURCE] = follow
    bath[COUPLING : EXPONENT + 1] = -share * developer[COUPLING : EXPONENT + 1]
    bath[SHARE] = -share * flow
    bath[POURED] = comes
    f[POURED, POURED] = fades
    _follow_media(now, after, f, seconds, media)
    return after, f


def _follow_media(
    now: Array, after: Array, f: Array, seconds: float, media: tuple[Medium, ...]
) -> None:
    """Let the probes follow what they are in: fills their places in ``after`` and ``f``."""
    for medium in media:
        tube_lag = medium.lag_seconds * (1.0 - medium.sensor_part)
        sensor_lag = max(medium.lag_seconds * medium.sensor_part, 1e-3)
        kept, held = math.exp(-seconds / tube_lag), math.exp(-seconds / sensor_lag)
        by_tube = (kept - held) * tube_lag / (tube_lag - sensor_lag)
        i, j = medium.probe, medium.medium
        k = i + _TUBE
        surrounding = 0.5 * (now[j] + after[j])
        row = 0.5 * f[j]
        row[j] += 0.5
        if j == BATH:
            surrounding += now[SHIFT]
            row[SHIFT] = 1.0
        else:
            layer = medium.layered * now[LAYER]
            difference = now[BATH] - now[DEVELOPER]
            surrounding += layer * difference
            row[LAYER] = medium.layered * difference
            row[BATH] += layer
            row[DEVELOPER] -= layer
        after[k] = surrounding + kept * (now[k] - surrounding)
        after[i] = surrounding + by_tube * (now[k] - surrounding) + held * (now[i] - surrounding)
        np.multiply(row, 1.0 - kept, out=f[k])
        np.multiply(row, 1.0 - by_tube - held, out=f[i])
        f[k, k] = kept
        f[i, k], f[i, i] = by_tube, held


def innovation(
    bank: Bank, index: int, celsius: float, variance: Array | float
) -> tuple[Array, Array]:
    """How far a reading of the state ``index`` lies from what each hypothesis expects.

    Returns
    -------
    tuple
        The differences, K, and their variances, K2, both of shape (H,); ``variance`` is that of
        the reading, K2, and may differ by hypothesis.
    """
    return celsius - bank.mean[:, index], bank.covariance[:, index, index] + variance


def misfit(off: Array, total: Array) -> Array:
    """Twice the negative log density of an innovation, up to a constant, shape (H,)."""
    return np.asarray(off * off / total + np.log(total))


def correct(bank: Bank, index: int, celsius: float, variance: float) -> Bank:
    """Take one reading of the state ``index`` in, of that variance (K2)."""
    off, total = innovation(bank, index, celsius, variance)
    return weighed(bank, index, off, total, -0.5 * misfit(off, total))


def weighed(bank: Bank, index: int, off: Array, total: Array, log_likelihood: Array) -> Bank:
    """Take a reading in by its :func:`innovation`; ``log_likelihood`` (H,) moves the weights.

    That may be less than the innovation says: the equations are never exactly those of the sink.
    """
    column = bank.covariance[:, :, index]
    gain = column / total[:, None]
    mean = gain * off[:, None]
    mean += bank.mean
    covariance = np.einsum("hi,hj->hij", gain, column)
    np.subtract(bank.covariance, covariance, out=covariance)
    log_weight = bank.log_weight + log_likelihood
    log_weight -= log_weight.max()
    return Bank(mean, covariance, log_weight, bank.pull, bank.walk, bank.immersed, bank.born)


def known_anew(bank: Bank, index: int, value: Array | float, sd: float) -> Bank:
    """Set a number anew, by itself, tied to nothing.

    ``value`` is the same for all hypotheses, or of shape (H,).
    """
    mean = bank.mean.copy()
    covariance = bank.covariance.copy()
    mean[:, index] = value
    covariance[:, index, :] = 0.0
    covariance[:, :, index] = 0.0
    covariance[:, index, index] = sd * sd
    return replace(bank, mean=mean, covariance=covariance)


def probe_anew(
    bank: Bank, slot: int, celsius: float, sd: float, tube: tuple[float, float] | None = None
) -> Bank:
    """Set a probe's own temperature anew, as after a move: its sensor and its tube (degC, sd).

    Without ``tube`` that is what the sensor is.
    """
    bank = known_anew(bank, PROBE_A + slot, celsius, sd)
    return known_anew(bank, TUBE_A + slot, *(tube or (celsius, sd)))


def moments(bank: Bank, index: int, weight: Array | None = None) -> tuple[float, float]:
    """Mean and standard deviation of one state over all hypotheses (of that ``weight``)."""
    if weight is None:
        weight = bank.weights()
    values = bank.mean[:, index]
    middle = float(weight @ values)
    spread = float(weight @ (bank.covariance[:, index, index] + (values - middle) ** 2))
    return middle, spread**0.5


def take_rows(bank: Bank, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Bank:
    """Bank of the chosen hypotheses only."""
    return Bank(
        bank.mean[rows],
        bank.covariance[rows],
        bank.log_weight[rows],
        bank.pull[rows],
        bank.walk[rows],
        bank.immersed[rows],
        bank.born[rows],
    )


def joined(first: Bank, second: Bank) -> Bank:
    """All hypotheses of both banks; their log weights must share one scale."""
    return Bank(
        np.concatenate([first.mean, second.mean]),
        np.concatenate([first.covariance, second.covariance]),
        np.concatenate([first.log_weight, second.log_weight]),
        np.concatenate([first.pull, second.pull]),
        np.concatenate([first.walk, second.walk]),
        np.concatenate([first.immersed, second.immersed]),
        np.concatenate([first.born, second.born]),
    )


def keep_likely(bank: Bank, drop_below: float = -12.0) -> Bank:
    """Drop hypotheses whose log weight lies that far under the best."""
    keep = bank.log_weight > bank.log_weight.max() + drop_below
    return bank if bool(keep.all()) else take_rows(bank, keep)


def strongest(bank: Bank, count: int) -> Bank:
    """The ``count`` hypotheses of greatest weight."""
    if len(bank.pull) <= count:
        return bank
    return take_rows(bank, np.argpartition(bank.log_weight, -count)[-count:])
