"""What is believed before the first reading: physics of the container, habits of people.

The coupling ``k`` (1/s) is the heat transfer coefficient times the wetted area over the heat
capacity of the developer. At a difference of :data:`REFERENCE_KELVIN` it is guessed from the
wall and the volume; the published film correlations give the middle, the spread covers how
deep the container stands, its shape, and still against running water.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wetside.outlook import Setup, Wall
from wetside.units import WATER_J_PER_KG_K

#: Difference between bath and developer, in kelvin, at which the coupling is stated.
REFERENCE_KELVIN = 3.0

#: J/(kg K) times kg/m3 of water.
WATER_J_PER_M3_K = WATER_J_PER_KG_K * 1000.0

# W/(m2 K) at a few kelvin. Churchill-Chu (Int. J. Heat Mass Transfer 18 (1975) 1323) on both
# sides of a 0.1 m wall gives 43-60 for polypropylene, 61-102 for polyethylene, 63-106 for glass and
# 81-169 for steel in still water; running water outside raises them to 59-135, 101-142, 155-269.
_U_W_PER_M2_K = {Wall.PLASTIC: 78.0, Wall.GLASS: 108.0, Wall.STEEL: 165.0, None: 110.0}
_LOG_U_SD = {Wall.PLASTIC: 0.48, Wall.GLASS: 0.48, Wall.STEEL: 0.54, None: 0.6}

#: Volume taken when nobody said, and the extra spread of log k for it.
_USUAL_MILLILITRES = 450.0
_UNSAID_VOLUME_LOG_SD = 0.15

# A litre-sized cylinder twice as high as wide that stands three quarters deep.
_USUAL_ASPECT = 2.0
_USUAL_IMMERSION = 0.75

#: Litres in a usual tempering bath, and the spread of its logarithm (design: 2 to 8 L).
_USUAL_BATH_MILLILITRES = 4200.0
_LOG_BATH_SD = 0.42


@dataclass(frozen=True, slots=True)
class Prior:
    """Beliefs about one container in one kind of bath.

    Attributes
    ----------
    log_coupling, log_coupling_sd
        Natural logarithm of k in 1/s at :data:`REFERENCE_KELVIN`.
    exponent, exponent_sd
        n in k ~ difference**n; 1/4 for laminar natural convection on both sides, towards 0
        where the wall or a running bath holds the greater part of the resistance.
    log_share, log_share_sd
        Logarithm of (heat capacity of the developer) / (heat capacity of the bath).
    runs
        Finished runs that this prior was learnt from.
    """

    log_coupling: float
    log_coupling_sd: float
    exponent: float = 0.14
    exponent_sd: float = 0.075
    log_share: float = math.log(_USUAL_MILLILITRES / _USUAL_BATH_MILLILITRES)
    log_share_sd: float = math.hypot(_LOG_BATH_SD, 0.3)
    runs: int = 0


def volume_or_usual(setup: Setup) -> float:
    """Millilitres of developer, the usual ones where nobody said."""
    return setup.volume_millilitres or _USUAL_MILLILITRES


def area_over_volume(millilitres: float) -> float:
    """Wetted area over volume, in 1/m, of a usual container with that much developer in it."""
    cubic_metres = millilitres * 1e-6
    diameter: float = (4.0 * cubic_metres / (math.pi * _USUAL_ASPECT)) ** (1.0 / 3.0)
    return 4.0 / diameter * _USUAL_IMMERSION + 0.5 / (_USUAL_ASPECT * diameter)


def prior_for(setup: Setup) -> Prior:
    """Prior of a container of which only wall and volume are known, or not even those."""
    millilitres = volume_or_usual(setup)
    rate = _U_W_PER_M2_K[setup.wall] * area_over_volume(millilitres) / WATER_J_PER_M3_K
    sd = _LOG_U_SD[setup.wall]
    share_sd = _LOG_BATH_SD
    if setup.volume_millilitres is None:
        sd = math.hypot(sd, _UNSAID_VOLUME_LOG_SD)
        share_sd = math.hypot(share_sd, 0.4)
    return Prior(
        log_coupling=math.log(rate),
        log_coupling_sd=sd,
        log_share=math.log(millilitres / _USUAL_BATH_MILLILITRES),
        log_share_sd=share_sd,
    )
