"""A passive piezo through gpiozero's TonalBuzzer. A tone starts at once and plays by itself.

A pin that fails is not a reason to stop timing: the fault is named, the display goes on, and
the next note is tried again.
"""

from __future__ import annotations

import threading

from gpiozero import Factory, TonalBuzzer
from gpiozero.tones import Tone as Pitch

from wetside.clock import Clock
from wetside.cues.tones import Note, Tone
from wetside.ports import Timers

#: Middle of what a small piezo sounds well at; with one octave each way 988 to 3951 Hz.
_MIDDLE_HERTZ = 1975.5


class Buzzer:
    """Meets ports.Sounder.

    Parameters
    ----------
    gpio
        BCM number of the pin.
    clock, timers
        Where the notes' moments come from.
    pin_factory
        gpiozero's; None takes the one gpiozero chooses for the board.
    """

    def __init__(
        self, gpio: int, clock: Clock, timers: Timers, pin_factory: Factory | None = None
    ) -> None:
        self._clock = clock
        self._timers = timers
        self._fault: str | None = None
        self._turn = threading.RLock()  # no older tone ends between the begin of a new one
        self._playing = 0  # each tone has a number; an older tone's timers find another one
        self._buzzer = TonalBuzzer(
            gpio, mid_tone=Pitch.from_frequency(_MIDDLE_HERTZ), octaves=1, pin_factory=pin_factory
        )

    @property
    def fault(self) -> str | None:
        """What is wrong with the pin, in words, or None."""
        return self._fault

    def play(self, tone: Tone) -> None:
        """Start a tone and return at once; a tone still playing is cut short."""
        with self._turn:
            self._playing += 1
            self._step(self._playing, list(tone.notes) * tone.times, self._clock.now())

    def hush(self) -> None:
        """Be silent at once."""
        with self._turn:
            self._playing += 1
            self._sound(None)

    def close(self) -> None:
        """Let the pin go."""
        self.hush()
        self._buzzer.close()

    def _step(self, number: int, notes: list[Note], due: float) -> None:
        with self._turn:
            if number != self._playing:
                return
            if not notes:
                self._sound(None)
                return
            note, rest = notes[0], notes[1:]
            self._sound(note.hertz)
        ends = due + note.seconds
        self._timers.schedule(ends, lambda: self._step(number, rest, ends))

    def _sound(self, hertz: float | None) -> None:
        try:
            if hertz is None:
                self._buzzer.stop()
            else:
                self._buzzer.play(Pitch.from_frequency(hertz))
        except ValueError:
            raise  # a pitch outside the piezo's octaves is a mistake in the catalogue
        except Exception as problem:  # noqa: BLE001  # timing goes on whatever a pin does
            self._fault = f"no tone, the buzzer's pin fails: {problem}"
        else:
            self._fault = None
