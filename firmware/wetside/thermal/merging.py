"""Fewer hypotheses that say the same: neighbours are merged where that loses next to nothing.

Two weighted normals become one with their common mean and covariance. What is lost by it is
bounded as in A. R. Runnalls, IEEE Transactions on Aerospace and Electronic Systems 43 (2007) 989.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wetside.thermal import bank as banks
from wetside.thermal.bank import BATH, COUPLING, DEVELOPER, POURED, SOURCE, Array, Bank
from wetside.thermal.room import in_room

#: Loss (nats, for the pair alone) up to which two hypotheses are taken as one.
_LOSS = 0.25
_COMPARED = np.array([DEVELOPER, BATH, SOURCE, COUPLING, POURED])
#: Differences finer than these (K, K, K, in the logarithm, K/s) do not matter.
_FINE = np.diag(np.array([0.01, 0.03, 0.1, 0.02, 0.0005]) ** 2)


def merged(bank: Bank) -> Bank:
    """Bank in which pairs of nearly equal hypotheses of one kind have become one each."""
    spread = np.round(np.log2(bank.covariance[:, POURED, POURED] + 1e-9))
    order = np.lexsort(
        (bank.mean[:, COUPLING], bank.mean[:, BATH], spread, bank.immersed, bank.pull)
    )
    bank = banks.take_rows(bank, order)
    weight, room = bank.weights(), in_room(bank)
    first, second = weight[:-1], weight[1:]
    share = first / np.maximum(first + second, 1e-300)
    same = (bank.pull[:-1] == bank.pull[1:]) & (bank.immersed[:-1] == bank.immersed[1:])
    same &= room[:-1] == room[1:]
    loss = np.where(same, _loss(bank, share), np.inf)
    pairs = _disjoint(loss)
    if not len(pairs):
        return bank
    part = share[pairs]
    mean = bank.mean[pairs] + (1.0 - part)[:, None] * (bank.mean[pairs + 1] - bank.mean[pairs])
    apart = bank.mean[pairs] - bank.mean[pairs + 1]
    covariance = (
        part[:, None, None] * bank.covariance[pairs]
        + (1.0 - part)[:, None, None] * bank.covariance[pairs + 1]
        + (part * (1.0 - part))[:, None, None] * apart[:, :, None] * apart[:, None, :]
    )
    born = np.where(part >= 0.5, bank.born[pairs], bank.born[pairs + 1])
    new = replace(banks.take_rows(bank, pairs), mean=mean, covariance=covariance, born=born)
    log_weight = np.logaddexp(bank.log_weight[pairs], bank.log_weight[pairs + 1])
    left = np.ones(len(weight), dtype=bool)
    left[pairs] = left[pairs + 1] = False
    return banks.joined(banks.take_rows(bank, left), replace(new, log_weight=log_weight))


def _loss(bank: Bank, share: Array) -> Array:
    """Loss of merging each hypothesis with the next, shape (H - 1,)."""
    block = bank.covariance[:, _COMPARED[:, None], _COMPARED] + _FINE
    mean = bank.mean[:, _COMPARED]
    apart = mean[1:] - mean[:-1]
    a, b = share[:, None, None], 1.0 - share[:, None, None]
    both = a * block[:-1] + b * block[1:] + a * b * apart[:, :, None] * apart[:, None, :]
    log_volume = np.linalg.slogdet(block)[1]
    own = share * log_volume[:-1] + (1.0 - share) * log_volume[1:]
    return np.asarray(0.5 * (np.linalg.slogdet(both)[1] - own))


def _disjoint(loss: Array) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Indices i of pairs (i, i + 1) to merge, the cheapest first, none sharing a member."""
    taken: set[int] = set()
    pairs: list[int] = []
    for index in map(int, np.argsort(loss)):
        if loss[index] > _LOSS:
            break
        if index not in taken and index + 1 not in taken:
            pairs.append(index)
            taken |= {index, index + 1}
    return np.array(pairs, dtype=np.intp)
