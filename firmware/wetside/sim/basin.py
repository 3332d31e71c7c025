"""The water at the sink and what hands do to it, on the bench's clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from wetside.errors import BenchError
from wetside.readings import Place
from wetside.sim import physics, sink
from wetside.sim.clock import Timer, VirtualClock
from wetside.sim.situation import Situation


class Basin:
    """The bath, the developer standing in it, and the taps.

    Parameters
    ----------
    clock
        Ends what lasts a while, and dates what hands do.
    situation
        How the sink stands at the start.
    """

    def __init__(self, clock: VirtualClock, situation: Situation) -> None:
        self.clock = clock
        self.situation = situation
        self.actions: list[tuple[float, str]] = []
        self.on_action: Callable[[float, str], None] | None = None
        self._sink = situation.sink
        self._water = sink.start(self._sink, situation.developer_celsius, situation.bath_celsius)
        self._hands = sink.Controls()
        self._poured: float | None = None
        self._rest: dict[Place, Timer] = {}

    @property
    def developer_celsius(self) -> float:
        """Mean temperature of the developer; once it is poured, that of the pouring."""
        return sink.developer_mean(self._water) if self._poured is None else self._poured

    @property
    def bath_celsius(self) -> float:
        """Mean temperature of the bath."""
        return sink.bath_mean(self._water)

    @property
    def taps_celsius(self) -> tuple[float, float]:
        """What the hot and the cold tap would give now."""
        return sink.tap_celsius(self._sink, self._water)

    def flow(self, seconds: float) -> None:
        """Let the water change for so long."""
        self._water = physics.advance(self._water, self._sink, self._hands, seconds)

    def around(self, place: Place) -> tuple[float, bool]:
        """Temperature around a probe's tip in that place, and whether it hangs in air."""
        if place is Place.DEVELOPER and self._poured is not None:
            place = Place.AIR  # its container is empty
        wet = place in {Place.DEVELOPER, Place.BATH}
        return sink.around(self._water, self._sink, place), not wet

    def say(self, text: str) -> None:
        """Keep what was done, in plain words."""
        now = self.clock.now()
        self.actions.append((now, text))
        if self.on_action is not None:
            self.on_action(now, text)

    def stir(self, place: Place, vigour: float = 0.5, seconds: float = 5.0) -> None:
        """Stir the developer or the bath for a while; ``vigour`` from 0 to 1.

        Raises
        ------
        BenchError
            Neither developer nor bath.
        """
        if place not in {Place.DEVELOPER, Place.BATH}:
            raise BenchError("only the developer and the bath can be stirred")
        if place in self._rest:
            self._rest[place].cancel()
        self._stirred(place, min(1.0, max(0.0, vigour)))
        self._rest[place] = self.clock.after(seconds, partial(self._stirred, place, 0.0))
        self.say(f"stirs the {place}")

    def add_water(self, litres: float, celsius: float) -> None:
        """Pour water into the bath; what is too much runs off."""
        self._water = sink.add_water(self._water, self._sink, litres, celsius)
        self.say(f"pours {litres:.2f} L of {celsius:.0f} C into the bath")

    def add_hot(self, litres: float) -> None:
        """Pour water of the hot tap into the bath."""
        self.add_water(litres, self.taps_celsius[0])

    def add_cold(self, litres: float) -> None:
        """Pour water of the cold tap into the bath."""
        self.add_water(litres, self.taps_celsius[1])

    def add_ice(self, kilograms: float) -> None:
        """Put ice into the bath (never into a solution)."""
        self._water = sink.add_ice(self._water, self._sink, kilograms)
        self.say(f"puts {kilograms * 1000:.0f} g of ice into the bath")

    def tap(self, hot: float = 0.0, cold: float = 0.0) -> None:
        """Let the taps run into the bath, litres a minute; 0 closes them.

        Raises
        ------
        BenchError
            Below zero.
        """
        if min(hot, cold) < 0:
            raise BenchError("a tap gives water or none")
        self._hands = replace(self._hands, hot_litres_per_minute=hot, cold_litres_per_minute=cold)
        self.say(f"taps: hot {hot:.1f}, cold {cold:.1f} L/min")

    def lift(self) -> None:
        """Take the developer's container out of the bath."""
        self._hands = replace(self._hands, in_bath=False)
        self.say("lifts the developer out of the bath")

    def put_back(self) -> None:
        """Stand the developer's container in the bath.

        Raises
        ------
        BenchError
            The developer is in the tank already.
        """
        if self._poured is not None:
            raise BenchError("the developer is in the tank")
        self._hands = replace(self._hands, in_bath=True)
        self.say("stands the developer in the bath")

    def pour_developer(self) -> None:
        """Pour the developer into the tank: its container is empty from now on."""
        if self._poured is None:
            self._poured = sink.developer_mean(self._water)
            self._hands = replace(self._hands, in_bath=False)
            self.say(f"pours the developer at {self._poured:.2f} C")

    def _stirred(self, place: Place, vigour: float) -> None:
        if place is Place.DEVELOPER:
            self._hands = replace(self._hands, stir_developer=vigour)
        else:
            self._hands = replace(self._hands, stir_bath=vigour)
