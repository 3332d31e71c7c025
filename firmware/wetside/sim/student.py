"""A student who is not there: hears cues, takes a while, and does something at the sink.

What a student does is data, a ``Script`` of rules (``wetside.sim.scripts``); this walks it.
Hands reach the station only as they do in a darkroom: through water, probes and buttons.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from random import Random

from wetside.outlook import Setup
from wetside.readings import Place
from wetside.session.presses import Button
from wetside.session.signals import Cue, CueName
from wetside.sim.clock import Timer
from wetside.sim.world import World

#: A long press, as students learn it: until the device answers, and a little more.
LONG_SECONDS = 1.6

#: Heat of fusion of ice over specific heat of water, in degrees Celsius (OpenStax).
_ICE_CELSIUS = 79.8

#: A student carries no more than this at a time; more cooling than that is done with ice.
_JUG_LITRES = 3.0
_TOO_MUCH = float("inf")


class Verb(StrEnum):
    """What a student can do; ``what`` and ``amount`` of a deed say with what and how much."""

    PRESS = "press"  # what: a button
    HOLD = "hold"  # what: a button, held down long
    MOVE = "move"  # what: a place for the probe
    MOVE_OTHER = "move other"  # what: a place for every other probe
    STIR = "stir"  # what: developer or bath; amount: seconds
    HOT = "hot"  # amount: litres of the hot tap
    COLD = "cold"  # amount: litres of the cold tap
    ICE = "ice"  # amount: kilograms
    TAPS = "taps"  # what: hot or cold; amount: litres a minute, 0 closes both
    LIFT = "lift"
    PUT_BACK = "put back"
    POUR = "pour"
    UNPLUG = "unplug"
    PLUG = "plug"
    MEND = "mend"  # bring the bath to the far side of the target; amount: degrees beyond it
    LEAVE = "leave"
    SAY = "say"  # what: words for whoever watches


@dataclass(frozen=True, slots=True)
class Deed:
    """One thing to do, ``after`` seconds from when the student has reacted."""

    verb: Verb
    what: str = ""
    amount: float = 0.0
    after: float = 0.0


@dataclass(frozen=True, slots=True)
class Rule:
    """When this is heard, wait a reaction time, then do that.

    ``when`` None is the start of the bench. ``react`` is the span of the reaction time in
    seconds. ``step`` limits the rule to cues of one step. ``times`` is how often it may be
    used. ``forgets`` are cues whose deeds, not yet done, are dropped.
    """

    when: CueName | None
    deeds: tuple[Deed, ...] = ()
    react: tuple[float, float] = (1.0, 3.0)
    step: str | None = None
    times: int | None = None
    forgets: tuple[CueName, ...] = ()


@dataclass(frozen=True, slots=True)
class Script:
    """A student's name, what kind of student it is, and the rules."""

    name: str
    title: str
    rules: tuple[Rule, ...]


