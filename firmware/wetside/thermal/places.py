"""Recognising what a probe is in when nobody pressed a button.

After a jump the medium's temperature is read through the lag and compared with what each place
would show. The answer is a guess: a later reading that does not fit it, or a button, undoes it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wetside.readings import Place

#: Rooms that darkrooms are in: degC and spread.
_ROOM = (21.0, 4.0)
_FIT_KELVIN = 0.25
#: How far a bath or a developer is thrown by what people pour in, K.
_THROW_KELVIN = 3.0


@dataclass(frozen=True, slots=True)
class Guess:
    """Most probable place, its probability, and whether the medium itself changed."""

    place: Place
    probability: float
    disturbed: bool


def _log_normal(value: float, middle: float, sd: float) -> float:
    return -0.5 * ((value - middle) / sd) ** 2 - math.log(sd)


# Probability of what comes next by where the probe was: (place, disturbed): probability.
_NEXT: dict[Place, dict[tuple[Place, bool], float]] = {
    Place.DEVELOPER: {
        (Place.BATH, False): 0.62,
        (Place.DEVELOPER, False): 0.1,
        (Place.DEVELOPER, True): 0.18,
        (Place.AIR, False): 0.1,
    },
    Place.BATH: {
        (Place.DEVELOPER, False): 0.4,
        (Place.BATH, False): 0.1,
        (Place.BATH, True): 0.35,
        (Place.AIR, False): 0.15,
    },
    Place.AIR: {
        (Place.DEVELOPER, False): 0.5,
        (Place.BATH, False): 0.3,
        (Place.AIR, False): 0.2,
    },
}


def recognise(
    was: Place,
    medium: tuple[float, float],
    developer: tuple[float, float],
    bath: tuple[float, float],
    slow: float,
) -> Guess:
    """Guess the place after a jump.

    Parameters
    ----------
    was
        Where the probe was before.
    medium, developer, bath
        (degC, sd) of what the probe is in now, and of what is believed about both liquids.
    slow
        Probability from the lag that the probe follows too slowly for a liquid.
    """
    celsius, sd = medium
    scores: dict[tuple[Place, bool], float] = {}
    for (place, disturbed), chance in _NEXT[was].items():
        if place is Place.AIR:
            fit = _log_normal(celsius, _ROOM[0], math.hypot(_ROOM[1], sd)) + math.log(
                0.1 + 0.9 * slow
            )
        else:
            middle, spread = developer if place is Place.DEVELOPER else bath
            wide = math.sqrt(
                spread**2 + sd**2 + _FIT_KELVIN**2 + (_THROW_KELVIN**2 if disturbed else 0.0)
            )
            fit = _log_normal(celsius, middle, wide) + math.log(1.0 - 0.9 * slow)
        scores[place, disturbed] = math.log(chance) + fit
    best = max(scores, key=lambda key: scores[key])
    total = sum(math.exp(score - scores[best]) for score in scores.values())
    return Guess(best[0], 1.0 / total, best[1])


def recognise_first(medium: tuple[float, float], target_celsius: float, flat: bool) -> Guess:
    """Guess after the first jump of a probe that nobody placed.

    It was in the developer and is now in the bath, or it hung in the air (then it was ``flat``)
    and is now in the developer, which may have any temperature; a bath is set for the target.
    """
    celsius, sd = medium
    as_bath = math.log(0.6) + _log_normal(celsius, target_celsius, math.hypot(2.5, sd))
    as_developer = math.log(0.4 if flat else 0.08) + _log_normal(celsius, 21.0, math.hypot(6.0, sd))
    best = max(as_bath, as_developer)
    place = Place.BATH if as_bath == best else Place.DEVELOPER
    return Guess(place, 1.0 / (math.exp(as_bath - best) + math.exp(as_developer - best)), False)
