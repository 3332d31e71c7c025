"""Hypotheses of a hot developer that cools in the air of the room, in no bath.

A solution hotter than any bath was just mixed, and is left on the bench as often as it is put in a
bath (common practice). The room is its bath then: the container does not warm it, and it follows
nothing within a wait.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wetside.outlook import Setup
from wetside.thermal import bank as banks
from wetside.thermal.bank import (
    BATH,
    COUPLING,
    DEVELOPER,
    EXPONENT,
    SHARE,
    SOURCE,
    STILL_PULL,
    Bank,
)
from wetside.thermal.lag import HOT_CELSIUS
from wetside.thermal.priors import WATER_J_PER_M3_K, Prior, area_over_volume, volume_or_usual

#: Nobody tempers a hot developer in a bath only: probability of the room.
_IN_ROOM = 0.5
_ROOM_CELSIUS, _ROOM_SD = 21.0, 3.5
#: W/(m2 K) at a few kelvin: some 5 each of convection and radiation, and as much again of
#: evaporation where the container is open (from memory), with the spread of the logarithm.
_AIR_W_PER_M2_K, _LOG_AIR_SD = 20.0, 0.7
#: Convection alone has 1/4; radiation grows less with the difference, evaporation more.
_EXPONENT, _EXPONENT_SD = 0.2, 0.1
#: Logarithm of the developer's heat capacity over that of the room.
_LOG_SHARE = -12.0
#: Between that and the share of the smallest developer in the largest bath.
_LEAST_BATH_LOG_SHARE = -9.0
#: K per root second: hot open liquids steam in puffs; rooms drift.
_DEVELOPER_WALK, _ROOM_WALK = 0.01, 0.002
#: Of the coupling, in its spread.
_NODES, _NODE_SD = np.array([-1.6, -0.55, 0.55, 1.6]), 0.6


def with_room(bank: Bank, setup: Setup) -> Bank:
    """Bank in which a developer that is hot may stand in the room as well."""
    best = int(bank.log_weight.argmax())
    if bank.mean[best, DEVELOPER] < HOT_CELSIUS:
        return bank
    room = banks.take_rows(bank, np.full(len(_NODES), best))
    rate = _AIR_W_PER_M2_K * area_over_volume(volume_or_usual(setup)) / WATER_J_PER_M3_K
    for index, value, sd in (
        (BATH, _ROOM_CELSIUS, _ROOM_SD),
        (SOURCE, _ROOM_CELSIUS, _ROOM_SD),
        (COUPLING, math.log(rate) + _LOG_AIR_SD * _NODES, _LOG_AIR_SD * _NODE_SD),
        (EXPONENT, _EXPONENT, _EXPONENT_SD),
        (SHARE, _LOG_SHARE, 0.0),
    ):
        room = banks.known_anew(room, index, value, sd)
    room.walk[:, DEVELOPER] = _DEVELOPER_WALK**2
    room.walk[:, BATH], room.walk[:, SOURCE] = _ROOM_WALK**2, 0.0
    share = np.exp(-0.5 * _NODES**2)
    share *= np.exp(bank.log_weight).sum() * _IN_ROOM / (1.0 - _IN_ROOM) / share.sum()
    room = replace(room, pull=np.zeros(len(_NODES)), log_weight=np.log(share))
    return banks.joined(bank, room)


def in_room(bank: Bank) -> NDArray[np.bool_]:
    """Whether a hypothesis, or what it came from, has no bath but the room, shape (H,)."""
    return np.asarray(bank.mean[:, SHARE] < _LEAST_BATH_LOG_SHARE)


def put_in_bath(bank: Bank, prior: Prior) -> Bank:
    """Bank of a container that stands in a bath from now on, wherever it was."""
    rows = in_room(bank)
    if not rows.any():
        return bank
    room, bathed = banks.take_rows(bank, rows), banks.take_rows(bank, ~rows)
    for index, value, sd in (
        (COUPLING, prior.log_coupling, prior.log_coupling_sd),
        (EXPONENT, prior.exponent, prior.exponent_sd),
        (SHARE, prior.log_share, prior.log_share_sd),
    ):
        room = banks.known_anew(room, index, value, sd)
    pull = np.where(room.running, room.pull, STILL_PULL)
    return banks.joined(bathed, replace(room, pull=pull))
