"""Tones written as beats, so that the catalogue can be read aloud.

=====  =======================================
sign   meaning
=====  =======================================
``.``  a short sound, 0.09 s
``-``  a long sound, 0.36 s
``=``  a very long sound, 1 s, for alarms
space  a rest of 0.3 s between groups of beats
=====  =======================================

Beats of one group stand 0.09 s apart.
"""

from __future__ import annotations

from wetside.cues.tones import Note, Tone

#: Seconds of each sign.
SIGNS = {".": 0.09, "-": 0.36, "=": 1.0}
GAP_SECONDS = 0.09
REST_SECONDS = 0.3

#: Pitches of a passive piezo in Hz. Hearing fades from the top, so none lies above 3 kHz.
LOW, MIDDLE, HIGH = 1200.0, 1900.0, 2700.0


def beats(signs: str, hertz: float, *, times: int = 1, last_hertz: float | None = None) -> Tone:
    """A tone from its beats.

    Parameters
    ----------
    signs
        For example ``"..- "``; a space at the end parts the repeats.
    hertz
        Pitch of every beat.
    times
        How often it is played.
    last_hertz
        Pitch of the last beat, where it rises or falls.

    Raises
    ------
    ValueError
        A sign that is not in the table, or a beginning that is silent.
    """
    if not signs or signs[0] == " ":
        raise ValueError(f"{signs!r}: a tone begins with a sound")
    notes: list[Note] = []
    last_sound = len(signs.rstrip()) - 1
    for index, sign in enumerate(signs):
        if sign == " ":
            notes.append(Note(None, REST_SECONDS))
            continue
        if sign not in SIGNS:
            raise ValueError(f"{signs!r}: {sign!r} is not one of . - = and space")
        if notes and notes[-1].hertz is not None:
            notes.append(Note(None, GAP_SECONDS))
        pitch = last_hertz if last_hertz is not None and index == last_sound else hertz
        notes.append(Note(pitch, SIGNS[sign]))
    return Tone(tuple(notes), times)


def signs_of(tone: Tone) -> str:
    """The beats of a tone as they are written in the catalogue, repeats written out."""
    names = {seconds: sign for sign, seconds in SIGNS.items()}
    text = ""
    for note in tone.notes * tone.times:
        if note.hertz is not None:
            text += names[note.seconds]
        elif note.seconds == REST_SECONDS:
            text += " "
    return text.rstrip()
