"""Which probes give no usable reading, since when, and why. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from wetside.readings import STALE_AFTER_SECONDS, Condition, Reading

#: Stands for the bus while no probe has ever answered.
BUS = "bus"


@dataclass(frozen=True, slots=True)
class Health:
    """One probe: its latest condition, and when it last read and last answered at all."""

    condition: Condition
    last_fine: float | None
    last_answer: float


@dataclass(frozen=True, slots=True)
class Change:
    """A probe's condition changed; ``seconds`` is when."""

    probe: str
    before: Condition
    after: Condition
    seconds: float


@dataclass(frozen=True, slots=True)
class Watch:
    """All probes since ``started``, monotonic seconds."""

    started: float
    probes: Mapping[str, Health] = field(default_factory=dict)


def take(watch: Watch, readings: Iterable[Reading]) -> tuple[Watch, list[Change]]:
    """The watch after these readings, and which conditions changed."""
    probes = dict(watch.probes)
    changes = []
    for reading in readings:
        before = probes.get(reading.probe)
        fine = reading.condition is Condition.FINE
        last_fine = reading.seconds if fine else (before.last_fine if before else None)
        probes[reading.probe] = Health(reading.condition, last_fine, reading.seconds)
        was = before.condition if before else Condition.FINE
        if reading.condition is not was:
            changes.append(Change(reading.probe, was, reading.condition, reading.seconds))
    return replace(watch, probes=probes), changes


def grow_stale(watch: Watch, now: float) -> tuple[Watch, list[Change]]:
    """Probes that have not answered for longer than a reading lives are stale."""
    probes = dict(watch.probes)
    changes = []
    for name, health in watch.probes.items():
        silent = now - health.last_answer > STALE_AFTER_SECONDS
        if silent and health.condition is not Condition.STALE:
            probes[name] = replace(health, condition=Condition.STALE)
            changes.append(Change(name, health.condition, Condition.STALE, now))
    return replace(watch, probes=probes), changes


def answering(watch: Watch) -> list[str]:
    """Probes that gave a usable reading lately."""
    now = max((health.last_answer for health in watch.probes.values()), default=watch.started)
    return sorted(set(watch.probes) - set(lost(watch, now)))


def lost(watch: Watch, now: float) -> dict[str, Condition]:
    """Probes without a usable reading for longer than a reading lives, and why.

    A single failed read is no trouble: the reading before it still stands.
    """
    if not watch.probes and now - watch.started > STALE_AFTER_SECONDS:
        return {BUS: Condition.BUS_GONE}
    return {
        name: health.condition
        for name, health in watch.probes.items()
        if health.condition is not Condition.FINE
        and now - (health.last_fine if health.last_fine is not None else watch.started)
        > STALE_AFTER_SECONDS
    }
