"""From a belief to the answer on the display: when ready, for how long, or never."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wetside.outlook import HORIZON_SECONDS, Outlook, Quantiles, Temperature
from wetside.readings import STALE_AFTER_SECONDS, Place
from wetside.thermal import bank as banks
from wetside.thermal.bank import BATH, DEVELOPER, Array, Bank
from wetside.thermal.belief import Belief
from wetside.thermal.futures import PROBE_ERROR, SAMPLES, entry_and_exit, play
from wetside.thermal.story import Story
from wetside.thermal.tracks import Track

_FAULT_SECONDS = 3.0
#: A recording may be slow: a reading is overdue after so many of the latest interval.
_LATE_INTERVALS = 2.5
#: Accounts less probable than this are left out; with more than that on accounts that know
#: nothing of the developer: no word.
_DOUBT = 0.04
_MOST_SILENT = 0.25
#: A developer at a place that nobody told is not spoken of while it is less sure than this (sd).
_GUESSED_KELVIN = 3.0
_MOSTLY_NEVER = 0.75


@dataclass(frozen=True, slots=True)
class _Scale:
    """How futures are read, as sinks that the estimator was tuned on came out.

    ``levels`` is where they are cut for p05, p50, p95: hands that nobody moves are among them, so
    on calm sinks their own 5 % leave out less than a twentieth. The odds that it never comes are
    ``odds`` times theirs to the power ``power``, on calm and disturbed sinks together.
    """

    levels: tuple[float, float, float]
    odds: float
    power: float

    def never(self, share: float) -> float:
        """Probability that it never comes where that share of the futures does not, 0 to 1."""
        never = self.odds * math.pow(share, self.power)
        comes = math.pow(1.0 - share, self.power)
        return never / (never + comes)


#: While only the developer was measured; with the probe in the bath; and once the developer is met
#: after the bath: the futures then lie too close together, and it comes later than they say more
#: often than earlier.
_ALONE = _Scale((0.14, 0.5, 0.92), 1.35, 1.2)
_HIDDEN = _Scale((0.14, 0.5, 0.92), 0.8, 0.75)
_MET = _Scale((0.085, 0.5, 0.96), 1.5, 0.9)


@dataclass(frozen=True, slots=True)
class _Futures:
    """One account, played through.

    ``times``, of shape (2, samples), holds for each future when it comes into the window and when
    it leaves it again, seconds from now, inf for never, in the order of coming.
    """

    developer: Temperature
    bath: Temperature
    times: Array
    scale: _Scale

    @property
    def never(self) -> float:
        """Probability that it never comes."""
        entry = self.times[0]
        return self.scale.never(1.0 - int(np.isfinite(entry).sum()) / len(entry))


def _stays(times: Array, ready_in: Quantiles, levels: tuple[float, float, float]) -> Quantiles:
    """Quantiles of leaving among the futures that enter; None where it stays that long.

    Nobody leaves before having come: none is less than that of coming, and none is said where so
    few come that nothing is said of it.
    """
    if ready_in.p05 is None:
        return Quantiles(None, None, None)
    ordered = np.sort(times)
    picks = (float(ordered[int(q * (len(ordered) - 1) + 0.5)]) for q in levels)
    comes = (ready_in.p05, ready_in.p50, ready_in.p95)
    return Quantiles(
        *(
            None if pick >= HORIZON_SECONDS else max(pick, least or 0.0)
            for pick, least in zip(picks, comes, strict=True)
        )
    )


def _quantiles(ordered: Array, levels: tuple[float, float, float]) -> Quantiles:
    """Quantiles of those (sorted) that happen; middle and upper None where most never do."""
    happen = int(np.searchsorted(ordered, HORIZON_SECONDS))
    if happen < 3:
        return Quantiles(None, None, None)
    low, mid, high = (float(ordered[int(q * (happen - 1) + 0.5)]) for q in levels)
    share = happen / len(ordered)
    if share < 1.0 - _MOSTLY_NEVER or (mid == 0.0 and share < 0.5):
        return Quantiles(low, None, None)  # nor is it there by now where it more likely never is
    return Quantiles(low, mid, high)


def _temperature(bank: Bank, weight: Array, index: int, probe_sd: float) -> Temperature:
    """Belief about a temperature, the probe's own error included."""
    middle, sd = banks.moments(bank, index, weight)
    return Temperature(middle, math.hypot(sd, probe_sd))


