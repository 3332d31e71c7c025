"""The simulated sink: water, probes, pins and display, moved by the bench's clock.

    world = World(clock, folder, Situation(developer_celsius=26.0, bath_celsius=18.0))
    settings = StationSettings(w1_folder=world.tree.folder, probe=world.probe_settings())
    world.move("probe", Place.DEVELOPER)
    clock.run_for(20.0)
    world.truth()["developer_celsius"]

The water moves every half second; then every probe ends a conversion and its ``w1_slave`` is
written anew. What hands do is a method, for the scripted student, the page and tests alike;
all of them belong on the waiting thread (``VirtualClock.inject``).
"""

from __future__ import annotations

from functools import partial
from pathlib import Path
from random import Random
from typing import TypedDict

from wetside import settings
from wetside.errors import BenchError
from wetside.readings import Place
from wetside.session.presses import Button
from wetside.sim.basin import Basin
from wetside.sim.clock import VirtualClock
from wetside.sim.display import BenchPanel
from wetside.sim.faults import OF_PROBES, Fault, FaultKind
from wetside.sim.pins import Pins
from wetside.sim.plug import PluggedProbe
from wetside.sim.situation import Situation
from wetside.sim.tree import Tree

#: The water moves and the probes convert this often.
TICK_SECONDS = 0.5


class Truth(TypedDict):
    """What is so at the sink, which the station can only guess."""

    seconds: float
    developer_celsius: float
    bath_celsius: float
    room_celsius: float
    bath_litres: float
    ice_kilograms: float
    hot_litres_per_minute: float
    cold_litres_per_minute: float
    hot_tap_celsius: float
    cold_tap_celsius: float
    developer_in_bath: bool
    poured: bool
    probes: dict[str, str]
    plugged: dict[str, bool]


class World(Basin):
    """Everything at the sink that is not the station.

    Parameters
    ----------
    clock
        Moves everything.
    folder
        The 1-Wire tree is made here.
    situation
        How the sink stands at the start, and the faults to come.
    pins
        GPIO numbers of the station's settings.
    seed
        The same seed gives the same noise and bouncing.

    Raises
    ------
    BenchError
        A fault names a probe that is not there.
    """

    def __init__(
        self,
        clock: VirtualClock,
        folder: Path,
        situation: Situation,
        *,
        pins: settings.Pins | None = None,
        seed: int = 0,
    ) -> None:
        super().__init__(clock, situation)
        self.tree = Tree(folder)
        self.pins = Pins(clock, Random(f"{seed} pins"))  # noqa: S311 - repeatable on purpose
        self.panel = BenchPanel()
        numbers = pins or settings.Pins()
        self._gpios = {
            Button.NOW: numbers.now_gpio,
            Button.PROBE: numbers.probe_gpio,
            Button.WAIT: numbers.wait_gpio,
        }
        self._spans: dict[FaultKind, list[Fault]] = {kind: [] for kind in FaultKind}
        self._probes = {
            at.name: PluggedProbe(
                self.tree,
                at.rom,
                clock,
                at.body,
                inside_celsius=situation.sink.room_celsius,
                seed=f"{seed} {at.name}",
            )
            for at in situation.probes
        }
        for fault in situation.faults:
            self.bring(fault)
        self._timer = clock.every(TICK_SECONDS, self._tick)

    def truth(self) -> Truth:
        """What is so now."""
        hot, cold = self.taps_celsius
        return {
            "seconds": self.clock.now(),
            "developer_celsius": self.developer_celsius,
            "bath_celsius": self.bath_celsius,
            "room_celsius": self._sink.room_celsius,
            "bath_litres": self._water.bath_litres,
            "ice_kilograms": self._water.ice_kilograms,
            "hot_litres_per_minute": self._hands.hot_litres_per_minute,
            "cold_litres_per_minute": self._hands.cold_litres_per_minute,
            "hot_tap_celsius": hot,
            "cold_tap_celsius": cold,
            "developer_in_bath": self._hands.in_bath,
            "poured": self._poured is not None,
            "probes": {name: str(probe.place) for name, probe in self._probes.items()},
            "plugged": {name: probe.plugged for name, probe in self._probes.items()},
        }

    def probe_settings(self) -> tuple[settings.Probe, ...]:
        """The probes as the station's settings name them."""
        return tuple(at.settings() for at in self.situation.probes)

    def press(self, button: Button, down_seconds: float = 0.15) -> None:
        """Press one of the station's buttons."""
        self.say(f"presses {button}" + (" long" if down_seconds > 1 else ""))
        self.pins.press(self._gpios[button], down_seconds)

    def move(self, probe: str, place: Place) -> None:
        """Put a probe somewhere else."""
        self._probe(probe).place = place
        self.say(f"puts {probe} into the {place}")

    def unplug(self, probe: str) -> None:
        """Pull a probe's plug."""
        self._probe(probe).unplug()
        self.say(f"the plug of {probe} comes out")

    def plug(self, probe: str) -> None:
        """Put a probe's plug back in."""
        self._probe(probe).plug()
        self.say(f"the plug of {probe} is back")

    def bring(self, fault: Fault) -> None:
        """Let a fault come and go; its seconds count from now.

        Raises
        ------
        BenchError
            It names a probe that is not there.
        """
        if fault.probe is not None:
            self._probe(fault.probe)
        self.clock.after(fault.begin_seconds, partial(self._fault, fault, begins=True))
        end = fault.begin_seconds + fault.seconds
        self.clock.after(end, partial(self._fault, fault, begins=False))

    def close(self) -> None:
        """Let the sink stand still and the pins go."""
        self._timer.cancel()
        self.pins.close()

    def _probe(self, name: str) -> PluggedProbe:
        try:
            return self._probes[name]
        except KeyError:
            there = ", ".join(self._probes)
            raise BenchError(f"no probe {name!r} at this sink; there are {there}") from None

    def _tick(self) -> None:
        self.flow(TICK_SECONDS)
        for probe in self._probes.values():
            celsius, in_air = self.around(probe.place)
            probe.tick(celsius, TICK_SECONDS, in_air=in_air)

    def _fault(self, fault: Fault, *, begins: bool) -> None:
        spans = self._spans[fault.kind]
        if begins:
            spans.append(fault)
        else:
            spans.remove(fault)
        self.say(f"fault {fault.kind} {'begins' if begins else 'ends'}")
        if fault.kind in OF_PROBES:
            named = self._probes.values() if fault.probe is None else [self._probe(fault.probe)]
            for probe in named:
                probe.suffer(fault, begins=begins)
        elif fault.kind is FaultKind.BUS_GONE:
            if spans:
                self.tree.take_bus_away()
            else:
                self.tree.bring_bus_back()
        elif fault.kind is FaultKind.DISPLAY_LOST:
            self.panel.lost = bool(spans)
        elif fault.kind is FaultKind.BOUNCE:
            self.pins.bounces = max((int(each.amount) for each in spans), default=0)
