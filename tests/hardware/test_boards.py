"""The header table agrees with the boards, and the station's defaults with the table.

Outside check: gpiozero's own tables of the boards, by revision code.
"""

from __future__ import annotations

import pytest
from gpiozero.pins.mock import MockFactory
from hardware.wiring import Wiring, load

from wetside.settings import StationSettings


@pytest.mark.parametrize("board", load().boards, ids=lambda board: board.key)
def test_gpiozero_knows_the_same_header(wiring: Wiring, board: object) -> None:
    """On each board gpiozero finds every GPIO, rail and PWM pin where the table puts it."""
    revision = getattr(board, "revision", "")
    info = MockFactory(revision=revision).board_info
    pins = info.headers["J8"].pins
    expected = {wiring.header.pin_of(gpio): f"GPIO{gpio}" for gpio in range(28)}
    expected |= {n: rail for rail, numbers in wiring.header.rails.items() for n in numbers}
    assert expected == {number: pin.name for number, pin in pins.items()}
    with_pwm = {gpio for gpio in range(28) if "pwm" in pins[wiring.header.pin_of(gpio)].interfaces}
    assert wiring.header.pwm == with_pwm


@pytest.mark.parametrize(
    ("revision", "model"),
    [("902120", "Zero2W"), ("a02082", "3B"), ("c03111", "4B"), ("c04170", "5B")],
)
def test_each_revision_code_is_the_board_it_claims(
    wiring: Wiring, revision: str, model: str
) -> None:
    """The codes in the table name the four boards of the project."""
    assert revision in {board.revision for board in wiring.boards}
    assert model == MockFactory(revision=revision).board_info.model


def test_the_station_starts_with_the_wired_pins(wiring: Wiring) -> None:
    """The default settings of the station are the pins of the wiring table."""
    settings = StationSettings()
    actual = {
        "one_wire_gpio": settings.pins.one_wire_gpio,
        "buzzer_gpio": settings.pins.buzzer_gpio,
        "now_gpio": settings.pins.now_gpio,
        "probe_gpio": settings.pins.probe_gpio,
        "wait_gpio": settings.pins.wait_gpio,
        "i2c_bus": settings.display.i2c_bus,
        "i2c_address": settings.display.i2c_address,
    }
    assert dict(wiring.station) == actual
