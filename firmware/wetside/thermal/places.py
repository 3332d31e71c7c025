"""Which places a probe may be in when nobody pressed a button.

Every possibility is carried as a story of its own (:mod:`wetside.thermal.story`) and the readings
that follow decide between them. This module holds what is likely beforehand.
"""

from __future__ import annotations

import math

from wetside.readings import Place

#: Possible places of a probe at its first reading: place, probability.
FIRST_PLACES = ((Place.DEVELOPER, 0.78), (Place.AIR, 0.2), (Place.BATH, 0.02))
#: Two probes of which nothing is said stand one in each liquid.
FIRST_PAIRS = (
    ((Place.DEVELOPER, Place.BATH), 0.5),
    ((Place.BATH, Place.DEVELOPER), 0.5),
)

# After a jump: (place, the medium itself was changed): probability, by where the probe was.
_NEXT: dict[Place, dict[tuple[Place, bool], float]] = {
    Place.DEVELOPER: {
        (Place.BATH, False): 0.8,
        (Place.DEVELOPER, True): 0.05,
        (Place.AIR, False): 0.15,
    },
    Place.BATH: {
        (Place.DEVELOPER, False): 0.65,
        (Place.BATH, True): 0.2,
        (Place.AIR, False): 0.15,
    },
    Place.AIR: {
        (Place.DEVELOPER, False): 0.6,
        (Place.BATH, False): 0.4,
    },
}


# A probe that has hung in the air since it was switched on is dipped into the developer first.
_FIRST_DIP = {(Place.DEVELOPER, False): 0.9, (Place.BATH, False): 0.1}
#: A dip takes half a minute: who leaves a liquid sooner is so much rarer, down to one in twenty.
_DIP_SECONDS, _LEAST_CHANCE = 30.0, 0.05


def next_places(
    was: Place, stay_seconds: float, *, developer_met: bool
) -> tuple[tuple[Place, bool, float], ...]:
    """Possible (place, medium changed, log probability) after a jump of a probe.

    ``stay_seconds`` is how long it has been where it was, ``developer_met`` whether a probe has
    been in the developer before.
    """
    chances = _NEXT[was] if developer_met else _FIRST_DIP
    leaves = 1.0 if was is Place.AIR else min(1.0, max(_LEAST_CHANCE, stay_seconds / _DIP_SECONDS))
    return tuple(
        (place, changed, math.log(chance if changed else chance * leaves))
        for (place, changed), chance in chances.items()
    )
