"""When a step's cues fall: offsets in seconds from the moment pouring in begins. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from wetside.session.agitation import Agitation, Pattern
from wetside.session.events import Kind
from wetside.session.sheet import Step

#: What a schedule is made of; at equal offsets they come in this order.
KINDS = (
    Kind.FILLED,
    Kind.REST,
    Kind.AGITATE,
    Kind.PREPARE,
    Kind.DRAIN_DUE,
    Kind.END_DUE,
    Kind.LATE_DUE,
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One event of the clock."""

    offset_seconds: float
    kind: Kind


def agitation_spans(
    agitation: Agitation, *, filled_seconds: float, drain_seconds: float
) -> tuple[tuple[float, float], ...]:
    """Spans (start, stop) in which the tank is moved, seconds from the start of the step.

    The first starts when the tank is full. Later ones start at whole multiples of
    ``every_seconds`` from the start of the step; one that would not end before the draining
    begins, or would start before the first has ended, is left out.
    """
    if agitation.pattern is Pattern.NONE:
        return ()
    if agitation.pattern is Pattern.CONTINUOUS:
        return ((filled_seconds, drain_seconds),)
    assert agitation.every_seconds is not None  # noqa: S101  # checked when the sheet was loaded
    assert agitation.for_seconds is not None  # noqa: S101  # the same
    spans = []
    first_ends = min(filled_seconds + agitation.first_seconds, drain_seconds)
    if agitation.first_seconds > 0:
        spans.append((filled_seconds, first_ends))
    count = 1
    while (start := count * agitation.every_seconds) + agitation.for_seconds <= drain_seconds:
        if start > first_ends:
            spans.append((start, start + agitation.for_seconds))
        count += 1
    return tuple(spans)


@lru_cache(maxsize=64)
def of_step(step: Step) -> tuple[Entry, ...]:
    """The whole schedule of a timed step; empty for steps without a time.

    What is to be prepared is said between the full tank and the draining, however short its lead:
    while the tank is emptied both hands are taken.
    """
    if step.seconds is None:
        return ()
    drain = step.seconds - step.drain_seconds
    entries = [
        Entry(step.fill_seconds, Kind.FILLED),
        Entry(drain, Kind.DRAIN_DUE),
        Entry(step.seconds, Kind.END_DUE),
        Entry(step.seconds + step.grace_seconds, Kind.LATE_DUE),
    ]
    for start, stop in agitation_spans(
        step.agitation, filled_seconds=step.fill_seconds, drain_seconds=drain
    ):
        entries.append(Entry(start, Kind.AGITATE))
        if stop < drain:
            entries.append(Entry(stop, Kind.REST))
    if step.prepare is not None:
        wanted = max(step.fill_seconds, step.seconds - step.prepare_seconds)
        entries.append(Entry(min(drain, wanted), Kind.PREPARE))
    return tuple(sorted(entries, key=lambda entry: (entry.offset_seconds, KINDS.index(entry.kind))))