class Student:
    """Walks a script at a sink.

    Parameters
    ----------
    world
        The sink.
    script
        What the student does.
    setup
        What the student read on the sheet: the target.
    seed
        The same seed gives the same reaction times.
    probe
        The probe the student handles; None takes the first.
    """

    def __init__(
        self, world: World, script: Script, setup: Setup, *, seed: int = 0, probe: str | None = None
    ) -> None:
        self.script = script
        self.finished = False
        self.left = False
        self._world = world
        self._setup = setup
        self._probe = probe or world.situation.probe_names[0]
        self._rng = Random(f"{seed} student")  # noqa: S311 - repeatable on purpose
        self._used = [0] * len(script.rules)
        self._coming: dict[CueName | None, list[Timer]] = {}
        self._hands: Mapping[Verb, Callable[[Deed], object]] = {
            Verb.PRESS: lambda deed: world.press(Button(deed.what)),
            Verb.HOLD: lambda deed: world.press(Button(deed.what), LONG_SECONDS),
            Verb.MOVE: lambda deed: world.move(self._probe, Place(deed.what)),
            Verb.MOVE_OTHER: self._move_other,
            Verb.STIR: lambda deed: world.stir(Place(deed.what), seconds=deed.amount),
            Verb.HOT: lambda deed: world.add_hot(deed.amount),
            Verb.COLD: lambda deed: world.add_cold(deed.amount),
            Verb.ICE: lambda deed: world.add_ice(deed.amount),
            Verb.TAPS: self._taps,
            Verb.LIFT: lambda _: world.lift(),
            Verb.PUT_BACK: self._put_back,
            Verb.POUR: lambda _: world.pour_developer(),
            Verb.UNPLUG: lambda _: world.unplug(self._probe),
            Verb.PLUG: lambda _: world.plug(self._probe),
            Verb.MEND: self._mend,
            Verb.LEAVE: self._leave,
            Verb.SAY: lambda deed: world.say(deed.what),
        }

    def begin(self) -> None:
        """Come to the sink."""
        self._follow(None, "", {})

    def hear(self, cue: Cue) -> None:
        """Hear a cue; what follows from it is done later, on the bench's clock.

        Meant as the ``observer`` of ``wetside.station``; call it on the waiting thread.
        """
        if cue.name in {CueName.FINISHED, CueName.ABANDONED}:
            self.finished = True
        self._follow(cue.name, cue.values.get("step", ""), cue.values)

    def _follow(self, heard: CueName | None, step: str, values: Mapping[str, str]) -> None:
        if self.left:
            return
        for index, rule in enumerate(self.script.rules):
            if rule.when is not heard or rule.step not in {None, step}:
                continue
            if rule.times is not None and self._used[index] >= rule.times:
                continue
            self._used[index] += 1
            self._forget(rule.forgets)
            reaction = self._rng.uniform(*rule.react)
            timers = self._coming.setdefault(heard, [])
            timers[:] = [timer for timer in timers if timer.alive]
            for deed in rule.deeds:
                said = Deed(deed.verb, deed.what.format_map(_Words(values)), deed.amount)
                call = partial(self._do, said)
                timers.append(self._world.clock.after(reaction + deed.after, call))

    def _forget(self, cues: tuple[CueName, ...]) -> None:
        for cue in cues:
            for timer in self._coming.pop(cue, ()):
                timer.cancel()

    def _do(self, deed: Deed) -> None:
        if not self.left:
            self._hands[deed.verb](deed)

    def _taps(self, deed: Deed) -> None:
        self._world.tap(**({deed.what: deed.amount} if deed.amount else {}))

    def _move_other(self, deed: Deed) -> None:
        for name in self._world.situation.probe_names:
            if name != self._probe:
                self._world.move(name, Place(deed.what))

    def _put_back(self, _: Deed) -> None:
        truth = self._world.truth()
        if not truth["poured"] and not truth["developer_in_bath"]:
            self._world.put_back()

    def _leave(self, _: Deed) -> None:
        self._world.say("the student goes away")
        self.left = True

    def _mend(self, deed: Deed) -> None:
        """Bring the bath beyond the target, seen from the developer, with what is at hand."""
        world, target = self._world, self._setup.target_celsius
        rises = world.developer_celsius < target
        wanted = target + (deed.amount if rises else -deed.amount)
        bath, litres = world.bath_celsius, world.truth()["bath_litres"]
        hot, cold = world.taps_celsius
        if rises and bath < wanted < hot:
            world.add_hot(min(_JUG_LITRES, litres * (wanted - bath) / (hot - wanted)))
        elif not rises and bath > wanted:
            enough = litres * (bath - wanted) / (wanted - cold) if cold < wanted else _TOO_MUCH
            if enough <= _JUG_LITRES:
                world.add_cold(enough)
            else:
                world.add_ice(min(1.0, litres * (bath - wanted) / (_ICE_CELSIUS + wanted)))


class _Words(dict[str, str]):
    """Words of a cue; what a cue does not carry is left blank."""

    def __missing__(self, key: str) -> str:
        return ""
