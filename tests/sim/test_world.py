"""The simulated sink seen through the real parts, and against what is so."""

from __future__ import annotations

from pathlib import Path

import pytest
from gpiozero import Button as GpioButton

from wetside.devices.ds18b20 import Bus
from wetside.errors import BenchError
from wetside.outlook import Wall
from wetside.readings import Condition, Place
from wetside.session.presses import Button
from wetside.settings import Pins
from wetside.sim import faults
from wetside.sim.clock import VirtualClock
from wetside.sim.faults import Fault, FaultKind
from wetside.sim.probe import ProbeBody
from wetside.sim.sink import Sink, Vessel
from wetside.sim.situation import ProbeAtSink, Situation
from wetside.sim.world import World

STILL = ProbeBody(tau_seconds=0.0, noise_sd=0.0)


class Bench:
    """A sink, and the station's own bus reader on it."""

    def __init__(self, folder: Path, situation: Situation, seed: int = 1) -> None:
        self.clock = VirtualClock(start_seconds=0.0)
        self.world = World(self.clock, folder, situation, seed=seed)
        self.bus = Bus(self.world.tree.folder, self.world.probe_settings())

    def read(self) -> list[tuple[Condition, float | None]]:
        """What the bus says now."""
        return [(answer.condition, answer.celsius) for answer in self.bus.read()]

    def conditions(self, seconds: int) -> list[Condition]:
        """Conditions of the first probe, one a second."""
        seen = []
        for _ in range(seconds):
            self.clock.run_for(1.0)
            seen.append(self.bus.read()[0].condition)
        return seen


def _situation(*, body: ProbeBody = STILL, spans: tuple[Fault, ...] = ()) -> Situation:
    return Situation(26.0, 18.0, probes=(ProbeAtSink(body=body),), faults=spans)


def test_a_reading_is_the_truth_within_a_step_of_the_sensor(tmp_path: Path) -> None:
    """A probe without lag and noise shows what is around it, rounded to a sixteenth."""
    bench = Bench(tmp_path, _situation())
    bench.world.move("probe", Place.DEVELOPER)
    bench.clock.run_for(60.0)
    ((condition, celsius),) = bench.read()
    assert condition is Condition.FINE
    assert celsius == pytest.approx(bench.world.truth()["developer_celsius"], abs=0.1)
    bench.world.move("probe", Place.BATH)
    bench.clock.run_for(0.5)
    ((_, celsius),) = bench.read()
    assert celsius == pytest.approx(bench.world.truth()["bath_celsius"], abs=0.1)


def test_a_probe_follows_with_its_lag(tmp_path: Path) -> None:
    """After one time constant a probe has made 63 % of the way (definition of the constant)."""
    body = ProbeBody(tau_seconds=10.0, sensor_part=0.0, offset_celsius=0.25, noise_sd=0.0)
    bench = Bench(tmp_path, _situation(body=body))
    bench.world.move("probe", Place.BATH)
    bench.clock.run_for(10.0)
    ((_, celsius),) = bench.read()
    room, bath = 20.0, bench.world.bath_celsius
    assert celsius == pytest.approx(room + 0.632 * (bath - room) + 0.25, abs=0.06)


def test_noise_has_the_standard_deviation_that_was_asked(tmp_path: Path) -> None:
    """Noise of a probe in air of constant temperature has the body's standard deviation."""
    bench = Bench(tmp_path, _situation(body=ProbeBody(tau_seconds=0.0, noise_sd=0.3)))
    values = []
    for _ in range(2000):
        bench.clock.run_for(0.5)
        values.append(bench.read()[0][1] or 0.0)
    mean = sum(values) / len(values)
    sd = (sum((value - mean) ** 2 for value in values) / len(values)) ** 0.5
    assert mean == pytest.approx(20.0, abs=0.03)
    assert sd == pytest.approx(0.3, abs=0.02)


def test_the_same_seed_gives_the_same_readings_and_another_seed_others(tmp_path: Path) -> None:
    """A roll can be told again exactly."""

    def story(name: str, seed: int) -> list[float | None]:
        situation = _situation(
            body=ProbeBody(), spans=(faults.parse("bad-crc 10 60 0.3"), faults.parse("noise 5 9"))
        )
        bench = Bench(tmp_path / name, situation, seed)
        bench.world.move("probe", Place.DEVELOPER)
        told = []
        for _ in range(120):
            bench.clock.run_for(1.0)
            told.append(bench.read()[0][1])
        return told

    assert story("a", 5) == story("b", 5)
    assert story("c", 5) != story("d", 6)


