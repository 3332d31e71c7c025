"""From a belief to the answer on the display: when ready, for how long, or never."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from wetside.outlook import HORIZON_SECONDS, Outlook, Quantiles, Temperature
from wetside.readings import STALE_AFTER_SECONDS, Place
from wetside.thermal import bank as banks
from wetside.thermal.bank import (
    BATH,
    COUPLING,
    DEVELOPER,
    EXPONENT,
    FUTURE,
    POURED,
    POURED_SECONDS,
    SHARE,
    SOURCE,
    Array,
    Bank,
)
from wetside.thermal.belief import Belief
from wetside.thermal.priors import REFERENCE_KELVIN
from wetside.thermal.story import Story
from wetside.thermal.tracks import Track

_SAMPLES = 128
_STEPS = 6
_FAULT_SECONDS = 3.0
#: A recording may be slow: a reading is overdue after so many of the latest interval.
_LATE_INTERVALS = 2.5
#: Accounts less probable than this are left out; with more than that on accounts that know
#: nothing of the developer: no word.
_DOUBT = 0.1
_MOST_SILENT = 0.25
#: A developer at a place that nobody told is not spoken of while it is less sure than this (sd).
_GUESSED_KELVIN = 3.0
_DIMENSIONS = 10
#: Somebody may stir: the coupling ahead is a little greater than the one so far.
_FUTURE_COUPLING, _FUTURE_COUPLING_SD = 0.03, 0.11
_MOSTLY_NEVER = 0.75
#: Where the futures are cut for p05, p50, p95, before and after a probe was in the bath: hands that
#: nobody moves are among them, so on calm sinks that the estimator was tuned on their own 5 % would
#: leave out less than a twentieth, and a hidden developer is later than foreseen more often than
#: earlier.
_UNSEEN_LEVELS, _SEEN_LEVELS = (0.14, 0.5, 0.92), (0.085, 0.5, 0.96)


def _spread_normals() -> Array:
    """Low-discrepancy standard normals (additive recurrence, generalised golden ratio)."""
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (_DIMENSIONS + 1))
    steps = root ** -np.arange(1.0, _DIMENSIONS + 1)
    uniform = (0.5 + np.outer(np.arange(1, _SAMPLES + 1), steps)) % 1.0
    inverse = NormalDist().inv_cdf
    values = np.array([[inverse(float(u)) for u in row] for row in uniform])
    return np.asarray((values - values.mean(0)) / values.std(0))


_NORMALS = _spread_normals()
_POSITIONS = (np.arange(_SAMPLES) + 0.5) / _SAMPLES
#: Each step is longer than the one before by this factor.
_GROWTH = 1.75
_RAW = _GROWTH ** np.arange(_STEPS)
_STEP_SECONDS = _RAW / _RAW.sum() * HORIZON_SECONDS
_LOG_STEP_SECONDS = np.log(_STEP_SECONDS)
_NODES = np.concatenate([[0.0], np.cumsum(_STEP_SECONDS)])
#: Numbers of the nodes, to stand beside (nodes, samples).
_INDEX = np.arange(_STEPS + 1)[:, None]
_SMOOTH_SQUARE = 0.06
_LOG_REFERENCE = math.log(REFERENCE_KELVIN)
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
_PROBE_ERROR = _NORMALS[:, _KEY + 1].copy()
_TAP_WANDERS = _FUTURE_TAP_SD * _NORMALS[:, _KEY + 2]
_COLUMNS = np.arange(_SAMPLES)


def _arrivals(nodes: Array) -> Array:
    """Half of what arrives of each K/s that is poured in each step, K."""
    return np.asarray(-0.5 * POURED_SECONDS * np.diff(np.exp(-nodes / POURED_SECONDS)))


_ARRIVES = _arrivals(_NODES)


def _draw(bank: Bank, weight: Array) -> tuple[Array, Array]:
    """Equally likely futures: states (9, samples) and keep (steps, samples).

    States stand where the bank has them; the probes' rows are empty.

    ``keep`` is what half of each step leaves of the distance between the bath and its source.
    """
    cumulated = np.cumsum(weight)
    chosen = np.minimum(np.searchsorted(cumulated, _POSITIONS), len(cumulated) - 1)
    fresh = np.concatenate([[True], chosen[1:] != chosen[:-1]])
    used, back = chosen[fresh], np.cumsum(fresh) - 1
    root = np.linalg.cholesky(bank.covariance[used, FUTURE, FUTURE] + _JITTER)
    noise = np.matmul(root.take(back, axis=0), _OWN)[:, :, 0]
    keep = np.exp(np.outer(-0.5 * _STEP_SECONDS, bank.pull[used]))
    state = np.zeros((FUTURE.stop, _SAMPLES))
    state[FUTURE] = (bank.mean.take(chosen, axis=0)[:, FUTURE] + noise).T
    state[SOURCE] += _TAP_WANDERS * bank.running[chosen]
    return state, keep.take(back, axis=1)


def _paths(state: Array, keep: Array) -> tuple[Array, Array]:
    """Developer at the nodes (steps + 1, samples) and the settled part of each step.

    In each step half of what the bath gets from its source comes before the exchange with the
    developer and half after it; the later half and the earlier one of the next step are taken
    together. Within the exchange the coupling is that of its middle, where the difference has
    shrunk, and the approach is exponential, so long steps stay exact enough (tests compare with
    short ones).
    """
    developer, bath = state[DEVELOPER].copy(), state[BATH].copy()
    exponent = np.minimum(np.maximum(state[EXPONENT], 0.0), 0.35)
    half = 0.5 * exponent
    minus_half = -half
    share = np.exp(np.minimum(state[SHARE], -0.4))
    part = 1.0 / (1.0 + share)
    log_rate = state[COUPLING] + _STIRRED
    log_rate -= np.log(part) + exponent * _LOG_REFERENCE
    log_wait = -_LOG_STEP_SECONDS[:, None] - log_rate
    comes = state[SOURCE] * (1.0 - keep)
    comes += _ARRIVES[:, None] * state[POURED]
    comes[1:] += comes[:-1] * keep[1:]
    keeps = keep.copy()
    keeps[1:] *= keep[:-1]
    nodes = np.empty((_STEPS + 1, len(developer)))
    settled = np.empty((_STEPS, len(developer)))
    difference, wait = np.empty((2, len(developer)))
    nodes[0] = developer
    for step in range(_STEPS):
        bath *= keeps[step]
        bath += comes[step]
        np.subtract(bath, developer, out=difference)
        np.multiply(difference, difference, out=wait)
        wait += _SMOOTH_SQUARE
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
    return nodes, settled


def _stays(times: Array, ready_in: Quantiles) -> Quantiles:
    """Quantiles of leaving among the futures that enter; None where it stays that long.

    Nobody leaves before having come: none is less than that of coming, and none is said where so
    few come that nothing is said of it.
    """
    if ready_in.p05 is None:
        return Quantiles(None, None, None)
    ordered = np.sort(times)
    picks = (float(ordered[int(q * (len(ordered) - 1) + 0.5)]) for q in (0.05, 0.5, 0.95))
    comes = (ready_in.p05, ready_in.p50, ready_in.p95)
    return Quantiles(
        *(
            None if pick >= HORIZON_SECONDS else max(pick, least or 0.0)
            for pick, least in zip(picks, comes, strict=True)
        )
    )


def _quantiles(times: Array, levels: tuple[float, float, float]) -> Quantiles:
    """Quantiles of those that happen; the middle and upper are None where most never do."""
    ordered = np.sort(times)
    happen = int(np.searchsorted(ordered, HORIZON_SECONDS))
    if happen < 3:
        return Quantiles(None, None, None)
    low, mid, high = (float(ordered[int(q * (happen - 1) + 0.5)]) for q in levels)
    share = happen / len(ordered)
    if share < 1.0 - _MOSTLY_NEVER or (mid == 0.0 and share < 0.5):
        return Quantiles(low, None, None)  # nor is it there by now where it more likely never is
    return Quantiles(low, mid, high)


def _cross(nodes: Array, settled: Array, step: NDArray[np.intp], edge: Array) -> Array:
    """Time at which the path passes ``edge`` within ``step``; paths bend exponentially.

    ``step`` and ``edge`` hold the samples along their last axis.
    """
    here = step * _SAMPLES + _COLUMNS
    a = nodes.take(here)
    way = nodes.take(here + _SAMPLES) - a
    way[way == 0.0] = 1.0
    part = np.minimum(np.maximum((edge - a) / way, 0.0), 1.0)
    bend = np.minimum(np.maximum(settled.take(here), 1e-6), 1 - 1e-9)
    since = _STEP_SECONDS.take(step) * np.log1p(-part * bend) / np.log1p(-bend)
    return np.asarray(_NODES.take(step) + since)


def _entry_and_exit(nodes: Array, settled: Array, low: Array, high: Array) -> tuple[Array, Array]:
    above, below = nodes > high, nodes < low
    outside = above | below
    entered = ~outside
    entered[1:] |= (above[:-1] & below[1:]) | (below[:-1] & above[1:])
    reaches = entered.any(0)
    first = entered.argmax(0)
    outside &= first <= _INDEX
    leaves = outside.any(0) & reaches
    last = np.maximum(outside.argmax(0) - 1, 0)
    over = above.take((last + 1) * _SAMPLES + _COLUMNS)
    # every path that is yet to enter comes from the side on which it stands now
    edges = np.where(np.array([~below[0], over]), high, low)
    entry, leave = _cross(nodes, settled, np.array([np.maximum(first - 1, 0), last]), edges)
    entry[first == 0] = 0.0
    entry[~reaches] = np.inf
    leave = np.maximum(leave, entry)
    leave[~leaves] = np.inf
    return entry, leave


def _temperature(bank: Bank, weight: Array, index: int, probe_sd: float) -> Temperature:
    """Belief about a temperature, the probe's own error included."""
    middle, sd = banks.moments(bank, index, weight)
    return Temperature(middle, math.hypot(sd, probe_sd))


