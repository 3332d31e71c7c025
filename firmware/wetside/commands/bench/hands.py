"""What a person can do at the simulated sink from the page: names, limits, and the doing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from wetside.errors import BenchError
from wetside.readings import Place
from wetside.session.presses import Button
from wetside.sim.world import World

#: Longest time a button of the page can be held.
_LONGEST_PRESS_SECONDS = 10.0


@dataclass(frozen=True, slots=True)
class Wish:
    """One thing that a person asked for: a name of ``DEEDS``, and with what or how much."""

    deed: str
    what: str = ""
    amount: float = 0.0


def _press(world: World, wish: Wish) -> None:
    world.press(Button(wish.what), min(max(wish.amount, 0.05), _LONGEST_PRESS_SECONDS))


def _move(world: World, wish: Wish) -> None:
    world.move(world.situation.probe_names[0], Place(wish.what))


def _plug(world: World, wish: Wish) -> None:
    probe = world.situation.probe_names[0]
    if wish.what == "out":
        world.unplug(probe)
    else:
        world.plug(probe)


DEEDS: Mapping[str, Callable[[World, Wish], object]] = {
    "press": _press,
    "move": _move,
    "plug": _plug,
    "stir": lambda world, wish: world.stir(Place(wish.what)),
    "hot": lambda world, wish: world.add_hot(min(wish.amount, 3.0)),
    "cold": lambda world, wish: world.add_cold(min(wish.amount, 3.0)),
    "ice": lambda world, wish: world.add_ice(min(wish.amount, 1.0)),
    "taps": lambda world, wish: world.tap(**{wish.what: min(wish.amount, 10.0)}),
    "close-taps": lambda world, _: world.tap(),
    "lift": lambda world, _: world.lift(),
    "put-back": lambda world, _: world.put_back(),
    "pour": lambda world, _: world.pour_developer(),
}


_WHAT: Mapping[str, tuple[str, ...]] = {
    "press": tuple(Button),
    "move": (Place.DEVELOPER, Place.BATH, Place.AIR),
    "stir": (Place.DEVELOPER, Place.BATH),
    "taps": ("hot", "cold"),
    "plug": ("in", "out"),
}


def check(wish: Wish) -> Callable[[World, Wish], object]:
    """What does it.

    Raises
    ------
    BenchError
        Nobody can do that here.
    """
    deed = DEEDS.get(wish.deed)
    if deed is None:
        raise BenchError(f"no {wish.deed!r} here; there are {', '.join(DEEDS)}")
    allowed = _WHAT.get(wish.deed)
    if allowed is not None and wish.what not in allowed:
        raise BenchError(f"{wish.deed} {wish.what!r}: choose one of {', '.join(allowed)}")
    if not 0 <= wish.amount < 100:
        raise BenchError(f"{wish.deed}: {wish.amount:g} is not an amount for a sink")
    return deed
