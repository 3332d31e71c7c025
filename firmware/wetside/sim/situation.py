"""How a bench's sink stands at the start: values, and a usual one for every seed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from random import Random

from wetside import settings
from wetside.outlook import Setup, Wall
from wetside.sim.faults import Fault
from wetside.sim.physics import advance
from wetside.sim.probe import ProbeBody
from wetside.sim.sink import Controls, Sink, Vessel, developer_mean, start


@dataclass(frozen=True, slots=True)
class ProbeAtSink:
    """A probe of the bench: its name and ROM id for the settings, and its body.

    The body's offset is what a correction has left; ``sd_celsius`` is how well that is known,
    None for a probe that was never corrected.
    """

    name: str = "probe"
    rom: str = "0316a2795e4b"
    body: ProbeBody = field(default_factory=ProbeBody)
    sd_celsius: float | None = 0.1

    def settings(self) -> settings.Probe:
        """The probe as the station's settings name it."""
        return settings.Probe(rom=self.rom, name=self.name, sd_celsius=self.sd_celsius)


@dataclass(frozen=True, slots=True)
class Situation:
    """How the sink stands at the start; the developer stands in the bath from then on.

    ``faults`` come at their seconds after the start.
    """

    developer_celsius: float
    bath_celsius: float
    sink: Sink = field(default_factory=Sink)
    probes: tuple[ProbeAtSink, ...] = (ProbeAtSink(),)
    faults: tuple[Fault, ...] = ()

    @property
    def probe_names(self) -> tuple[str, ...]:
        """Names that faults and students may use."""
        return tuple(at.name for at in self.probes)


class Arrangement(StrEnum):
    """Which probes there are and where they stay (all three are first class)."""

    BATH = "bath"  # one probe: a dip into the developer, then the bath
    DEVELOPER = "developer"  # one probe, in the developer
    TWO = "two"  # one in each


#: Wall thickness in millimetres of common graduates and beakers (from memory).
_THICKNESS = {Wall.PLASTIC: 1.5, Wall.GLASS: 2.0, Wall.STEEL: 0.7}
#: A roll on the bench begins with a wait of this many seconds.
_WAIT_SECONDS = (360.0, 600.0)
_ROMS = ("0316a2795e4b", "0416b1c2d3e4")


def usual(
    setup: Setup,
    seed: int,
    arrangement: Arrangement = Arrangement.BATH,
    *,
    reaches: bool = True,
) -> Situation:
    """A sink such as a class leaves behind, different for every seed.

    The developer starts 2 to 4 C off its target, on either side. With ``reaches`` the bath
    is such that the undisturbed developer comes into the window after 6 to 10 minutes;
    without, the room is cold, the bath about 1 C short and cooling, and somebody must help.
    """
    rng = Random(f"{seed} situation")  # noqa: S311 - repeatable on purpose
    wall = setup.wall or Wall.PLASTIC
    vessel = Vessel(wall, _THICKNESS[wall], volume_millilitres=setup.volume_millilitres or 500.0)
    sink = Sink(
        vessel,
        bath_litres=rng.uniform(3.0, 6.0),
        room_celsius=rng.uniform(19.0, 22.0),
        tap_hot_celsius=rng.uniform(48.0, 55.0),
        tap_cold_celsius=rng.uniform(9.0, 15.0),
        overflow_litres=8.0,
    )
    side = rng.choice((-1.0, 1.0)) if reaches else -1.0
    developer = setup.target_celsius + side * rng.uniform(2.0, 4.0)
    wait = rng.uniform(*_WAIT_SECONDS)
    if reaches:
        bath = _bath_for(sink, developer, setup, wait)
    else:
        bath = setup.target_celsius - rng.uniform(0.8, 1.2)
        room = setup.target_celsius - rng.uniform(1.5, 3.0)
        sink = replace(sink, room_celsius=room)
    names = ("developer", "bath") if arrangement is Arrangement.TWO else ("probe",)
    probes = tuple(
        ProbeAtSink(
            name,
            rom,
            # a straight-line correction leaves 0.05 to 0.13 C (Rodriguez-Rama et al., abstract)
            ProbeBody(
                tau_seconds=rng.uniform(7.0, 12.0),
                offset_celsius=rng.gauss(0.0, 0.05),
                noise_sd=0.02,
            ),
        )
        for name, rom in zip(names, _ROMS, strict=False)
    )
    return Situation(developer, bath, sink, probes)


def _bath_for(sink: Sink, developer: float, setup: Setup, wait_seconds: float) -> float:
    """Temperature of a bath that brings the developer into the window in this time."""
    rises = developer < setup.target_celsius
    near, far = setup.target_celsius, setup.target_celsius + (15.0 if rises else -15.0)
    edge = setup.target_celsius + setup.tolerance_celsius * (-1.0 if rises else 1.0)
    for _ in range(10):
        bath = 0.5 * (near + far)
        state = advance(start(sink, developer, bath), sink, Controls(), wait_seconds)
        arrived = developer_mean(state) > edge if rises else developer_mean(state) < edge
        near, far = (near, bath) if arrived else (bath, far)
    return 0.5 * (near + far)
