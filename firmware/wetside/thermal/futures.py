"""The futures of one bank: how each guess goes on, and when it comes into a window and leaves it.

Every future is a hypothesis drawn by its weight, with numbers drawn from its own uncertainty,
played in a few growing steps. All functions take arrays and return new ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from wetside.outlook import HORIZON_SECONDS
from wetside.thermal.bank import (
    BATH,
    COUPLING,
    DEVELOPER,
    EXPONENT,
    FUTURE,
    LEAST_EXPONENT,
    LOG_REFERENCE,
    MOST_EXPONENT,
    MOST_LOG_SHARE,
    POURED,
    POURED_SECONDS,
    SHARE,
    SMOOTH_KELVIN,
    SOURCE,
    Array,
    Bank,
)

#: How many futures are played.
SAMPLES = 128
_DIMENSIONS = 10
#: Somebody may stir: the coupling ahead is a little greater than the one so far.
_FUTURE_COUPLING, _FUTURE_COUPLING_SD = 0.03, 0.11


def _spread_normals() -> Array:
    """Low-discrepancy standard normals (additive recurrence, generalised golden ratio)."""
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (_DIMENSIONS + 1))
    steps = root ** -np.arange(1.0, _DIMENSIONS + 1)
    uniform = (0.5 + np.outer(np.arange(1, SAMPLES + 1), steps)) % 1.0
    inverse = NormalDist().inv_cdf
    values = np.array([[inverse(float(u)) for u in row] for row in uniform])
    return np.asarray((values - values.mean(0)) / values.std(0))


_NORMALS = _spread_normals()
_POSITIONS = (np.arange(SAMPLES) + 0.5) / SAMPLES
#: Numbers of a hypothesis that the future depends on: how many.
_KEY = FUTURE.stop - FUTURE.start
_JITTER = 1e-9 * np.eye(_KEY)
#: K by which a running tap wanders from what it is now within a wait.
_FUTURE_TAP_SD = 0.4
#: What differs from future to future: a hypothesis' own numbers, shape (samples, _KEY, 1);
#: of shape (samples,), what stirring adds to the log coupling, the probe's error in its sd, K of
#: the tap.
_OWN = _NORMALS[:, :_KEY, None]
_STIRRED = _FUTURE_COUPLING + _FUTURE_COUPLING_SD * _NORMALS[:, _KEY]
PROBE_ERROR = _NORMALS[:, _KEY + 1].copy()
_TAP_WANDERS = _FUTURE_TAP_SD * _NORMALS[:, _KEY + 2]
_COLUMNS = np.arange(SAMPLES)


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """The steps in which futures are played, up to the horizon.

    Attributes
    ----------
    step_seconds : (steps,) array
    minus_halves, log_step_seconds : (steps, 1) arrays
        Half of each step in seconds, negative, and the logarithm of the whole.
    nodes : (steps + 1,) array
        Seconds from now.
    arrives : (steps, 1) array
        Half of what arrives of each K/s that is poured in each step, K.
    """

    step_seconds: Array
    minus_halves: Array
    log_step_seconds: Array
    nodes: Array
    arrives: Array


def grid(steps: int, growth: float) -> Grid:
    """So many steps to the horizon, each longer than the one before by the factor ``growth``."""
    raw = growth ** np.arange(steps)
    step_seconds = raw / raw.sum() * HORIZON_SECONDS
    nodes = np.concatenate([[0.0], np.cumsum(step_seconds)])
    arrives = -0.5 * POURED_SECONDS * np.diff(np.exp(-nodes / POURED_SECONDS))
    columns = (-0.5 * step_seconds, np.log(step_seconds), arrives)
    halves, logarithms, arrives = (column[:, None] for column in columns)
    return Grid(step_seconds, halves, logarithms, nodes, arrives)


#: Few steps, long ones late, where paths are nearly straight in the logarithm.
COARSE = grid(6, 1.75)


@dataclass(frozen=True, slots=True, eq=False)
class Paths:
    """Developer of every future at the nodes of a grid.

    Attributes
    ----------
    nodes : (steps + 1, samples) array
        degC.
    settled : (steps, samples) array
        Part of the way to its rest that each step brings: how the path bends within it.
    """

    grid: Grid
    nodes: Array
    settled: Array


def play(bank: Bank, weight: Array, steps: Grid = COARSE) -> Paths:
    """Equally likely futures of ``bank``, whose hypotheses have the probabilities ``weight``."""
    state, keep = _draw(bank, weight, steps)
    return _paths(state, keep, steps)


def _draw(bank: Bank, weight: Array, steps: Grid) -> tuple[Array, Array]:
    """States (9, samples), as the bank has them, the probes' rows empty; keep (steps, samples).

    ``keep`` is what half of each step leaves of the distance between the bath and its source.
    """
    chosen = weight.cumsum().searchsorted(_POSITIONS)
    fresh = np.ones(SAMPLES, dtype=bool)
    np.not_equal(chosen[1:], chosen[:-1], out=fresh[1:])
    root = np.linalg.cholesky(bank.covariance[chosen[fresh], FUTURE, FUTURE] + _JITTER)
    noise = np.matmul(root.take(fresh.cumsum() - 1, axis=0), _OWN)[:, :, 0]
    state = np.zeros((FUTURE.stop, SAMPLES))
    state[FUTURE] = (bank.mean.take(chosen, axis=0)[:, FUTURE] + noise).T
    state[SOURCE] += _TAP_WANDERS * bank.running.take(chosen)
    return state, np.exp(steps.minus_halves * bank.pull.take(chosen))


def _paths(state: Array, keep: Array, steps: Grid) -> Paths:
    """The developer's way from each state.

    In each step half of what the bath gets from its source comes before the exchange with the
    developer and half after it; the later half and the earlier one of the next step are taken
    together. Within the exchange the coupling is that of its middle, where the difference has
    shrunk, and the approach is exponential, so long steps stay exact enough (tests compare with
    short ones).
    """
    developer, bath = state[DEVELOPER].copy(), state[BATH].copy()
    exponent = np.minimum(np.maximum(state[EXPONENT], LEAST_EXPONENT), MOST_EXPONENT)
    half = 0.5 * exponent
    minus_half = -half
    share = np.exp(np.minimum(state[SHARE], MOST_LOG_SHARE))
    part = 1.0 / (1.0 + share)
    log_rate = state[COUPLING] + _STIRRED
    log_rate -= np.log(part) + exponent * LOG_REFERENCE
    log_wait = -steps.log_step_seconds - log_rate
    comes = state[SOURCE] * (1.0 - keep)
    comes += steps.arrives * state[POURED]
    comes[1:] += comes[:-1] * keep[1:]
    keeps = keep.copy()
    keeps[1:] *= keep[:-1]
    nodes = np.empty((len(keep) + 1, len(developer)))
    settled = np.empty_like(keep)
    difference, wait = np.empty((2, len(developer)))
    nodes[0] = developer
    for step in range(len(keep)):
        bath *= keeps[step]
        bath += comes[step]
        np.subtract(bath, developer, out=difference)
        np.multiply(difference, difference, out=wait)
        wait += SMOOTH_KELVIN**2
        np.log(wait, out=wait)
        wait *= minus_half
        wait += log_wait[step]
        np.exp(wait, out=wait)  # how often the step fits into the time in which it settles
        wait += half
        np.divide(-1.0, wait, out=wait)
        gain = np.expm1(wait, out=settled[step])
        difference *= gain
        difference *= part
        np.subtract(developer, difference, out=nodes[step + 1])
        developer = nodes[step + 1]
        difference *= share
        bath += difference
    np.negative(settled, out=settled)
    return Paths(steps, nodes, settled)


def _cross(paths: Paths, step: NDArray[np.intp], edge: Array) -> Array:
    """Time at which the path passes ``edge`` within ``step``; paths bend exponentially.

    ``step`` and ``edge`` hold the samples along their last axis.
    """
    here = step * SAMPLES + _COLUMNS
    a = paths.nodes.take(here)
    way = paths.nodes.take(here + SAMPLES) - a
    way[way == 0.0] = 1.0
    part = np.minimum(np.maximum((edge - a) / way, 0.0), 1.0)
    bend = np.minimum(np.maximum(paths.settled.take(here), 1e-6), 1 - 1e-9)
    since = paths.grid.step_seconds.take(step) * np.log1p(-part * bend) / np.log1p(-bend)
    return np.asarray(paths.grid.nodes.take(step) + since)


def entry_and_exit(paths: Paths, low: Array, high: Array) -> Array:
    """When each future comes into its window and leaves it again: (2, samples), seconds from now.

    ``low`` and ``high``, degC, are of shape (samples,). What never happens has inf.
    """
    nodes = paths.nodes
    above, below = nodes > high, nodes < low
    outside = above | below
    entered = ~outside
    entered[1:] |= (above[:-1] & below[1:]) | (below[:-1] & above[1:])
    reaches = entered.any(0)
    first = entered.argmax(0)
    outside &= first <= np.arange(len(nodes))[:, None]
    leaves = outside.any(0) & reaches
    last = np.maximum(outside.argmax(0) - 1, 0)
    over = above.take((last + 1) * SAMPLES + _COLUMNS)
    # every path that is yet to enter comes from the side on which it stands now
    edges = np.where(np.array([~below[0], over]), high, low)
    times = _cross(paths, np.array([np.maximum(first - 1, 0), last]), edges)
    entry, leave = times
    entry[first == 0] = 0.0
    entry[~reaches] = np.inf
    np.maximum(leave, entry, out=leave)
    leave[~leaves] = np.inf
    return times