def test_two_probes_are_in_two_places(tmp_path: Path) -> None:
    """Each probe shows its own surroundings under its own name."""
    probes = (
        ProbeAtSink("one", "0316a2795e4b", STILL),
        ProbeAtSink("two", "0416b1c2d3e4", STILL),
    )
    bench = Bench(tmp_path, Situation(30.0, 15.0, probes=probes))
    bench.world.move("one", Place.DEVELOPER)
    bench.world.move("two", Place.BATH)
    bench.clock.run_for(5.0)
    found = {answer.probe: answer.celsius or 0.0 for answer in bench.bus.read()}
    assert found["one"] == pytest.approx(30.0, abs=0.3)
    assert found["two"] == pytest.approx(15.0, abs=0.3)
    assert bench.world.truth()["probes"] == {"one": "developer", "two": "bath"}


def test_ice_takes_the_heat_that_melts_it(tmp_path: Path) -> None:
    """Half a kilogram in five litres of 18 C: (5 x 18 - 0.5 x 79.8) / 5.5 = 9.1 C by hand.

    79.8 C: heat of fusion 334 kJ/kg over 4.186 kJ/(kg K), OpenStax College Physics. The sink
    is insulated here, and the vessel stands outside.
    """
    insulated = Sink(
        overflow_litres=9.0, basin_heat=1.0, basin_contact=0.01, basin_loss=0.0, air_film=0.001
    )
    bench = Bench(tmp_path, Situation(18.0, 18.0, sink=insulated))
    bench.world.lift()
    bench.world.add_ice(0.5)
    bench.world.stir(Place.BATH, 1.0, 600.0)
    bench.clock.run_for(600.0)
    truth = bench.world.truth()
    assert truth["ice_kilograms"] == pytest.approx(0.0, abs=0.01)
    assert truth["bath_celsius"] == pytest.approx((5 * 18 - 0.5 * 79.8) / 5.5, abs=0.3)


def test_hot_water_mixes_into_the_bath_at_once(tmp_path: Path) -> None:
    """A litre of 50 C and five of 18 C make (50 + 90) / 6 = 23.3 C."""
    bench = Bench(tmp_path, Situation(18.0, 18.0, sink=Sink(overflow_litres=8.0)))
    bench.world.add_hot(1.0)
    assert bench.world.bath_celsius == pytest.approx(140 / 6, abs=0.05)
    assert bench.world.truth()["bath_litres"] == pytest.approx(6.0)


def test_a_running_tap_pulls_the_bath_and_closing_it_ends_that(tmp_path: Path) -> None:
    """A running tap takes the bath towards its own temperature, and the page can see it run."""
    bench = Bench(tmp_path, Situation(20.0, 20.0))
    bench.world.tap(hot=4.0)
    assert bench.world.truth()["hot_litres_per_minute"] == 4.0
    bench.clock.run_for(120.0)
    warm = bench.world.bath_celsius
    assert 30.0 < warm < 50.0
    bench.world.tap()
    bench.clock.run_for(60.0)
    assert bench.world.bath_celsius < warm + 0.05


def test_stirring_quickens_the_approach(tmp_path: Path) -> None:
    """Developer stirred in a steel beaker comes nearer to the bath in the same time."""
    steel = Sink(Vessel(Wall.STEEL, thickness_millimetres=0.5))
    still, stirred = (
        Bench(tmp_path / name, Situation(28.0, 18.0, sink=steel)) for name in ("a", "b")
    )
    stirred.world.stir(Place.DEVELOPER, 0.8, 120.0)
    for bench in (still, stirred):
        bench.clock.run_for(120.0)
    assert stirred.world.developer_celsius < still.world.developer_celsius - 0.5


def test_a_lifted_developer_keeps_its_temperature_and_can_be_put_back(tmp_path: Path) -> None:
    """Out of the bath the developer hardly changes; back in it, it goes on approaching."""
    bench = Bench(tmp_path, Situation(28.0, 18.0))
    bench.world.lift()
    bench.clock.run_for(60.0)
    lifted = bench.world.developer_celsius
    bench.world.put_back()
    bench.clock.run_for(60.0)
    assert lifted - bench.world.developer_celsius > 4 * (28.0 - lifted)