def outlook(belief: Belief, seconds: float) -> Outlook:
    """What follows from ``belief`` at the moment ``seconds`` (not before its latest reading).

    Where several accounts are still possible, the outlook is that of the most probable one,
    with quantiles as far apart as the probable ones ask for, and temperatures as uncertain.
    """
    faults = tuple(word for word, when in belief.faults if seconds - when <= _FAULT_SECONDS)
    if belief.tracks and all(_stale(track, seconds) for track in belief.tracks):
        faults = (*faults, "stale")
    views, silent = [], 0.0
    for chance, story in zip(belief.probabilities(), belief.stories, strict=True):
        if not _speaks(story):
            silent += chance
        elif chance > _DOUBT:
            views.append((chance, view(story, seconds)))
    if not views or silent > _MOST_SILENT:
        nothing = Quantiles(None, None, None)
        return Outlook(seconds, None, None, nothing, nothing, 0.5, faults)
    first = views[0][1]
    if len(views) > 1:
        total = sum(chance for chance, _ in views)
        first = replace(
            first,
            developer=_doubted(first.developer, [(c, v.developer) for c, v in views], total),
            bath=_doubted(first.bath, [(c, v.bath) for c, v in views], total),
            ready_in=_hull([each.ready_in for _, each in views]),
            leaves_in=_hull([each.leaves_in for _, each in views]),
            never=sum(chance * each.never for chance, each in views) / total,
        )
    return replace(first, faults=faults) if faults else first