def outlook(belief: Belief, seconds: float) -> Outlook:
    """What follows from ``belief`` at the moment ``seconds`` (not before its latest reading).

    Where several accounts are still possible, their futures are taken together, each account's
    as many as it is probable; temperatures are the most probable one's, as uncertain as all say.
    """
    faults = tuple(word for word, when in belief.faults if seconds - when <= _FAULT_SECONDS)
    if belief.tracks and all(_stale(track, seconds) for track in belief.tracks):
        faults = (*faults, "stale")
    spoken, silent = [], 0.0
    for chance, story in zip(belief.probabilities(), belief.stories, strict=True):
        if story.bank is None or not _knows(story, story.bank):
            silent += chance
        elif chance > _DOUBT:
            spoken.append((chance, _play(story, story.bank, seconds)))
    if not spoken or silent > _MOST_SILENT:
        return _nothing(seconds, faults)
    total = sum(chance for chance, _ in spoken)
    return _told([(chance / total, futures) for chance, futures in spoken], seconds, faults)


def _stale(track: Track, seconds: float) -> bool:
    """Whether a reading is overdue, by its own pace where that is a slow one."""
    return seconds - track.seconds > max(STALE_AFTER_SECONDS, _LATE_INTERVALS * track.interval)


def _knows(story: Story, bank: Bank) -> bool:
    """Whether an account knows the developer: not by a guess at a place that is a guess too."""
    placed = any(track.told is not Place.UNKNOWN for track in story.tracks)
    return placed or banks.moments(bank, DEVELOPER)[1] <= _GUESSED_KELVIN


def view(story: Story, seconds: float) -> Outlook:
    """Outlook of one account."""
    if story.bank is None:
        return _nothing(seconds)
    return _told([(1.0, _play(story, story.bank, seconds))], seconds)


def _play(story: Story, bank: Bank, seconds: float) -> _Futures:
    setup = story.setup
    if seconds > story.bank_seconds:
        bank = banks.predict(bank, seconds - story.bank_seconds, ())
    weight = bank.weights()
    target = setup.target_celsius + setup.probe_sd_celsius * PROBE_ERROR
    low, high = target - setup.tolerance_celsius, target + setup.tolerance_celsius
    times = entry_and_exit(play(bank, weight), low, high)
    return _Futures(
        _temperature(bank, weight, DEVELOPER, setup.probe_sd_celsius),
        _temperature(bank, weight, BATH, setup.probe_sd_celsius),
        times[:, times[0].argsort()],
        _MET if story.met_since else _HIDDEN if story.bath_seen else _ALONE,
    )


def _nothing(seconds: float, faults: tuple[str, ...] = ()) -> Outlook:
    never_said = Quantiles(None, None, None)
    return Outlook(seconds, None, None, never_said, never_said, 0.5, faults)


def _told(
    accounts: list[tuple[float, _Futures]], seconds: float, faults: tuple[str, ...] = ()
) -> Outlook:
    """Outlook of accounts with their chances (sum 1), the most probable one first."""
    leading = accounts[0][1]
    entry, leave = _together(accounts)
    comes = np.isfinite(entry)
    ready_in = _quantiles(entry, leading.scale.levels)
    return Outlook(
        seconds,
        _doubted([(chance, futures.developer) for chance, futures in accounts]),
        _doubted([(chance, futures.bath) for chance, futures in accounts]),
        ready_in,
        _stays(leave[comes], ready_in, leading.scale.levels),
        min(1.0, sum(chance * futures.never for chance, futures in accounts)),  # rounding
        faults,
    )


def _together(accounts: list[tuple[float, _Futures]]) -> Array:
    """Futures of all accounts, of each as many as it is probable, in the order of coming."""
    if len(accounts) == 1:
        return accounts[0][1].times
    times = np.concatenate([_thinned(each.times, chance) for chance, each in accounts], axis=1)
    return np.asarray(times[:, times[0].argsort()])


def _thinned(times: Array, chance: float) -> Array:
    """So many of the futures, spread evenly over their order."""
    count = round(chance * SAMPLES)
    picks = (np.arange(count) + 0.5) * (SAMPLES / max(count, 1))
    return np.asarray(times[:, picks.astype(np.intp)])


def _doubted(accounts: list[tuple[float, Temperature]]) -> Temperature:
    """The leading account's temperature, as far off as all accounts with their chances say."""
    leading = accounts[0][1]
    if len(accounts) == 1:
        return leading
    square = sum(
        chance * (one.sd**2 + (one.celsius - leading.celsius) ** 2) for chance, one in accounts
    )
    return Temperature(leading.celsius, math.sqrt(square))