def test_poured_developer_is_gone_and_its_temperature_is_kept(tmp_path: Path) -> None:
    """After pouring, the temperature of the pouring stands and a probe there hangs in air."""
    bench = Bench(tmp_path, _situation())
    bench.world.move("probe", Place.DEVELOPER)
    bench.clock.run_for(30.0)
    bench.world.pour_developer()
    poured = bench.world.developer_celsius
    bench.clock.run_for(60.0)
    assert bench.world.developer_celsius == poured
    assert bench.read()[0][1] == pytest.approx(20.0, abs=0.1)
    with pytest.raises(BenchError, match="in the tank"):
        bench.world.put_back()


def test_an_unplugged_probe_is_empty_then_gone_then_back(tmp_path: Path) -> None:
    """As on a kernel: reads fail first, the folder goes later, the next search finds it again."""
    bench = Bench(tmp_path, _situation(spans=(faults.parse("unplug probe 5.2 40"),)))
    seen = bench.conditions(60)
    assert set(seen[:5]) == {Condition.FINE}
    assert set(seen[5:25]) == {Condition.FAILED}
    assert set(seen[25:49]) == {Condition.VANISHED}
    assert set(seen[50:]) == {Condition.FINE}


def test_a_plug_put_back_at_once_never_loses_its_folder(tmp_path: Path) -> None:
    """A short interruption is a few failed reads only."""
    bench = Bench(tmp_path, _situation(spans=(faults.parse("unplug 5.2 6"),)))
    seen = bench.conditions(40)
    assert Condition.VANISHED not in seen
    assert seen.count(Condition.FAILED) == 6


@pytest.mark.parametrize(
    ("words", "condition"),
    [
        ("empty 10 5", Condition.FAILED),
        ("bad-crc probe 10 5", Condition.FAILED),
        ("open 10 5", Condition.FAILED),
        ("short 10 5", Condition.FAILED),
        ("first-line 10 5", Condition.FAILED),
        ("garbage 10 5", Condition.FAILED),
        ("power-on 10 5", Condition.POWER_ON),
        ("weak-supply 10 5", Condition.IMPLAUSIBLE),
        ("bus-gone 10 5", Condition.BUS_GONE),
    ],
)
def test_each_fault_has_its_condition_and_passes(
    tmp_path: Path, words: str, condition: Condition
) -> None:
    """A fault of five seconds is seen as its named condition for five seconds, then not."""
    bench = Bench(tmp_path, _situation(spans=(faults.parse(words),)))
    bench.clock.run_for(0.6)
    seen = bench.conditions(20)
    assert [index for index, each in enumerate(seen) if each is condition] == [9, 10, 11, 12, 13]
    assert {each for each in seen if each is not condition} == {Condition.FINE}


def test_a_share_of_failing_reads_is_that_share(tmp_path: Path) -> None:
    """A fault at rate 0.3 spoils about three reads in ten."""
    bench = Bench(tmp_path, _situation(spans=(faults.parse("bad-crc 0 5000 0.3"),)))
    failed = bench.conditions(2000).count(Condition.FAILED)
    assert 0.26 < failed / 2000 < 0.34


def test_a_noise_burst_is_loud_and_ends(tmp_path: Path) -> None:
    """During a burst readings scatter by what was asked, outside of it not at all."""
    bench = Bench(tmp_path, _situation(spans=(faults.parse("noise probe 100 200 0.5"),)))
    values = []
    for _ in range(400):
        bench.clock.run_for(1.0)
        values.append(abs((bench.read()[0][1] or 0.0) - 20.0))
    assert max(values[:99]) < 0.1
    assert max(values[101:299]) > 0.8
    assert max(values[301:]) < 0.1


def test_a_stuck_probe_repeats_itself_while_the_water_changes(tmp_path: Path) -> None:
    """A stuck probe looks fine and tells the same temperature."""
    bench = Bench(tmp_path, _situation(spans=(faults.parse("stuck 10 60"),)))
    bench.clock.run_for(20.0)
    before = bench.read()
    bench.world.move("probe", Place.BATH)
    bench.clock.run_for(40.0)
    assert bench.read() == before
    bench.clock.run_for(20.0)
    assert bench.read()[0][1] == pytest.approx(bench.world.bath_celsius, abs=0.1)


