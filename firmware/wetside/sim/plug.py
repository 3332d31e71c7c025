"""A probe on the bench's bus: its body in the water, its plug, and how it answers."""

from __future__ import annotations

from random import Random

from wetside.readings import Place
from wetside.sim import probe
from wetside.sim.clock import Timer, VirtualClock
from wetside.sim.faults import ANSWERS, Fault, FaultKind
from wetside.sim.tree import Answer, Tree

#: The kernel keeps the folder of a probe that is gone for some searches, and reads are empty.
LINGER_SECONDS = 20.0

#: The kernel looks for new probes this often (w1_master_timeout: 10 s).
SEARCH_SECONDS = 10.0


class PluggedProbe:
    """One probe.

    Parameters
    ----------
    tree, rom
        Where it answers; it is plugged in there.
    clock
        Times the kernel's searches.
    body
        Lag, offset and noise.
    inside_celsius
        Temperature of the probe at the start.
    seed
        Gives its noise, and which reads fail.
    """

    def __init__(
        self,
        tree: Tree,
        rom: str,
        clock: VirtualClock,
        body: probe.ProbeBody,
        *,
        inside_celsius: float,
        seed: str,
    ) -> None:
        self.place = Place.AIR
        self.plugged = True
        self.rom = rom
        self._tree = tree
        self._clock = clock
        self._body = body
        self._inside = probe.settled(inside_celsius)
        self._noise = Random(f"{seed} noise")  # noqa: S311 - repeatable on purpose
        self._luck = Random(f"{seed} luck")  # noqa: S311 - so that faults do not move the noise
        self._answers: list[Fault] = []
        self._bursts: list[Fault] = []
        self._known_to_kernel = True
        self._pending: Timer | None = None
        self._shown = Answer.FINE
        tree.add(rom)

    def tick(self, around_celsius: float, seconds: float, *, in_air: bool) -> None:
        """Follow the surroundings, then end a conversion."""
        self._inside = probe.follow(
            self._body, self._inside, around_celsius, seconds, in_air=in_air
        )
        celsius = probe.sense(self._body, self._inside.sensor, self._noise.gauss(0.0, 1.0))
        for burst in self._bursts:
            celsius += burst.amount * self._luck.gauss(0.0, 1.0)
        self._settle()
        if self.plugged:
            self._tree.show(self.rom, celsius)

    def suffer(self, fault: Fault, *, begins: bool) -> None:
        """Let a fault of probes begin or end."""
        if fault.kind is FaultKind.UNPLUG:
            if begins:
                self.unplug()
            else:
                self.plug()
            return
        spans = self._bursts if fault.kind is FaultKind.NOISE else self._answers
        if begins:
            spans.append(fault)
        else:
            spans.remove(fault)
        self._settle()

    def unplug(self) -> None:
        """Pull the plug: reads are empty at once, the folder goes a little later."""
        if not self.plugged:
            return
        self.plugged = False
        self._later(LINGER_SECONDS, known=False)
        self._settle()

    def plug(self) -> None:
        """Put the plug in: the probe powers up, and the kernel finds it at its next search."""
        if self.plugged:
            return
        self.plugged = True
        self._tree.power_up(self.rom)
        if self._known_to_kernel:
            self._cancel()
        else:
            self._later(SEARCH_SECONDS - self._clock.now() % SEARCH_SECONDS, known=True)
        self._settle()

    def _later(self, seconds: float, *, known: bool) -> None:
        self._cancel()

        def change() -> None:
            self._known_to_kernel = known
            self._settle()

        self._pending = self._clock.after(seconds, change)

    def _cancel(self) -> None:
        if self._pending is not None:
            self._pending.cancel()

    def _settle(self) -> None:
        answer = Answer.FINE
        if not self._known_to_kernel:
            answer = Answer.VANISHED
        elif not self.plugged:
            answer = Answer.EMPTY
        elif self._answers:
            fault = self._answers[-1]
            if fault.amount >= 1.0 or self._luck.random() < fault.amount:
                answer = ANSWERS[fault.kind]
        if answer is not self._shown:
            self._shown = answer
            self._tree.answer(self.rom, answer)
