"""Edges of gpiozero's mock pins become presses."""

from __future__ import annotations

import random
import threading
from functools import partial

import pytest

from wetside.devices.buttons import ButtonPanel, Recogniser
from wetside.session.presses import Button, Press
from wetside.sim.clock import VirtualClock
from wetside.sim.pins import Pins

GPIO = {Button.NOW: 17, Button.PROBE: 27, Button.WAIT: 22}


def _pressed(down_seconds: list[float], bounces: int = 0) -> list[Press]:
    clock, wake = VirtualClock(start_seconds=0.0), threading.Event()
    pins = Pins(clock, random.Random(3))
    pins.bounces = bounces
    panel = ButtonPanel(
        GPIO, clock, wake, settle_seconds=0.03, long_seconds=1.2, pin_factory=pins.factory
    )
    for number, seconds in enumerate(down_seconds):
        clock.schedule(10.0 * (number + 1), partial(pins.press, 17, seconds))
    presses: list[Press] = []
    end = 10.0 * (len(down_seconds) + 1)
    while clock.now() < end:
        wake.clear()
        clock.wait(min(end, panel.next_due() or end), wake)
        presses += panel.take()
    panel.close()
    pins.close()
    return presses


def test_a_short_press_counts_from_its_first_edge() -> None:
    """A short press is told at its release and dated to when the button went down."""
    assert [Press(10.0, Button.NOW)] == _pressed([0.15])


def test_a_long_press_is_told_while_held() -> None:
    """A button held for 1.2 s is one long press, and its release says nothing more."""
    assert [Press(10.0, Button.NOW, long=True)] == _pressed([3.0])


@pytest.mark.parametrize("bounces", [1, 3, 8])
def test_bouncing_contacts_give_one_press(bounces: int) -> None:
    """However the contacts bounce, one finger gives one press."""
    presses = _pressed([0.2, 0.4, 2.0], bounces)
    assert [press.long for press in presses] == [False, False, True]
    assert [pytest.approx(at, abs=0.01) for at in (10, 20, 30)] == [one.seconds for one in presses]


def test_a_touch_shorter_than_settling_is_no_press() -> None:
    """A spark of 10 ms is not a finger."""
    assert _pressed([0.01]) == []


def test_a_recogniser_asked_late_still_knows_short_from_long() -> None:
    """When nobody asked between press and release, the edges alone decide."""
    one = Recogniser(Button.WAIT, settle_seconds=0.03, long_seconds=1.2)
    presses = one.edge(5.0, level=True) + one.edge(7.0, level=False) + one.until(8.0)
    assert [Press(5.0, Button.WAIT, long=True)] == presses