def test_overlapping_faults_end_one_by_one(tmp_path: Path) -> None:
    """The fault that began last is seen; when it ends, the other one is."""
    spans = (faults.parse("empty 5 20"), faults.parse("power-on 10 5"))
    bench = Bench(tmp_path, _situation(spans=spans))
    bench.clock.run_for(0.6)
    seen = bench.conditions(30)
    assert seen[5:8] == [Condition.FAILED] * 3
    assert seen[10:13] == [Condition.POWER_ON] * 3
    assert seen[16:20] == [Condition.FAILED] * 4
    assert seen[25:] == [Condition.FINE] * 5


def test_a_lost_display_fails_like_the_kernel_and_comes_back(tmp_path: Path) -> None:
    """While it is lost every call raises EREMOTEIO; afterwards it can be opened again."""
    bench = Bench(tmp_path, _situation(spans=(faults.parse("display-lost 10 5"),)))
    panel = bench.world.panel.open()
    bench.clock.run_for(12.0)
    with pytest.raises(OSError, match="121"):
        panel.contrast(10)
    with pytest.raises(OSError, match="121"):
        bench.world.panel.open()
    bench.clock.run_for(5.0)
    bench.world.panel.open().contrast(10)
    assert bench.world.panel.level == 10


@pytest.mark.parametrize("button", list(Button))
def test_a_press_arrives_at_the_pin_of_its_button(tmp_path: Path, button: Button) -> None:
    """Each button pulls down the pin that the settings name, and no other."""
    clock = VirtualClock()
    numbers = Pins(now_gpio=5, probe_gpio=6, wait_gpio=13)
    world = World(clock, tmp_path, _situation(), pins=numbers)
    wanted = {Button.NOW: 5, Button.PROBE: 6, Button.WAIT: 13}[button]
    down = []
    with (
        GpioButton(5, pin_factory=world.pins.factory) as now,
        GpioButton(6, pin_factory=world.pins.factory) as probe,
        GpioButton(13, pin_factory=world.pins.factory) as wait,
    ):
        for each, number in ((now, 5), (probe, 6), (wait, 13)):
            each.when_pressed = lambda number=number: down.append(number)
        world.press(button)
        clock.run_for(1.0)
    world.close()
    assert down == [wanted]


def test_a_bouncing_fault_makes_presses_bounce(tmp_path: Path) -> None:
    """While contacts bounce, one press has more edges than two."""
    bench = Bench(tmp_path, _situation(spans=(faults.parse("bounce 10 10 4"),)))
    counts = []
    with GpioButton(17, pin_factory=bench.world.pins.factory):
        for _ in range(3):
            before = len(bench.world.pins.edges)
            bench.world.press(Button.NOW)
            bench.clock.run_for(11.0)
            counts.append(len(bench.world.pins.edges) - before)
    assert counts == [2, 18, 2]


def test_what_hands_do_is_told_in_plain_words(tmp_path: Path) -> None:
    """Every action is kept with its moment, and told to whoever listens."""
    bench = Bench(tmp_path, Situation(26.0, 18.0, sink=Sink(Vessel())))
    told: list[str] = []
    bench.world.on_action = lambda _, text: told.append(text)
    bench.clock.run_for(3.0)
    bench.world.add_ice(0.25)
    assert told == ["puts 250 g of ice into the bath"]
    assert bench.world.actions == [(3.0, "puts 250 g of ice into the bath")]


def test_a_probe_that_is_not_there_is_refused_by_name(tmp_path: Path) -> None:
    """A wrong name is answered with the names there are."""
    bench = Bench(tmp_path, _situation())
    with pytest.raises(BenchError, match="no probe 'bath' at this sink; there are probe"):
        bench.world.move("bath", Place.BATH)
    with pytest.raises(BenchError, match="no probe 'bath'"):
        bench.world.bring(Fault(FaultKind.UNPLUG, 0.0, 5.0, "bath"))


def test_only_liquids_can_be_stirred(tmp_path: Path) -> None:
    """Air is no place to stir."""
    bench = Bench(tmp_path, _situation())
    with pytest.raises(BenchError, match="developer and the bath"):
        bench.world.stir(Place.AIR)


def test_a_tap_does_not_run_backwards(tmp_path: Path) -> None:
    """A tap gives water or none."""
    bench = Bench(tmp_path, _situation())
    with pytest.raises(BenchError, match="tap"):
        bench.world.tap(hot=-1.0)
