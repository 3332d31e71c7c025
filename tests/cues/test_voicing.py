"""Tones as the teacher chose them: what may fall silent, and what never does."""

from __future__ import annotations

import pytest

from wetside.cues import catalogue
from wetside.cues.catalogue import Urgency
from wetside.cues.voicing import FACTORS, voiced
from wetside.session.signals import CueName
from wetside.session.sinkfile import AgitationCalls, Pitch, Tones


def silent(tones: Tones) -> set[CueName]:
    """Cues that are only shown."""
    return {name for name in CueName if voiced(name, tones) is None}


def test_without_a_choice_every_tone_is_the_catalogues() -> None:
    """A school that chooses nothing hears what docs/cues.md lists."""
    assert all(catalogue.row(name).tone is voiced(name, Tones()) for name in CueName)


@pytest.mark.parametrize(
    ("agitation", "quiet"),
    [
        (AgitationCalls.FULL, set()),
        (AgitationCalls.BEGIN, {CueName.REST}),
        (AgitationCalls.SILENT, {CueName.AGITATE, CueName.REST}),
    ],
)
def test_agitation_falls_silent_and_nothing_else(
    agitation: AgitationCalls, quiet: set[CueName]
) -> None:
    """The choice of agitation touches the two agitation calls only."""
    assert quiet == silent(Tones(agitation=agitation))


def test_alarms_and_reminders_always_sound() -> None:
    """At the quietest, all that says act now, that alarms or that waits for an answer is heard."""
    quietest = silent(Tones(agitation=AgitationCalls.SILENT, calm=False, pitch=Pitch.LOW))
    for name in quietest - {CueName.AGITATE, CueName.REST}:
        row = catalogue.row(name)
        assert Urgency.CALM is row.urgency
        assert row.repeat_seconds is None
    assert CueName.PREPARE_NEXT in quietest
    assert {CueName.HELD, CueName.LATE, CueName.READY, CueName.DRAIN}.isdisjoint(quietest)


@pytest.mark.parametrize("pitch", Pitch)
def test_pitch_moves_and_the_rhythm_stays(pitch: Pitch) -> None:
    """Every tone keeps its beats, stays in the piezo's two octaves and below 3 kHz."""
    for name in CueName:
        tone = voiced(name, Tones(pitch=pitch))
        usual = catalogue.row(name).tone
        assert tone is not None
        assert (usual.times, [note.seconds for note in usual.notes]) == (
            tone.times,
            [note.seconds for note in tone.notes],
        )
        for note, before in zip(tone.notes, usual.notes, strict=True):
            if note.hertz is None or before.hertz is None:
                assert note.hertz is before.hertz
                continue
            assert before.hertz * FACTORS[pitch] == note.hertz
            assert 1975.5 / 2 <= note.hertz < 3000.0
