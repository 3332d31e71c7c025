"""Where each probe is, as told by its name or by the probe button. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from wetside.readings import Place
from wetside.session.events import Json

#: Where the one probe goes when the probe button says that it moved.
_NEXT = {
    Place.UNKNOWN: Place.DEVELOPER,
    Place.DEVELOPER: Place.BATH,
    Place.BATH: Place.DEVELOPER,
    Place.AIR: Place.DEVELOPER,
}

#: Probes with these names in the settings stay where the name says.
_FIXED = {str(place): place for place in (Place.DEVELOPER, Place.BATH)}

_WORDS = {str(place): place for place in Place}


@dataclass(frozen=True, slots=True)
class Told:
    """What somebody said of where the probes are.

    Attributes
    ----------
    said
        The places that presses of the probe button told.
    vouched
        False after a time in which nobody could be heard. A probe that was in the developer may
        have left it meanwhile, and nobody vouches for it before the next press.
    """

    said: Mapping[str, Place] = field(default_factory=dict)
    vouched: bool = True

    def place(self, probe: str) -> Place:
        """Where this probe is: what was told, else what its name says, else unknown."""
        return self.said.get(probe, _FIXED.get(probe, Place.UNKNOWN))

    def sure(self, probe: str) -> Place:
        """The same, but unknown where a probe may have left the developer unheard."""
        place = self.place(probe)
        left = not self.vouched and probe in self.said and place is Place.DEVELOPER
        return Place.UNKNOWN if left else place


def moved(told: Told, probes: Iterable[str], gone: Iterable[str] = ()) -> Told:
    """What is told after one press of the probe button, with ``probes`` there and others ``gone``.

    One probe goes from the developer to the bath and back. With two or more the first goes
    so, of those that had a place if there are any, and the others are where it is not: that is
    how two probes change places. A probe that is gone stays where it was told to be, unless one
    that had no place yet gets one: that one has replaced it.
    """
    names = sorted(probes)
    if not names:
        return told
    lead = next((name for name in names if told.place(name) is not Place.UNKNOWN), names[0])
    goes = _NEXT[told.place(lead)]
    replaced = any(told.place(name) is Place.UNKNOWN for name in names)
    left = {
        name: Place.UNKNOWN if replaced else told.place(name)
        for name in gone
        if told.place(name) is not Place.UNKNOWN
    }
    return Told({**left, **{name: goes if name == lead else _NEXT[goes] for name in names}})


def needed(told: Told, probes: Iterable[str]) -> bool:
    """Whether a probe without a place is missed beside these, which answer."""
    return all(told.place(name) is Place.UNKNOWN for name in probes)


def restored(rows: Iterable[Mapping[str, Json]]) -> Told:
    """What the journal's rows of one run had told before a time in which nobody could be heard."""
    there = list(rows)
    latest = there[-1] if there else {}  # each row tells all places
    said = {
        probe: _WORDS[word]
        for probe, word in latest.items()
        if isinstance(word, str) and word in _WORDS
    }
    return Told(said, vouched=False)
