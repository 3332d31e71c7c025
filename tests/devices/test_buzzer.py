"""Tones on gpiozero's TonalBuzzer and mock PWM pin."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial

import pytest

from wetside.clock import SystemClock
from wetside.cues.tones import Note, Tone
from wetside.devices.buzzer import Buzzer
from wetside.devices.timers import TimerThread
from wetside.sim.clock import VirtualClock
from wetside.sim.pins import Pins

TONE = Tone((Note(2000.0, 0.1), Note(None, 0.05), Note(3000.0, 0.2)), times=2)


def _changes(pins: Pins) -> list[tuple[float, float | None]]:
    """Moments at which the sounding frequency changed."""
    return [
        (round(edge.seconds, 3), edge.hertz and round(edge.hertz))
        for edge in pins.edges
        if edge.level is None
    ]


def test_a_tone_plays_its_notes_at_their_moments() -> None:
    """Two rounds of beep, gap, beep come out as frequencies at exact times."""
    clock = VirtualClock(start_seconds=0.0)
    pins = Pins(clock)
    buzzer = Buzzer(18, clock, clock, pins.factory)
    pins.edges.clear()  # gpiozero sets the pin up with 100 Hz, silent
    buzzer.play(TONE)
    clock.run_for(5.0)
    assert _changes(pins) == [
        (0.0, 2000),
        (0.1, None),
        (0.15, 3000),
        (0.35, 2000),
        (0.45, None),
        (0.5, 3000),
        (0.7, None),
    ]


def test_a_new_tone_cuts_the_old_one_short() -> None:
    """The last thing said is what is heard, and it is heard whole."""
    clock = VirtualClock(start_seconds=0.0)
    pins = Pins(clock)
    buzzer = Buzzer(18, clock, clock, pins.factory)
    pins.edges.clear()  # gpiozero sets the pin up with 100 Hz, silent
    buzzer.play(TONE)
    clock.run_for(0.05)
    buzzer.play(Tone((Note(1500.0, 0.3),)))
    clock.run_for(5.0)
    assert _changes(pins) == [(0.0, 2000), (0.05, 1500), (0.35, None)]


def test_hush_is_silent_at_once() -> None:
    """Nothing of a hushed tone is heard afterwards."""
    clock = VirtualClock(start_seconds=0.0)
    pins = Pins(clock)
    buzzer = Buzzer(18, clock, clock, pins.factory)
    pins.edges.clear()  # gpiozero sets the pin up with 100 Hz, silent
    buzzer.play(TONE)
    clock.run_for(0.2)
    buzzer.hush()
    clock.run_for(5.0)
    assert _changes(pins)[-1] == (0.2, None)
    buzzer.close()


def test_the_timer_thread_calls_in_order_and_on_time() -> None:
    """On the real clock, calls come in order of their moments and not before them."""
    clock = SystemClock()
    timers = TimerThread(clock)
    called: list[tuple[str, float]] = []

    def call(name: str) -> None:
        called.append((name, clock.now()))

    start = clock.now()
    for name, after in (("b", 0.06), ("a", 0.02), ("c", 0.1)):
        timers.schedule(start + after, partial(call, name))
    deadline = start + 5.0
    while len(called) < 3 and clock.now() < deadline:
        pass
    timers.close()
    assert [name for name, _ in called] == ["a", "b", "c"]
    assert all(
        at >= start + after for (_, at), after in zip(called, (0.02, 0.06, 0.1), strict=True)
    )


def test_every_pitch_a_small_piezo_sounds_well_is_in_range() -> None:
    """1 to 3.9 kHz can be played; a pitch outside says so instead of staying silent."""
    clock = VirtualClock(start_seconds=0.0)
    buzzer = Buzzer(18, clock, clock, Pins(clock).factory)
    buzzer.play(Tone((Note(1000.0, 0.1),)))
    buzzer.play(Tone((Note(3900.0, 0.1),)))
    with pytest.raises(ValueError, match="range"):
        buzzer.play(Tone((Note(200.0, 0.1),)))


class _Held:
    """Timers whose calls are made by the test, on whatever thread it likes."""

    def __init__(self) -> None:
        self.calls: list[Callable[[], object]] = []

    def schedule(self, at_seconds: float, call: Callable[[], object]) -> None:
        """Keep the call."""
        self.calls.append(call)


def test_the_end_of_a_tone_never_silences_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    """The old tone's end is on its way on the timers' thread while the loop starts a new cue."""
    clock = VirtualClock(start_seconds=0.0)
    timers, pins = _Held(), Pins(clock)
    buzzer = Buzzer(18, clock, timers, pins.factory)
    inside, proceed = threading.Event(), threading.Event()
    sound = buzzer._sound

    def held(hertz: float | None) -> None:
        if threading.current_thread().name == "ending":
            inside.set()
            proceed.wait(10.0)
        sound(hertz)

    monkeypatch.setattr(buzzer, "_sound", held)
    buzzer.play(Tone((Note(2000.0, 0.2),)))
    ending = threading.Thread(target=timers.calls.pop(), name="ending")
    ending.start()
    assert inside.wait(10.0)
    starting = threading.Thread(target=partial(buzzer.play, Tone((Note(1500.0, 1.0),))))
    starting.start()
    starting.join(0.2)  # it waits for the end of the old one, or has started already
    proceed.set()
    for thread in (ending, starting):
        thread.join(10.0)
    assert 1500 == _changes(pins)[-1][1]
