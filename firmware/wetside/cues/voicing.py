"""Tones as the teacher wants them at this sink. Pure.

No alarm is ever silenced, and nothing that comes again until somebody answers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from wetside.cues import catalogue
from wetside.cues.catalogue import Urgency
from wetside.cues.tones import Tone
from wetside.session.signals import CueName
from wetside.session.sinkfile import AgitationCalls, Pitch, Tones

#: Factors of the catalogue's pitches. Three semitones down and almost two up keep every tone
#: inside the piezo's octaves and below 3 kHz, where hearing begins to fade.
FACTORS: Mapping[Pitch, float] = {
    Pitch.LOW: 2 ** (-3 / 12),
    Pitch.USUAL: 1.0,
    Pitch.HIGH: 2 ** (1.8 / 12),
}

_SILENT: Mapping[AgitationCalls, frozenset[CueName]] = {
    AgitationCalls.FULL: frozenset(),
    AgitationCalls.BEGIN: frozenset({CueName.REST}),
    AgitationCalls.SILENT: frozenset({CueName.AGITATE, CueName.REST}),
}


def voiced(name: CueName, tones: Tones) -> Tone | None:
    """The tone of a cue at this sink; None where it is only shown."""
    row = catalogue.row(name)
    if name in _SILENT[tones.agitation]:
        return None
    agitation = name in _SILENT[AgitationCalls.SILENT]
    reminds = row.repeat_seconds is not None
    if row.urgency is Urgency.CALM and not (tones.calm or agitation or reminds):
        return None
    factor = FACTORS[tones.pitch]
    if factor == 1.0:
        return row.tone
    notes = tuple(
        note if note.hertz is None else replace(note, hertz=note.hertz * factor)
        for note in row.tone.notes
    )
    return replace(row.tone, notes=notes)
