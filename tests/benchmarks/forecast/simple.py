"""What people would do by hand: methods that see only the readings and their places."""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import curve_fit
from scipy.special import ndtr
from statsmodels.tsa.holtwinters import Holt

from wetside.outlook import HORIZON_SECONDS, Quantiles, Setup, Wall
from wetside.readings import Place, Reading

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Forecast:
    """One method's answer; ``leaves_in`` is None for methods that give none."""

    ready_in: Quantiles
    never: float
    leaves_in: Quantiles | None = None


#: Seconds of one mean for the damped trend: the best of 5, 10, 15 and 20 on 40 tuning seeds.
HOLT_STEP = 20.0
Method = Callable[[Setup, Sequence[Reading], float], Forecast | None]
NOTHING = Forecast(Quantiles(None, None, None), 1.0)
HERE = Forecast(Quantiles(0.0, 0.0, 0.0), 0.0)


def in_place(rows: Sequence[Reading], place: Place) -> tuple[Floats, Floats]:
    """Seconds and temperatures of the usable readings in that place."""
    kept = [
        (row.seconds, row.celsius) for row in rows if row.place is place and row.celsius is not None
    ]
    kept.sort()
    if not kept:
        return np.empty(0), np.empty(0)
    table = np.array(kept)
    return table[:, 0], table[:, 1]


def edge(setup: Setup, now_celsius: float) -> float | None:
    """Near edge of the band, None when inside."""
    difference = setup.target_celsius - now_celsius
    if abs(difference) <= setup.tolerance_celsius:
        return None
    return setup.target_celsius - math.copysign(setup.tolerance_celsius, difference)


def from_samples(times: Floats) -> Forecast:
    """Forecast from sampled waiting times, infinite where the band is never reached."""
    ordered = np.sort(np.where(times > HORIZON_SECONDS, np.inf, times))
    picked = [ordered[min(len(ordered) - 1, int(p * len(ordered)))] for p in (0.05, 0.5, 0.95)]
    p05, p50, p95 = (None if math.isinf(value) else float(value) for value in picked)
    return Forecast(Quantiles(p05, p50, p95), float(np.mean(np.isinf(times))))


def around_median(middle: float, spread: Forecast) -> Forecast:
    """The method's own middle with the sampled interval, stretched to hold it."""
    low, high = spread.ready_in.p05, spread.ready_in.p95
    low = min(math.inf if low is None else low, middle)
    high = max(math.inf if high is None else high, middle)
    p05, p50, p95 = (None if v > HORIZON_SECONDS else v for v in (low, middle, high))
    return Forecast(Quantiles(p05, p50, p95), spread.never)


def straight_line(setup: Setup, rows: Sequence[Reading], now: float) -> Forecast | None:
    """Least-squares line through the developer's last 60 s (three readings at least), drawn on."""
    seconds, celsius = in_place(rows, Place.DEVELOPER)
    if len(seconds) < 3:
        return None
    recent = seconds >= min(now - 60.0, seconds[-3])
    x, y = seconds[recent] - now, celsius[recent]
    slope, here = np.polyfit(x, y, 1)
    goal = edge(setup, float(here))
    if goal is None:
        return HERE
    spread = max(float(np.std(y - here - slope * x)), 0.0625 / math.sqrt(12))
    error = max(1e-6, spread / math.sqrt(float(np.sum((x - x.mean()) ** 2))))
    way = goal - float(here)

    def wait(rate: float) -> float | None:
        return way / rate if rate * way > 0 and way / rate <= HORIZON_SECONDS else None

    sign = math.copysign(1.0, way)
    quick, slow = slope + sign * 1.645 * error, slope - sign * 1.645 * error
    slowest = way / HORIZON_SECONDS
    never = float(ndtr(sign * (slowest - slope) / error))
    return Forecast(Quantiles(wait(quick), wait(float(slope)), wait(slow)), never)


def exponential(t: Floats, a: float, b: float, tau: float) -> Floats:
    """Newton's law: a + b exp(-t/tau)."""
    made: Floats = a + b * np.exp(-t / tau)
    return made


def fit_exponential(x: Floats, celsius: Floats) -> tuple[Floats, Floats] | None:
    """Parameters and covariance by scipy's curve_fit, None where it gives up."""
    start = (celsius[-1], celsius[0] - celsius[-1], max(60.0, float(x[-1]) / 2))
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")  # a covariance that cannot be had is handled later
            best, covariance = curve_fit(exponential, x, celsius, p0=start, maxfev=4000)
    except RuntimeError:
        return None
    return best, covariance


