"""Building a bank of hypotheses from what is known at its start."""

from __future__ import annotations

import math

import numpy as np

from wetside.outlook import Setup
from wetside.thermal.bank import (
    BATH,
    COUPLING,
    DEVELOPER,
    EXPONENT,
    LAYER,
    PROBES,
    SHARE,
    SHIFT,
    SIZE,
    SOURCE,
    STILL_PULL,
    Array,
    Bank,
)
from wetside.thermal.priors import Prior
from wetside.thermal.room import with_room

#: People set a bath on purpose: (probability, kelvin beyond the target, sd).
_BATH_HABITS = ((0.15, 0.3, 0.6), (0.72, 3.5, 2.2), (0.10, -1.0, 2.5), (0.03, 12.0, 10.0))
_BATH_NODES = np.array([-6.0, -3.0, -1.4, -0.5, 0.2, 1.0, 2.2, 4.0, 7.0, 13.0, 23.0])
_BATH_NODE_SD = np.array([2.0, 1.3, 0.8, 0.5, 0.45, 0.6, 1.0, 1.6, 2.6, 5.0, 7.0])

_COUPLING_NODES = np.array([-3.2, -2.0, -1.2, -0.6, 0.0, 0.6, 1.2, 2.0, 3.2])
_COUPLING_NODE_SD = np.array([0.8, 0.55, 0.42, 0.38, 0.38, 0.38, 0.42, 0.55, 0.8])
_COUPLING_TAIL = 1.5

#: A still bath comes to rest under the temperature of the room, because it evaporates.
_REST_CELSIUS, _REST_SD = 18.5, 4.5
#: 1/s, how fast a running bath follows its tap.
_RUNNING_PULL = 1.0 / 400.0
RUNNING_PULLS = (1.0 / 45.0, 1.0 / 150.0, 1.0 / 500.0)
_DEVELOPER_WALK = 0.001
_COUPLING_WALK = 0.0025
#: K per root second, and K between a running bath and its tap.
RUNNING_BATH_WALK, TAP_WALK, _TAP_SD = 0.005, 0.01, 0.6
#: K per root second of a still bath, and of a running one once it is measured: were that less calm,
#: still ones, whose heat balance speaks of the coupling, would win by being calm alone.
CALM_BATH_WALK = 0.002
#: The layers' share of the difference between bath and developer, and how it creeps.
_LAYER_SD, _LAYER_WALK = 0.012, 0.0005
_UNKNOWN_DEVELOPER = (21.0, 6.0)


def _density(x: Array, middle: float, sd: float) -> Array:
    return np.asarray(np.exp(-0.5 * ((x - middle) / sd) ** 2) / sd)


def seed(
    setup: Setup,
    prior: Prior,
    developer: tuple[float, float] | None,
    bath: tuple[float, float] | None,
    shift_sd: float = 0.06,
) -> Bank:
    """Bank from temperatures known as (degC, sd), None where nothing is known."""
    start, start_sd = developer or _UNKNOWN_DEVELOPER
    if bath is None:
        direction = math.copysign(1.0, setup.target_celsius - start)
        baths = setup.target_celsius + direction * _BATH_NODES
        bath_sd = _BATH_NODE_SD
        bath_weight = sum(
            (p * _density(_BATH_NODES, m, s) for p, m, s in _BATH_HABITS),
            np.zeros_like(_BATH_NODES),
        ) * np.gradient(_BATH_NODES)
    else:
        baths, bath_sd, bath_weight = np.array([bath[0]]), np.array([bath[1]]), np.ones(1)
    coupling = prior.log_coupling + prior.log_coupling_sd * _COUPLING_NODES
    coupling_weight = (
        0.8 * _density(_COUPLING_NODES, 0.0, 1.0)
        + 0.2 * _density(_COUPLING_NODES, 0.0, _COUPLING_TAIL)
    ) * np.gradient(_COUPLING_NODES)
    running = np.array([False, True])
    b, c, r = (
        grid.ravel()
        for grid in np.meshgrid(
            np.arange(len(baths)), np.arange(len(coupling)), np.arange(2), indexing="ij"
        )
    )
    runs = running[r]
    count = len(b)
    mean = np.zeros((count, SIZE))
    covariance = np.zeros((count, SIZE, SIZE))
    mean[:, DEVELOPER] = start
    mean[:, BATH] = baths[b]
    mean[:, SOURCE] = np.where(runs, baths[b], _REST_CELSIUS)
    mean[:, COUPLING] = coupling[c]
    mean[:, EXPONENT] = prior.exponent
    mean[:, SHARE] = prior.log_share
    mean[:, PROBES] = start
    covariance[:, DEVELOPER, DEVELOPER] = start_sd**2
    covariance[:, BATH, BATH] = bath_sd[b] ** 2
    covariance[:, SOURCE, SOURCE] = np.where(runs, bath_sd[b] ** 2 + _TAP_SD**2, _REST_SD**2)
    together = np.where(runs, bath_sd[b] ** 2, 0.0)
    covariance[:, SOURCE, BATH] = covariance[:, BATH, SOURCE] = together
    covariance[:, COUPLING, COUPLING] = (_COUPLING_NODE_SD[c] * prior.log_coupling_sd) ** 2
    covariance[:, EXPONENT, EXPONENT] = prior.exponent_sd**2
    covariance[:, SHARE, SHARE] = prior.log_share_sd**2
    covariance[:, SHIFT, SHIFT] = shift_sd**2
    covariance[:, LAYER, LAYER] = _LAYER_SD**2
    covariance[:, PROBES, PROBES] = 1.0
    log_weight = np.log(bath_weight[b] * coupling_weight[c] * 0.5)
    walk = np.zeros((count, SIZE))
    walk[:, DEVELOPER] = _DEVELOPER_WALK**2
    walk[:, BATH] = np.where(runs, RUNNING_BATH_WALK**2, CALM_BATH_WALK**2)
    walk[:, SOURCE] = np.where(runs, TAP_WALK**2, 0.0)
    walk[:, COUPLING] = _COUPLING_WALK**2
    walk[:, LAYER] = _LAYER_WALK**2
    walk[:, PROBES] = 0.002**2
    pull = np.where(runs, _RUNNING_PULL, STILL_PULL)
    log_weight -= log_weight.max()
    born = np.full(count, -np.inf)
    bank = Bank(mean, covariance, log_weight, pull, walk, np.ones(count), born)
    return with_room(bank, setup) if bath is None else bank
