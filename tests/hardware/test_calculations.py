"""The sums of the station against closed forms, data-sheet limits and ngspice."""

from __future__ import annotations

import math
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hardware.sums import drive, rail_loads
from hardware.wiring import Wiring
from scipy.integrate import solve_ivp

from hardware import calculations as calc


def test_one_time_constant_is_63_per_cent() -> None:
    """After R x C a line has reached 1 - 1/e of its supply (closed form)."""
    threshold = 3.3 * (1.0 - math.exp(-1.0))
    assert math.isclose(4700.0 * 1e-9, calc.rise_seconds(4700.0, 1e-9, 3.3, threshold))


def test_the_rise_agrees_with_an_integrated_line() -> None:
    """Integrating the charging law step by step gives the same rise time (scipy)."""
    ohms, farads = 4700.0, 360e-12

    def law(_: float, volts: list[float]) -> list[float]:
        return [(3.3 - volts[0]) / (ohms * farads)]

    def crossing(_: float, volts: list[float]) -> float:
        return float(volts[0]) - 2.2

    crossing.terminal = True  # type: ignore[attr-defined] # scipy reads it off the function
    end = solve_ivp(law, (0.0, 1e-4), [0.0], events=crossing, rtol=1e-9, atol=1e-12)
    expected = float(end.t_events[0][0])
    assert math.isclose(expected, calc.rise_seconds(ohms, farads, 3.3, 2.2), rel_tol=1e-6)


def test_a_threshold_above_the_supply_is_refused() -> None:
    """A line cannot rise to a threshold at or above its supply."""
    with pytest.raises(ValueError, match="not below the supply"):
        calc.rise_seconds(4700.0, 1e-9, 3.3, 3.3)


@pytest.mark.parametrize(
    ("ohms", "metres", "works"),
    [(4700.0, 3.0, True), (4700.0, 10.0, True), (10e3, 10.0, False), (2200.0, 30.0, True),
     (4700.0, 30.0, False)],
)  # fmt: skip
def test_cable_lengths_match_reports_from_the_field(
    ohms: float, metres: float, *, works: bool
) -> None:
    """4.7 kilohm reaches 10 m and not 30 m, 10 kilohm fails at 10 m, 2.2 kilohm reaches 30 m.

    Field reports on public trackers of 1-Wire projects, and scope pictures there, say the same.
    """
    in_time = calc.one_wire_rise_seconds(ohms, metres) <= calc.ONE_WIRE_SAMPLE_SECONDS
    assert works == in_time
    assert works == (calc.longest_cable_metres(ohms) >= metres)


def test_the_pull_up_of_the_table_suits_probe_and_cable(wiring: Wiring) -> None:
    """R1 lies between what a probe can sink and what two 3 m cables need."""
    ohms = wiring.part("R1").extra["ohms"]
    assert calc.smallest_pull_up_ohms() == 725.0  # (3.3 - 0.4) V / 4 mA, DS18B20 data sheet
    assert ohms > calc.smallest_pull_up_ohms()
    assert calc.longest_cable_metres(ohms) > 6.0


def test_the_i2c_lines_rise_in_time_with_display_and_clock(wiring: Wiring) -> None:
    """With board and module pull-ups a 0.3 m cable keeps the 400 kHz limit (UM10204)."""
    board = wiring.limits["i2c_board_pull_up_ohms"]
    modules = [p.extra["pull_up_ohms"] for p in wiring.parts if "pull_up_ohms" in p.extra]
    alone, both = calc.parallel(board, modules[0]), calc.parallel(board, *modules)
    farads = 60e-12 + 0.3 * 100e-12  # three chips and pins, and the wires
    assert calc.i2c_rise_seconds(alone, farads) < calc.I2C_RISE_LIMIT_SECONDS[400_000]
    limit = wiring.limits["i2c_sink_milliamps"] / 1000.0
    assert calc.i2c_sink_amperes(both) <= limit


def test_a_third_module_would_overload_the_i2c_sink(wiring: Wiring) -> None:
    """One more module with pull-ups asks more than the 3 mA a chip must sink."""
    board = wiring.limits["i2c_board_pull_up_ohms"]
    limit = wiring.limits["i2c_sink_milliamps"] / 1000.0
    assert calc.i2c_sink_amperes(calc.parallel(board, 4700.0, 4700.0, 4700.0)) > limit


def test_the_sounder_asks_little_of_the_gpio(wiring: Wiring) -> None:
    """The base current is far below what a pin may give, and saturates the transistor."""
    now = drive(wiring)
    assert 1000.0 * now.gpio_amperes < 0.25 * wiring.limits["gpio_pin_milliamps"]
    assert now.forced_gain < wiring.part("Q1").extra["gain_min"] / 5.0
    assert 1000.0 * now.peak_collector_amperes < wiring.part("Q1").extra["collector_milliamps_max"]


