"""The bench's pins, seen through the real gpiozero."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest
from gpiozero import Button, TonalBuzzer
from gpiozero.tones import Tone

from wetside.sim.clock import VirtualClock
from wetside.sim.pins import Edge, Pins


@pytest.fixture
def clock() -> VirtualClock:
    """A clock that starts at 10 s."""
    return VirtualClock(start_seconds=10.0)


@pytest.fixture
def pins(clock: VirtualClock) -> Iterator[Pins]:
    """The pins of a bench."""
    pins = Pins(clock, random.Random(3))
    yield pins
    pins.close()


def test_a_press_reaches_a_real_button_at_virtual_times(clock: VirtualClock, pins: Pins) -> None:
    """Gpiozero's own Button sees the press and the release at the bench's moments."""
    seen: list[tuple[str, float]] = []
    with Button(17, pull_up=True, pin_factory=pins.factory) as button:
        button.when_pressed = lambda: seen.append(("down", clock.now()))
        button.when_released = lambda: seen.append(("up", clock.now()))
        clock.schedule(12.0, lambda: pins.press(17, down_seconds=0.25))
        clock.run_for(5.0)
    assert seen == [("down", 12.0), ("up", 12.25)]


def test_a_button_held_down_is_active_in_virtual_time(clock: VirtualClock, pins: Pins) -> None:
    """The library counts how long a button is active with the bench's time."""
    with Button(17, pull_up=True, pin_factory=pins.factory) as button:
        pins.press(17, down_seconds=30.0)
        clock.run_for(20.0)
        assert button.active_time == pytest.approx(20.0)


def test_a_second_press_waits_for_the_finger(clock: VirtualClock, pins: Pins) -> None:
    """Pressing a button that is still down gives two presses, one after the other."""
    downs: list[float] = []
    with Button(17, pull_up=True, pin_factory=pins.factory) as button:
        button.when_pressed = lambda: downs.append(clock.now())
        pins.press(17, down_seconds=0.5)
        pins.press(17, down_seconds=0.5)
        clock.run_for(5.0)
    assert downs[0] == 10.0
    assert 10.5 < downs[1] < 10.7


def test_bouncing_contacts_chatter_within_milliseconds(clock: VirtualClock, pins: Pins) -> None:
    """A bouncing button gives more edges, all within six milliseconds, and ends right."""
    edges: list[tuple[bool, float]] = []
    pins.bounces = 3
    with Button(17, pull_up=True, pin_factory=pins.factory) as button:
        button.when_pressed = lambda: edges.append((True, clock.now()))
        button.when_released = lambda: edges.append((False, clock.now()))
        pins.press(17, down_seconds=0.2)
        clock.run_for(0.1)
        assert button.is_pressed
        assert len(edges) == 7
        assert max(at for _, at in edges) <= 10.006
        clock.run_for(0.2)
        assert not button.is_pressed
        assert len(edges) == 14


def test_a_tone_is_kept_with_its_frequency_and_moment(clock: VirtualClock, pins: Pins) -> None:
    """Each change of the buzzer's pin is recorded at the bench's time."""
    tone = Tone.from_frequency(2000)
    with TonalBuzzer(18, mid_tone=tone, octaves=1, pin_factory=pins.factory) as buzzer:
        clock.run_for(2.0)
        buzzer.play(Tone.from_frequency(2500))
        assert pins.hertz(18) == pytest.approx(2500)
        clock.run_for(0.5)
        buzzer.stop()
        assert pins.hertz(18) is None
    sounding = [edge for edge in pins.edges if edge.hertz and edge.hertz > 2400]
    silent = [edge for edge in pins.edges if edge.seconds == 12.5]
    assert [edge.seconds for edge in sounding] == [12.0]
    assert sounding[0].hertz == pytest.approx(2500)
    assert Edge(12.5, 18, 0.0, None) in silent


def test_a_press_that_lasts_no_time_is_refused(pins: Pins) -> None:
    """A press has a length."""
    with pytest.raises(ValueError, match="longer than nothing"):
        pins.press(17, down_seconds=0.0)


def test_a_press_after_a_restart_comes_at_once(clock: VirtualClock, pins: Pins) -> None:
    """Fingers do not wait for a time of the boot before; one still down is let go as planned."""
    clock.run_for(1000.0)
    assert pins.press(17, down_seconds=0.2) == clock.now() + 0.2
    clock.run_for(0.1)
    clock.restart("another boot", start_seconds=10.0)
    with Button(17, pull_up=True, pin_factory=pins.factory) as button:
        # the finger is still down for 0.1 s, and needs a moment to lift
        assert pins.press(17, down_seconds=0.2) == pytest.approx(10.0 + 0.1 + 0.086 + 0.2)
        clock.run_for(0.15)
        assert not button.is_pressed
        clock.run_for(0.1)
        assert button.is_pressed
        clock.run_for(10.0)
        assert pins.press(17, down_seconds=0.2) == pytest.approx(clock.now() + 0.2)
