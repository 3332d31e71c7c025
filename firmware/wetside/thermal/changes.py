"""Hypotheses of hands at the sink: ice or water poured in, a tap turned, the container lifted out.

Every few seconds the likely hypotheses get children in which that has just happened. These carry
little weight and win only where the readings that follow ask for it.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from wetside.thermal import bank as banks
from wetside.thermal.bank import BATH, COUPLING, DEVELOPER, POURED, POURED_SECONDS, SOURCE, Bank
from wetside.thermal.merging import merged
from wetside.thermal.seeding import RUNNING_BATH_WALK, TAP_WALK

#: Seconds between two generations of children.
CHANGES_SECONDS = 6.0
#: How many hypotheses are carried: in the first minute, when everything may be, and later.
MOST_HYPOTHESES, _LATER_HYPOTHESES = 100, 80
_FIRST_SECONDS = 60.0
#: Parents: how many, and how far their log weight may lie under the best.
_PARENTS, _LIFTED_PARENTS = 10, 5
_LEAST_PARENT = -6.0
#: Log weight of a child against its parent.
_POURED_LOG_WEIGHT = _TURNED_LOG_WEIGHT = -4.0
_LIFTED_LOG_WEIGHT = -6.0
#: What ice or water does to the bath at once and what is to come of it, K.
_POURED_NOW_KELVIN, _POURED_KELVIN = 1.0, 2.5
#: What a turned tap does at once, how far off the bath then tends, K, and how fast (1/s).
_TURNED_NOW_KELVIN, _TURNED_KELVIN = 0.5, 5.0
_OPENED_PULL = 1.0 / 300.0
#: A developer that is met for the first time may not stand in its bath yet: probability. Heat that
#: comes through the wall late at first looks the same.
_NOT_YET = 0.2
#: Who reaches into the bath stirs it too: spread of log k, and K in the developer.
_STIRRED_LOG_SD, _STIRRED_KELVIN = 0.2, 0.02
#: In air a container takes up a twentieth of the heat; it comes back within about 20 s.
_LIFTED_PART = 0.05
_STAYS_OUT, _COMES_BACK = math.log(0.7), math.log(0.3)


def with_changes(bank: Bank, seconds: float, age_seconds: float) -> Bank:
    """Bank with children, born at ``seconds``, of its likely hypotheses.

    Hypotheses that say the same are made one. ``age_seconds`` is how long ago the first probe came
    into a liquid.
    """
    bank = merged(bank)
    inside = bank.immersed > 0.5
    lifted = banks.take_rows(bank, ~inside)
    if not inside.any():
        bank, inside = _put_back(bank), ~inside
    bank = banks.take_rows(bank, inside)
    likely = banks.strongest(banks.keep_likely(bank, _LEAST_PARENT), _PARENTS)
    back = _put_back(lifted)
    children = [
        _poured_into(likely),
        _turned(likely),
        _lifted_out(banks.strongest(likely, _LIFTED_PARENTS)),
    ]
    bank = banks.joined(bank, replace(lifted, log_weight=lifted.log_weight + _STAYS_OUT))
    # that a container comes into its bath for the first time is no news
    born = np.where(np.isneginf(back.born), -np.inf, seconds)
    bank = banks.joined(bank, replace(back, born=born))
    for some in children:
        bank = banks.joined(bank, replace(some, born=np.full_like(some.born, seconds)))
    most = MOST_HYPOTHESES if age_seconds < _FIRST_SECONDS else _LATER_HYPOTHESES
    return banks.strongest(bank, most)


def perhaps_outside(bank: Bank) -> Bank:
    """Bank with its likelier hypotheses once more, the container not in its bath yet."""
    inside = replace(bank, log_weight=bank.log_weight + math.log(1.0 - _NOT_YET))
    outside = replace(
        bank,
        immersed=np.full_like(bank.pull, _LIFTED_PART),
        log_weight=bank.log_weight + math.log(_NOT_YET),
    )
    return banks.strongest(banks.joined(inside, outside), 3 * MOST_HYPOTHESES)


def _stirred(bank: Bank) -> Bank:
    covariance = bank.covariance.copy()
    covariance[:, COUPLING, COUPLING] += _STIRRED_LOG_SD**2
    covariance[:, DEVELOPER, DEVELOPER] += _STIRRED_KELVIN**2
    return replace(bank, covariance=covariance)


def _poured_into(bank: Bank) -> Bank:
    """Ice, hot or cold water has come into the bath, and more of its effect is to come."""
    bank = _stirred(bank)
    bank.covariance[:, BATH, BATH] += _POURED_NOW_KELVIN**2
    bank.covariance[:, POURED, POURED] += (_POURED_KELVIN / POURED_SECONDS) ** 2
    return replace(bank, log_weight=bank.log_weight + _POURED_LOG_WEIGHT)


def _turned(bank: Bank) -> Bank:
    """A tap was opened or turned: the bath is on its way to anywhere."""
    bank = _stirred(bank)
    mean, covariance = bank.mean.copy(), bank.covariance
    pull, walk = bank.pull.copy(), bank.walk.copy()
    still = ~bank.running
    pull[still] = _OPENED_PULL
    mean[still, SOURCE] = mean[still, BATH]
    covariance[still, :, SOURCE] = covariance[still, :, BATH]
    covariance[still, SOURCE, :] = covariance[still, BATH, :]
    covariance[still, SOURCE, SOURCE] = covariance[still, BATH, BATH]
    walk[still, BATH], walk[still, SOURCE] = RUNNING_BATH_WALK**2, TAP_WALK**2
    for i, j in ((BATH, BATH), (BATH, SOURCE), (SOURCE, BATH)):
        covariance[:, i, j] += _TURNED_NOW_KELVIN**2
    covariance[:, SOURCE, SOURCE] += _TURNED_KELVIN**2
    log_weight = bank.log_weight + _TURNED_LOG_WEIGHT
    return replace(bank, mean=mean, pull=pull, walk=walk, log_weight=log_weight)


def _lifted_out(bank: Bank) -> Bank:
    """The container was lifted out of its bath, the probe in it."""
    immersed = np.full_like(bank.pull, _LIFTED_PART)
    return replace(bank, immersed=immersed, log_weight=bank.log_weight + _LIFTED_LOG_WEIGHT)


def _put_back(lifted: Bank) -> Bank:
    """It stands in its bath again."""
    immersed = np.ones_like(lifted.pull)
    return replace(lifted, immersed=immersed, log_weight=lifted.log_weight + _COMES_BACK)