def test_the_piezo_follows_every_tone(wiring: Wiring) -> None:
    """The piezo discharges in time for tones up to 5 kHz."""
    assert drive(wiring).fastest_hertz > 5000.0


def test_the_resistors_stay_cold(wiring: Wiring) -> None:
    """No resistor takes more than half of a quarter watt, even with the transistor stuck closed."""
    worst = calc.resistor_watts(5.0, wiring.part("R3").extra["ohms"])
    assert worst < 0.125
    assert calc.resistor_watts(5.0 / 11.0, wiring.part("R4").extra["ohms"]) < 0.125


def test_a_button_reads_low_when_pressed_and_high_when_wet(wiring: Wiring) -> None:
    """Pressed is near 0 V; a film of water of 100 kilohm across the contacts is not a press."""
    pull_up = wiring.limits["pull_up_min_ohms"]
    assert calc.pressed_volts(pull_up, wiring.part("R6").extra["ohms"]) < 0.4
    weakest = wiring.limits["pull_up_max_ohms"]
    leak = calc.leak_ohms(weakest, wiring.limits["input_high_volts"])
    assert math.isclose(weakest * 2.0 / 1.3, leak)
    assert leak < 101e3
    assert calc.leak_ohms(10e3, wiring.limits["input_high_volts"]) < 16e3


def test_the_3_volt_rail_has_room(wiring: Wiring) -> None:
    """Everything on 3.3 V together stays under the strictest figure printed for the header."""
    loads = rail_loads(wiring)
    assert len(loads) == 5
    assert 1000.0 * calc.total_amperes(loads) < wiring.limits["rail_3v3_milliamps"]


def test_every_board_has_a_supply_that_carries_it(wiring: Wiring) -> None:
    """Board and parts take at most four fifths of the supply named for the board."""
    loads = [
        calc.Load("3.3 V parts", 0.05),
        calc.Load("sounder", drive(wiring).peak_collector_amperes),
    ]
    shares = {
        board.key: calc.supply_share(
            board.busy_watts, loads, board.supply_volts, board.supply_amperes
        )
        for board in wiring.boards
    }
    assert all(share < 0.8 for share in shares.values()), shares


def test_a_thin_supply_cable_is_found_out() -> None:
    """Two metres of 0.14 mm2 core lose half a volt at 1 A; 0.5 mm2 keeps it to 0.14 V."""
    assert math.isclose(0.5, calc.cable_drop_volts(1.0, 2.0, 0.14))
    assert math.isclose(0.14, calc.cable_drop_volts(1.0, 2.0, 0.5))


def test_the_closed_box_stays_cool_enough(wiring: Wiring) -> None:
    """A Zero 2 W warms the air of the closed box by less than 15 degC at 1 W (its idle power)."""
    area = 2 * (0.125 * 0.135 + 0.125 * 0.055 + 0.135 * 0.055)
    assert calc.box_rise_celsius(1.0, area) < 15.0


def spice_rise_seconds(folder: Path, ohms: float, metres: float) -> float:
    """Let ngspice charge the line as ten cable sections; give the time to 2.2 V at the master."""
    farads, sections = calc.CABLE_FARADS_PER_METRE * metres, 10
    lines = ["* one-wire line released by the probe", "Vs vdd 0 3.3", f"Rp vdd n0 {ohms}"]
    lines += [f"C0 n0 0 {calc.LINE_END_FARADS} IC=0"]
    for k in range(sections):
        lines += [f"Rc{k} n{k} n{k + 1} {0.2 * metres / sections}"]
        lines += [f"Cc{k} n{k + 1} 0 {farads / sections} IC=0"]
    lines += [".tran 5n 60u uic", ".meas tran rise when v(n0)=2.2 rise=1", ".end"]
    deck = folder / "line.cir"
    deck.write_text("\n".join(lines) + "\n", encoding="utf-8")
    run = subprocess.run(
        ["ngspice", "-b", str(deck)], capture_output=True, text=True, check=False, timeout=60
    )
    found = re.search(r"^rise\s*=\s*([-\d.e+]+)", run.stdout, re.MULTILINE)
    assert found, run.stdout + run.stderr
    return float(found.group(1))


@pytest.mark.parametrize("metres", [1.0, 3.0, 10.0, 30.0])
@pytest.mark.parametrize("ohms", [2200.0, 4700.0, 10_000.0])
def test_ngspice_finds_the_same_rise(tmp_path: Path, ohms: float, metres: float) -> None:
    """Ngspice with the cable in ten sections agrees with the closed form within 2 %."""
    if shutil.which("ngspice") is None:
        if os.environ.get("WETSIDE_CI"):
            pytest.fail("ngspice is not installed")
        pytest.skip("ngspice is not installed")
    expected = spice_rise_seconds(tmp_path, ohms, metres)
    assert math.isclose(expected, calc.one_wire_rise_seconds(ohms, metres), rel_tol=0.02)
