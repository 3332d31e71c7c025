"""Scores of a forecast that is three quantiles and a probability of never.

``None`` in a quantile means "beyond the horizon or never" and is placed at the horizon for
widths and quantile scores, at infinity for coverage.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from statistics import NormalDist

from wetside.outlook import HORIZON_SECONDS, Quantiles

CAP = 3.0
_NORMAL = NormalDist()
_LEVELS = [(i + 0.5) / 200.0 for i in range(200)]


def relative_error(p50: float | None, remaining: float) -> float:
    """|p50 - truth| / remaining, at most 3; a median that is missing scores 3."""
    if p50 is None:
        return CAP
    return float(min(CAP, abs(p50 - remaining) / remaining))


def covered(quantiles: Quantiles, truth: float | None) -> bool:
    """Whether p05 <= truth <= p95; truth None = never."""
    low = math.inf if quantiles.p05 is None else quantiles.p05
    high = math.inf if quantiles.p95 is None else quantiles.p95
    value = math.inf if truth is None else truth
    return bool(low <= value <= high)


def relative_width(quantiles: Quantiles, remaining: float) -> float:
    """(p95 - p05) / remaining, at most 3."""
    return min(CAP, (_placed(quantiles.p95) - _placed(quantiles.p05)) / remaining)


def _placed(value: float | None) -> float:
    return HORIZON_SECONDS if value is None else min(value, HORIZON_SECONDS)


def quantile_function(quantiles: Quantiles, level: float) -> float:
    """Quantile at a level between 0 and 1: two half normals that meet at the median.

    Each half has the spread that puts its 5 or 95 % where it was said; nothing lies before now
    or beyond the horizon.
    """
    low, middle, high = (_placed(q) for q in (quantiles.p05, quantiles.p50, quantiles.p95))
    share = _NORMAL.inv_cdf(level) / _NORMAL.inv_cdf(0.95)
    side = high - middle if share > 0 else middle - low
    return min(HORIZON_SECONDS, max(0.0, middle + side * share))


def crps(quantiles: Quantiles, truth: float) -> float:
    """Continuous ranked probability score in seconds.

    Twice the pinball loss, averaged over 200 levels of the quantile function above (Gneiting and
    Raftery, JASA 102 (2007) 359, eq. 41 and its integral over the levels).
    """
    value = min(truth, HORIZON_SECONDS)
    total = 0.0
    for level in _LEVELS:
        quantile = quantile_function(quantiles, level)
        total += ((value <= quantile) - level) * (quantile - value)
    return 2.0 * total / len(_LEVELS)


def mean(values: Iterable[float]) -> float:
    """Arithmetic mean; not a number when there is nothing."""
    held = list(values)
    return sum(held) / len(held) if held else math.nan


def brier(pairs: Sequence[tuple[float, bool]]) -> float:
    """Mean squared difference between a probability and what happened (Brier 1950)."""
    return mean((p - happened) ** 2 for p, happened in pairs)


EDGES = (0.0, 0.05, 0.2, 0.5, 0.8, 0.95, 1.0)


def reliability(pairs: Sequence[tuple[float, bool]]) -> list[tuple[float, float, float, int]]:
    """Rows (bin's upper edge, mean probability said, share that happened, count)."""
    rows = []
    for low, high in itertools.pairwise(EDGES):
        inside = [(p, h) for p, h in pairs if low <= p < high or (high == 1.0 and p == 1.0)]
        rows.append((high, mean(p for p, _ in inside), mean(h for _, h in inside), len(inside)))
    return rows
