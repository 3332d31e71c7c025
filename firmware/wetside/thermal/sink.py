"""Taking an accepted reading into the bank, and starting over where the sink itself changed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from wetside.outlook import Setup
from wetside.readings import Place
from wetside.thermal import bank as banks
from wetside.thermal import lag as lags
from wetside.thermal.bank import (
    BATH,
    COUPLING,
    DEVELOPER,
    PROBE_A,
    SHIFT,
    SOURCE,
    TUBE_A,
    Array,
    Bank,
    Medium,
)
from wetside.thermal.changes import MOST_HYPOTHESES, perhaps_outside
from wetside.thermal.priors import Prior
from wetside.thermal.room import put_in_bath
from wetside.thermal.seeding import CALM_BATH_WALK, RUNNING_PULLS, seed
from wetside.thermal.tracks import Track

_WEIGHT_TEMPER = 0.8
#: A bath is not one temperature: what one spot of it says lies off the same way for minutes, which
#: the coupling of a hidden developer would be read from. Its readings count for less (weights) and
#: as that much worse (variance).
_HIDDEN_WEIGHT_TEMPER, _HIDDEN_VARIANCE = 0.4, 3.0
#: An unsettled reading may err by this times the distance to the medium times the spread of the
#: lag's logarithm: the lag is wrong the same way for some readings in a row.
_LAG_DOUBT = 0.3
_LEAST_LAG_SPREAD = 0.12
#: A tube is no exact first order, so its lag is never known better (sd of its logarithm); after
#: so many lags that no longer matters.
_LEAST_LAG_SD, _SETTLED_LAGS = 0.04, 2.5
_WILD = 4.0
THROWN_KELVIN = 2.5
#: Where nobody placed the probe, a change of the sink counts as news for so long.
_NEW_SECONDS = 30.0
_NEW_COUPLING_SD = 0.3
#: Bath as read against bath as felt by the developer (its surface also meets the room).
SAME_PROBE_SD, TWO_PROBES_SD = 0.06, 0.16
_NEGLIGIBLE_VARIANCE = 1e-6
_HALF_LOG_TAU = 0.5 * math.log(math.tau)
#: Layers form in a container so long after it came into its bath.
_LAYER_SECONDS = 45.0


def media(tracks: tuple[Track, ...], age_seconds: float) -> tuple[Medium, ...]:
    """What the probes that take part are in, so long after the container came into its bath."""
    layered = -math.expm1(-max(0.0, age_seconds) / _LAYER_SECONDS)
    return tuple(
        Medium(
            PROBE_A + track.slot,
            liquid(track.place),
            track.lag.most_fitting[0],
            layered,
            track.lag.sensor_part,
        )
        for track in tracks
        if track.place in {Place.DEVELOPER, Place.BATH}
    )


def liquid(place: Place) -> int:
    """State of the liquid at a place."""
    return DEVELOPER if place is Place.DEVELOPER else BATH


def start(setup: Setup, prior: Prior, tracks: tuple[Track, ...]) -> Bank:
    """Bank from what the probes have told through their lag so far."""
    known = {
        track.place: lags.medium_estimate(track.lag)
        for track in tracks
        if track.place is not Place.AIR
    }
    shift_sd = SAME_PROBE_SD if len(tracks) < 2 else TWO_PROBES_SD
    bank = seed(setup, prior, known.get(Place.DEVELOPER), known.get(Place.BATH), shift_sd)
    for track in tracks:
        celsius, sd, shared = lags.tube_estimate(track.lag)
        bank = banks.probe_anew(bank, track.slot, track.celsius, 0.05, (celsius, sd))
        if track.place is not Place.AIR:
            _tie(bank, TUBE_A + track.slot, liquid(track.place), shared)
    return perhaps_outside(bank)


def _tie(bank: Bank, tube: int, medium: int, shared: float) -> None:
    """Write down that tube and medium err together, by the covariance ``shared`` (K2)."""
    bank.covariance[:, tube, medium] = bank.covariance[:, medium, tube] = shared
    if medium == BATH:  # and the tap with them, as far as it is known by the bath
        part = bank.covariance[:, SOURCE, BATH] / bank.covariance[:, BATH, BATH]
        bank.covariance[:, tube, SOURCE] = bank.covariance[:, SOURCE, tube] = part * shared


def probe_moved(bank: Bank, track: Track) -> Bank:
    """Bank at the first reading of a probe in a liquid: its tube is already on its way."""
    bank = banks.probe_anew(bank, track.slot, track.celsius, 0.1)
    gone, doubt = lags.gone_at_first(track.lag)
    tube, medium = TUBE_A + track.slot, liquid(track.place)
    mean, covariance = bank.mean, bank.covariance  # new ones, as the probe is
    way = mean[:, medium] - track.celsius
    mean[:, tube] += gone * way
    own = covariance[:, tube, tube] + doubt**2 * (way**2 + covariance[:, medium, medium])
    covariance[:, tube, :] = covariance[:, :, tube] = gone * covariance[:, medium, :]
    covariance[:, tube, tube] = own + gone**2 * covariance[:, medium, medium]
    return bank


def second_probe(bank: Bank) -> Bank:
    """A second probe with an error of its own joins in."""
    covariance = bank.covariance.copy()
    covariance[:, SHIFT, SHIFT] += TWO_PROBES_SD**2 - SAME_PROBE_SD**2
    return replace(bank, covariance=covariance)


def take(bank: Bank, track: Track, *, hidden: bool = False) -> tuple[Bank, float, float]:
    """Correct the bank by the track's latest reading.

    Parameters
    ----------
    hidden
        No probe is in the developer: what is known of it comes from the bath's readings.

    Returns
    -------
    tuple
        The bank, the surprise in standard deviations, the logarithm of the reading's density.
    """
    index = PROBE_A + track.slot
    away = bank.mean[:, liquid(track.place)] - track.celsius
    doubt = _LAG_DOUBT * math.hypot(track.lag.most_fitting[1], _LEAST_LAG_SPREAD)
    variance = track.variance + (doubt * away) ** 2
    off, total = banks.innovation(bank, index, track.celsius, variance)
    weight = bank.weights()
    surprise = _surprise(weight, off, total)
    taken, wider = total, (surprise / _WILD) ** 2
    if wider > 1.0:  # the reading is taken as that much worse, its evidence as all of it being so
        taken, total = total + (wider - 1.0) * variance, wider * total
    misfit = banks.misfit(off, total)
    evidence = math.log(float(weight @ np.exp(-0.5 * misfit)) + 1e-300) - _HALF_LOG_TAU
    if hidden:
        taken = taken + (_HIDDEN_VARIANCE - 1.0) * track.variance
    if taken is not total:
        misfit = banks.misfit(off, taken)
    temper = _HIDDEN_WEIGHT_TEMPER if hidden else _WEIGHT_TEMPER
    corrected = banks.weighed(bank, index, off, taken, -0.5 * temper * misfit)
    if track.told is Place.UNKNOWN:
        # hands explain nearly everything, a probe that moved among it
        weight = weight * (bank.born < track.seconds - _NEW_SECONDS)
        surprise = _surprise_untouched(weight, off, total, track.misfit)
    return banks.keep_likely(corrected), surprise, evidence


def _surprise(weight: Array, innovation: Array, total: Array) -> float:
    """Mean innovation over its standard deviation."""
    whole = float(weight.sum())
    off = float(weight @ innovation) / whole
    return off / math.sqrt(float(weight @ (total + (innovation - off) ** 2)) / whole)


def _surprise_untouched(
    weight: Array, innovation: Array, total: Array, misfit: tuple[float, float]
) -> float:
    """Surprise by what is left; where that is nothing, beyond all bounds, as the misfit leans."""
    if weight.sum() > 0.0:
        return _surprise(weight, innovation, total)
    up, down = misfit
    return math.copysign(math.inf, up - down)


def unsettled(bank: Bank, track: Track) -> Bank:
    """Bank in which a liquid is known no better than the lag lets an unsettled probe tell.

    A wrong lag errs to the same side in every reading of a dip, so readings do not average it out.
    """
    lag, spread = track.lag.most_fitting
    stay = track.seconds - track.since
    if stay > _SETTLED_LAGS * lag:
        return bank
    index = liquid(track.place)
    away = bank.mean[:, index] - track.celsius
    least = (math.hypot(spread, _LEAST_LAG_SD) * stay / lag * away) ** 2
    covariance = bank.covariance.copy()
    covariance[:, index, index] = np.maximum(covariance[:, index, index], least)
    return replace(bank, covariance=covariance)


def with_running_baths(bank: Bank, prior: Prior) -> Bank:
    """Split running baths by how fast they follow the tap, once the bath itself is measured."""
    likely = put_in_bath(banks.keep_likely(bank, -9.0), prior)
    running = banks.take_rows(likely, likely.running)
    running.walk[:, BATH] = CALM_BATH_WALK**2
    share = math.log(len(RUNNING_PULLS))
    whole = banks.take_rows(likely, ~likely.running)
    for pull in RUNNING_PULLS:
        part = replace(
            running,
            pull=np.full_like(running.pull, pull),
            log_weight=running.log_weight - share,
        )
        whole = banks.joined(whole, part)
    return whole


def loosened_coupling(bank: Bank, growth: float, variance: float) -> Bank:
    """Let the logarithm of the coupling grow and be less sure."""
    if variance < _NEGLIGIBLE_VARIANCE:
        return bank
    mean, covariance = bank.mean.copy(), bank.covariance.copy()
    mean[:, COUPLING] += growth
    covariance[:, COUPLING, COUPLING] += variance
    return replace(bank, mean=mean, covariance=covariance)


def bath_thrown(bank: Bank) -> Bank:
    """Somebody added ice or hot water, or turned the tap: the bath is anywhere near."""
    covariance = bank.covariance.copy()
    for index in (BATH, SOURCE):
        covariance[:, index, index] += THROWN_KELVIN**2
    return replace(bank, covariance=covariance)


def developer_thrown(
    bank: Bank, setup: Setup, prior: Prior, track: Track, *, bath_measured: bool
) -> Bank:
    """The developer no longer follows the belief: keep its temperature, ask the rest anew.

    Stirring, a changed bath that nobody measures, or a container lifted out all look like this.
    """
    coupling, coupling_sd = banks.moments(bank, COUPLING)
    softer = replace(
        prior,
        log_coupling=coupling,
        log_coupling_sd=math.hypot(min(coupling_sd, prior.log_coupling_sd), _NEW_COUPLING_SD),
    )
    bath = banks.moments(bank, BATH) if bath_measured else None
    again = seed(setup, softer, (track.celsius, 0.25), bath)
    again = replace(again, log_weight=np.log(again.weights() + 1e-9))
    again = banks.probe_anew(again, track.slot, track.celsius, 0.1)
    other = 1 - track.slot
    sensor, tube = (banks.moments(bank, first + other) for first in (PROBE_A, TUBE_A))
    again = banks.probe_anew(again, other, *sensor, tube)
    return banks.strongest(banks.joined(again, _loosened(bank)), MOST_HYPOTHESES)


def _loosened(bank: Bank) -> Bank:
    """The hypotheses so far, each less sure of everything that may have changed."""
    covariance = bank.covariance.copy()
    for index, sd in (
        (DEVELOPER, 0.25),
        (COUPLING, _NEW_COUPLING_SD),
        (BATH, THROWN_KELVIN),
        (SOURCE, THROWN_KELVIN),
    ):
        covariance[:, index, index] += sd * sd
    log_weight = np.log(bank.weights() + 1e-9)
    return replace(bank, covariance=covariance, log_weight=log_weight)