def _stale(track: Track, seconds: float) -> bool:
    """Whether a reading is overdue, by its own pace where that is a slow one."""
    return seconds - track.seconds > max(STALE_AFTER_SECONDS, _LATE_INTERVALS * track.interval)


def _speaks(story: Story) -> bool:
    """Whether an account knows the developer: not by a guess at a place that is a guess too."""
    if story.bank is None:
        return False
    placed = any(track.told is not Place.UNKNOWN for track in story.tracks)
    return placed or banks.moments(story.bank, DEVELOPER)[1] <= _GUESSED_KELVIN


def _doubted(
    leading: Temperature | None, others: list[tuple[float, Temperature | None]], total: float
) -> Temperature | None:
    """The leading account's temperature, as far off as all accounts with their chances say."""
    if leading is None:
        return None
    square = sum(
        chance * (one.sd**2 + (one.celsius - leading.celsius) ** 2)
        for chance, one in others
        if one is not None
    )
    return Temperature(leading.celsius, math.sqrt(square / total))


def _hull(quantiles: list[Quantiles]) -> Quantiles:
    """Outer quantiles of all, middle of the first."""
    lows = [q.p05 for q in quantiles if q.p05 is not None]
    highs = [q.p95 for q in quantiles]
    high = None if any(h is None for h in highs) else max(h for h in highs if h is not None)
    return Quantiles(min(lows, default=None), quantiles[0].p50, high)


def view(story: Story, seconds: float) -> Outlook:
    """Outlook of one account."""
    bank, setup = story.bank, story.setup
    if bank is None:
        nothing = Quantiles(None, None, None)
        return Outlook(seconds, None, None, nothing, nothing, 0.5)
    if seconds > story.bank_seconds:
        bank = banks.predict(bank, seconds - story.bank_seconds, ())
    weight = bank.weights()
    nodes, settled = _paths(*_draw(bank, weight))
    target = setup.target_celsius + setup.probe_sd_celsius * _PROBE_ERROR
    low, high = target - setup.tolerance_celsius, target + setup.tolerance_celsius
    entry, leave = _entry_and_exit(nodes, settled, low, high)
    arrives = np.isfinite(entry)
    ready_in = _quantiles(entry, _SEEN_LEVELS if story.bath_seen else _UNSEEN_LEVELS)
    return Outlook(
        seconds,
        _temperature(bank, weight, DEVELOPER, setup.probe_sd_celsius),
        _temperature(bank, weight, BATH, setup.probe_sd_celsius),
        ready_in,
        _stays(leave[arrives], ready_in),
        1.0 - int(np.count_nonzero(arrives)) / _SAMPLES,
    )