def free_exponential(setup: Setup, rows: Sequence[Reading], now: float) -> Forecast | None:
    """T = A + B exp(-t/tau) through all of the developer's readings (scipy curve_fit)."""
    seconds, celsius = in_place(rows, Place.DEVELOPER)
    if len(seconds) < 6:
        return None
    fitted = fit_exponential(seconds - seconds[0], celsius)
    if fitted is None:
        return NOTHING
    best, covariance = fitted
    a, b, tau = (float(v) for v in best)
    at = now - float(seconds[0])
    here = float(exponential(np.array(at), a, b, tau))
    goal = edge(setup, here)
    if goal is None:
        return HERE

    def wait(p: Floats) -> Floats:
        with np.errstate(all="ignore"):
            left = np.log((goal - p[:, 0]) / p[:, 1]) * -p[:, 2] - at
        return np.where(np.isfinite(left) & (left >= 0), left, np.inf)

    middle = float(wait(np.array([[a, b, tau]]))[0])
    if not np.isfinite(covariance).all():
        p50 = None if middle > HORIZON_SECONDS else middle
        return Forecast(Quantiles(p50, p50, p50), float(p50 is None))
    rng = np.random.default_rng(1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        draws = rng.multivariate_normal(best, covariance, 300, check_valid="ignore")
    spread = from_samples(wait(draws))
    return around_median(middle, spread)


def damped_trend(setup: Setup, rows: Sequence[Reading], now: float) -> Forecast | None:
    """Holt's damped trend (statsmodels) on means of 20 s; interval from its simulation.

    With less than two minutes of readings it hands over to the straight line.
    """
    seconds, celsius = in_place(rows, Place.DEVELOPER)
    if len(seconds) < 3:
        return None
    step = max(HOLT_STEP, float(np.median(np.diff(seconds))))
    if seconds[-1] - seconds[0] < 6 * step:
        return straight_line(setup, rows, now)
    grid = np.arange(seconds[-1], seconds[0], -step)[::-1]
    bins = np.searchsorted(grid, seconds)
    series = np.array([celsius[bins == i].mean() for i in range(len(grid)) if (bins == i).any()])
    if len(series) < 5:
        return straight_line(setup, rows, now)
    goal = edge(setup, float(series[-1]))
    if goal is None:
        return HERE
    count = int(HORIZON_SECONDS / step)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # convergence warnings: its result is scored as it is
        fitted = Holt(series, damped_trend=True, initialization_method="estimated").fit()
        path = np.asarray(fitted.forecast(count))
        many = np.asarray(fitted.simulate(count, repetitions=100, random_state=1))
    sign = math.copysign(1.0, goal - series[-1])
    after = float(seconds[-1] - step / 2 - now)  # a mean belongs to its middle

    def wait(table: Floats) -> Floats:
        whole = np.vstack([np.full(table.shape[1], series[-1]), table])
        reached = sign * (whole - goal) >= 0
        last = np.maximum(1, reached.argmax(axis=0))
        column = np.arange(table.shape[1])
        before, beyond = whole[last - 1, column], whole[last, column]
        with np.errstate(all="ignore"):
            first = (last - (beyond - goal) / (beyond - before)) * step + after
        return np.where(reached.any(axis=0), np.maximum(first, 0.0), np.inf)

    spread = from_samples(wait(many))
    middle = float(wait(path[:, None])[0])
    return around_median(middle, spread)


#: Seconds of a rough time constant for half a litre, as one would learn at the sink.
_TYPICAL = {Wall.PLASTIC: 900.0, Wall.GLASS: 550.0, Wall.STEEL: 400.0, None: 650.0}


def fixed_constant(setup: Setup, rows: Sequence[Reading], now: float) -> Forecast | None:
    """Rule of thumb for a hidden developer: last dip, mean bath, one time constant by the wall."""
    dipped, developer = in_place(rows, Place.DEVELOPER)
    seconds, bath = in_place(rows, Place.BATH)
    late = seconds >= now - 120.0
    if len(dipped) == 0 or not late.any():
        return None
    surround = float(np.median(bath[late]))
    tau = _TYPICAL[setup.wall] * ((setup.volume_millilitres or 500.0) / 500.0) ** (1 / 3)
    left = float(developer[-1]) - surround
    here = surround + left * math.exp(-(now - float(dipped[-1])) / tau)
    goal = edge(setup, here)
    if goal is None:
        return HERE
    ratio = (goal - surround) / left if left else -1.0
    if not 0.0 < ratio < 1.0:
        return NOTHING
    times = [
        tau * scale * -math.log(ratio) - (now - float(dipped[-1])) for scale in (0.6, 1.0, 1.7)
    ]
    p05, p50, p95 = (max(0.0, t) if t <= HORIZON_SECONDS else None for t in times)
    return Forecast(Quantiles(p05, p50, p95), 0.0 if p50 is not None else 0.5)
