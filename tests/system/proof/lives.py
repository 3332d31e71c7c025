"""What is drawn for a life of the machine, what is promised in it, and what is told of it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from proof.disk import Pulled
from proof.honesty import Gap

#: The station's time runs so much faster: a roll of the brief sheet takes under a minute.
SPEED = 8.0

Found = dict[str, Any]


class Moment(StrEnum):
    """How the moment of a cut is chosen."""

    ANY = "any time"
    CHANGE = "after a change"
    WRITING = "in mid-write"
    STARTING = "while starting"


@dataclass(frozen=True, slots=True)
class Plan:
    """What is drawn for one life before it begins.

    ``seconds`` after a run is on (ANY) or after its state then changed ``changes`` times (CHANGE);
    for STARTING it is a part of the time that a start takes. WRITING is as ANY, and then the next
    moment at which the disk holds something that was not flushed. ``chip``: with a clock chip.
    ``desk``: the desk runs too.
    """

    moment: Moment
    seconds: float
    changes: int
    chip: bool
    desk: bool


@dataclass(frozen=True, slots=True)
class Promise:
    """What could be read from the journal before the plug was pulled.

    ``kept`` is count, last number and digest of the events, ``batches`` count and last number of
    the batches of samples, ``runs`` how many runs there are and how many have ended.
    """

    kept: tuple[int, int, str] = (0, 0, "")
    batches: tuple[int, int] = (0, 0)
    runs: tuple[int, int] = (0, 0)


@dataclass(frozen=True, slots=True)
class Life:
    """One life between two plugs: what was found at its start, what stood at its end."""

    number: int
    plan: Plan
    start_seconds: float | None
    found: Found | None
    gap: Gap | None
    promise: Promise
    state: str
    last_kind: str
    alive_seconds: float
    pulled: Pulled
    #: What the emulator had computed when the station was heard.
    start_cpu_seconds: float | None = None

    @classmethod
    def of(cls, said: Found) -> Life:
        """A life as it was written down."""
        promise = {name: tuple(value) for name, value in said["promise"].items()}
        parts: Found = {
            "plan": Plan(**said["plan"] | {"moment": Moment(said["plan"]["moment"])}),
            "gap": said["gap"] and Gap(**said["gap"]),
            "promise": Promise(**promise),
            "pulled": Pulled(**said["pulled"]),
        }
        return cls(**said | parts)


def told(life: Life) -> str:
    """One line about one life."""
    found = life.found or {}
    start = "-" if life.start_seconds is None else f"{life.start_seconds:.0f}"
    gap = "-" if life.gap is None else life.gap.line()
    return (
        f"{life.number:3d} heard after {start} s ({life.start_cpu_seconds} of processor), "
        f"found {found.get('last', '-')}, {gap}; "
        f"cut {life.plan.moment} in '{life.state}' after {life.last_kind} at {life.alive_seconds} s"
        f", promised {life.promise.kept[1]}, not flushed {life.pulled.pending}, "
        f"of them lost {life.pulled.lost}"
    )


def summary(lives: list[Life], seed: int) -> str:
    """What all lives gave, for docs/booted.md."""
    states = Counter(life.state for life in lives)
    gaps = [life.gap for life in lives if life.gap is not None]
    known = [gap for gap in gaps if gap.told_seconds is not None]
    worst = max((abs(gap.told_seconds - gap.true_seconds) for gap in known
                 if gap.told_seconds is not None), default=0.0)  # fmt: skip
    chances = Counter(life.pulled.chance for life in lives if life.pulled.pending)
    return (
        f"{len(lives)} cuts (seed {seed}), journal damaged 0, events lost 0, batches lost 0\n"
        f"state at the cut: {', '.join(f'{name} {n}' for name, n in sorted(states.items()))}\n"
        f"runs taken up {len(gaps)}, of them with a known gap {len(known)} "
        f"(off by at most {worst / SPEED:.1f} s of {SPEED:g}-fold time)\n"
        f"cuts with sectors not flushed {sum(chances.values())}, by the chance that one is lost "
        f"{dict(sorted(chances.items()))}; sectors lost {sum(life.pulled.lost for life in lives)}"
    )
