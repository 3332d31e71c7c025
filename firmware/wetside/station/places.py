"""Where each probe is, as told by its name or by the probe button. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from wetside.readings import Place

#: Where the one probe goes when the probe button says that it moved.
_NEXT = {
    Place.UNKNOWN: Place.DEVELOPER,
    Place.DEVELOPER: Place.BATH,
    Place.BATH: Place.DEVELOPER,
    Place.AIR: Place.DEVELOPER,
}

#: Probes with these names in the settings stay where the name says.
_FIXED = {str(place): place for place in (Place.DEVELOPER, Place.BATH)}


def place_of(places: Mapping[str, Place], probe: str) -> Place:
    """Where this probe is: what was told, else what its name says, else unknown."""
    return places.get(probe, _FIXED.get(probe, Place.UNKNOWN))


def moved(places: Mapping[str, Place], probes: Iterable[str]) -> dict[str, Place]:
    """The places after one press of the probe button.

    One probe goes from the developer to the bath and back. With two or more the first goes
    so and the others are where it is not: that is how two probes change places.
    """
    names = sorted(probes)
    if not names:
        return dict(places)
    first = _NEXT[place_of(places, names[0])]
    after = {names[0]: first}
    after |= dict.fromkeys(names[1:], _NEXT[first])
    return after
