"""How a bench's sink stands at the start: values."""

from __future__ import annotations

from dataclasses import dataclass, field

from wetside import settings
from wetside.sim.faults import Fault
from wetside.sim.probe import ProbeBody
from wetside.sim.sink import Sink


@dataclass(frozen=True, slots=True)
class ProbeAtSink:
    """A probe of the bench: its name and ROM id for the settings, and its body."""

    name: str = "probe"
    rom: str = "0316a2795e4b"
    body: ProbeBody = field(default_factory=ProbeBody)

    def settings(self) -> settings.Probe:
        """The probe as the station's settings name it, its offset not corrected."""
        return settings.Probe(rom=self.rom, name=self.name)


#: A second probe for the arrangement with two.
SECOND_PROBE = ProbeAtSink("second", "0416b1c2d3e4", ProbeBody(tau_seconds=10.0))


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
