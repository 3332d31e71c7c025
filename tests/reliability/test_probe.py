"""What goes wrong with probes and their bus, on virtual time through the real libraries."""

from __future__ import annotations

from itertools import pairwise

from sinks.rolls import Make, Roll, conditions, late_seconds

from wetside.readings import Place
from wetside.session.presses import Button
from wetside.session.run import State
from wetside.session.signals import CueName
from wetside.sim.situation import Arrangement, Situation


def _trouble(roll: Roll, condition: str, *screens: str) -> None:
    """Fifty seconds of a fault from 60 s on: alarm and words while it lasts, then as before."""
    roll.turn_to(150.0)
    lost, back = roll.heard(CueName.PROBE_LOST), roll.heard(CueName.PROBE_BACK)
    assert len(lost) == 1
    assert 62.0 <= lost[0] <= 65.0
    assert len(back) == 1
    assert 90.0 <= back[0] <= 112.0
    assert all(roll.sounded(at, at + 0.1) for at in (*lost, *back))
    # the alarm comes again each 20 s until the probe is back
    assert roll.sounded(lost[0] + 19.9, lost[0] + 20.1)
    assert not roll.sounded(back[0] + 5.0, 150.0)
    for screen in screens:
        assert screen in roll.words(lost[0], back[0])
        assert screen not in roll.words(back[0] + 5.0)
    assert {"probe": condition} == roll.live(85.0)["troubles"]
    assert {} == roll.live(150.0)["troubles"]
    _believes_what_is_so(roll)
    roll.close()
    assert [condition, "fine"] == [one for one in conditions(roll.events()) if one != "failed read"]
    samples = roll.samples()
    assert 0 < sum(sample.condition == condition for sample in samples)
    assert all((sample.celsius is None) is (sample.condition != "fine") for sample in samples)


def _believes_what_is_so(roll: Roll, within: float = 0.35) -> None:
    """The developer's estimate is where the developer is."""
    developer = roll.live(roll.at)["outlook"]["developer"]
    assert abs(developer["celsius"] - roll.rig.world.developer_celsius) < within


def test_probe_plug_out(roll: Make) -> None:
    """A pulled plug is named at once, as unplugged when the kernel gives the probe up."""
    _trouble(roll("unplug probe 60 50"), "probe vanished", "probe unplugged", "probe: failed read")


def test_probe_reads_nothing(roll: Make) -> None:
    """Empty reads, which today's kernels give for most failures, are named."""
    one = roll("empty 60 50")
    _reads_fail(one, "probe: failed read", "look at its plug")


def test_probe_fails_its_checksum(roll: Make) -> None:
    """A reading whose checksum is wrong is not believed."""
    _reads_fail(roll("bad-crc 60 50"), "probe: failed read", "look at its plug")


def test_probe_line_broken(roll: Make) -> None:
    """A data line that is open reads all ones and is not believed."""
    _reads_fail(roll("open 60 50"), "probe: failed read", "look at its plug")


def test_probe_line_shorted(roll: Make) -> None:
    """A shorted line reads 0.000 with a right checksum, and is not believed."""
    one = roll("short 60 50")
    _reads_fail(one, "probe: failed read", "look at its plug")
    assert 15.0 < min(s.celsius for s in one.samples() if s.celsius is not None)


def test_probe_answers_half_a_line(roll: Make) -> None:
    """A file without its second line is a failed read."""
    _reads_fail(roll("first-line 60 50"), "probe: failed read", "look at its plug")


def test_probe_answers_garbage(roll: Make) -> None:
    """A file that holds something else is a failed read."""
    _reads_fail(roll("garbage 60 50"), "probe: failed read", "look at its plug")


def _reads_fail(roll: Roll, *screens: str) -> None:
    roll.turn_to(150.0)
    (lost,), (back,) = roll.heard(CueName.PROBE_LOST), roll.heard(CueName.PROBE_BACK)
    assert 62.0 <= lost <= 65.0
    assert 109.0 <= back <= 112.0
    for screen in screens:
        assert screen in roll.words(lost, back)
        assert screen not in roll.words(back + 5.0)
    assert roll.sounded(lost, lost + 0.1)
    assert {"probe": "failed read"} == roll.live(90.0)["troubles"]
    _believes_what_is_so(roll)
    roll.close()
    assert ["failed read", "fine"] == conditions(roll.events())
    assert 45 <= sum(sample.condition == "failed read" for sample in roll.samples()) <= 55


def test_probe_fails_now_and_then(roll: Make) -> None:
    """One read in twenty that fails is kept as failed, and no alarm is given."""
    one = roll("bad-crc 20 300 0.05")
    one.turn_to(330.0)
    assert [] == one.heard(CueName.PROBE_LOST)
    assert "20.0 °C in developer" in one.words(20.0, 320.0)
    assert "failed read" not in one.words()
    _believes_what_is_so(one)
    one.close()
    failed = sum(sample.condition == "failed read" for sample in one.samples())
    assert 4 <= failed <= 30


def test_probe_loses_its_supply(roll: Make) -> None:
    """85.0 °C, what a probe shows before its first conversion, is not a temperature."""
    _trouble(roll("power-on 60 50"), "power-on value", "probe restarted", "wait for a reading")


def test_probe_has_too_little_current(roll: Make) -> None:
    """127.9 °C, what a starved probe shows, is not a temperature."""
    _trouble(roll("weak-supply 60 50"), "implausible value", "probe: odd value", "look at its plug")


#: The developer moves by nearly half a degree a minute, and the air of the room is far from it.
STEEP = Situation(developer_celsius=24.6, bath_celsius=16.0)


def test_probe_repeats_its_last_value(roll: Make) -> None:
    """It is found where the developer must move; where it hardly does, it is caught up later."""
    steep = roll("stuck 60 180", situation=STEEP)
    steep.turn_to(235.0)
    (lost,) = steep.heard(CueName.PROBE_LOST)
    assert 170.0 <= lost <= 200.0
    for screen in ("probe repeats itself", "unplug, plug in again"):
        assert screen in steep.words(lost, 235.0)
    assert [] == steep.heard(CueName.READY)

    one = roll("stuck 60 180")
    one.turn_to(240.0)
    assert [] == one.heard(CueName.PROBE_LOST)
    # only a developer that stands still: a good probe in still water does the same
    assert "in developer" in one.words(60.0, 240.0)
    behind = one.live(239.0)["outlook"]["developer"]["celsius"] - one.rig.world.developer_celsius
    assert 0.3 < behind < 1.0
    one.turn_to(400.0)
    _believes_what_is_so(one)
    one.close()
    assert {"fine"} == {str(sample.condition) for sample in one.samples()}


def test_probe_is_noisy(roll: Make) -> None:
    """Half a degree of noise on every reading leaves the estimate within half a degree."""
    one = roll("noise 30 200 0.5")
    one.turn_to(230.0)
    assert "in developer" in one.words(30.0, 230.0)
    wrong = [
        abs(values["outlook"]["developer"]["celsius"] - one.rig.world.developer_celsius)
        for at, values in one.seen
        if at > 225.0
    ]
    assert wrong
    assert max(wrong) < 0.5
    one.close()
    readings = [s.celsius for s in one.samples() if s.celsius is not None]
    steps = [abs(after - before) for before, after in pairwise(readings)]
    assert max(steps) > 1.0  # kept as they were read


def test_probe_lifted_out_of_the_developer(roll: Make) -> None:
    """Air far from the developer is noticed at once; the number is right soon after it is back."""
    steep = roll(situation=STEEP)
    steep.turn_to(60.0)
    steep.rig.world.move("probe", Place.AIR)
    steep.turn_to(110.0)
    (lost,) = steep.heard(CueName.PROBE_LOST)
    assert 62.0 <= lost <= 70.0
    for screen in ("probe in the air?", "put it back"):
        assert screen in steep.words(lost, 110.0)

    one = roll()
    one.turn_to(60.0)
    one.rig.world.move("probe", Place.AIR)
    one.turn_to(120.0)
    one.rig.world.move("probe", Place.DEVELOPER)
    one.turn_to(240.0)
    assert "in developer" in one.words(180.0, 240.0)
    _believes_what_is_so(one)
    one.close()
    assert 200 < sum(sample.condition == "fine" for sample in one.samples())
    assert ["in the air", "fine"] == conditions(one.events())


def test_probe_lifted_out_of_the_bath(roll: Make) -> None:
    """A minute in the air makes the hidden developer uncertain, and the screen says how much."""
    one = roll(
        situation=Situation(developer_celsius=24.6, bath_celsius=16.0), arrangement=Arrangement.BATH
    )
    one.turn_to(60.0)
    one.rig.world.move("probe", Place.AIR)
    one.turn_to(120.0)
    one.rig.world.move("probe", Place.BATH)
    one.turn_to(240.0)
    developer = one.live(240.0)["outlook"]["developer"]
    wrong = abs(developer["celsius"] - one.rig.world.developer_celsius)
    assert wrong < 3.0 * developer["sd"] + 0.1
    assert "in bath" in one.words(140.0, 240.0)
    one.close()
    assert 200 < sum(sample.condition == "fine" for sample in one.samples())


def test_probe_lost_while_a_step_runs(roll: Make) -> None:
    """Timing goes on without the probe: no alarm, a line on the screen, every cue on time."""
    one = roll(situation=Situation(developer_celsius=20.5, bath_celsius=18.0))
    one.turn_until(State.RUNNING)
    one.bring("unplug probe 5 3000")
    begun = one.at
    one.to_the_end()
    assert [] == [at for at in one.heard(CueName.PROBE_LOST) if at > begun]
    assert "probe unplugged" in one.words(begun)
    assert 6 <= len(one.heard(CueName.AGITATE)) + len(one.heard(CueName.REST))
    one.close()
    assert "finished" == one.row().state
    assert {0.0} == set(late_seconds(one.events()))
    assert "probe vanished" in conditions(one.events())


def test_probe_missing_from_the_start(roll: Make) -> None:
    """Without any probe the roll can be poured by a long press; the rest is called as always."""
    one = roll("empty 0 3000")
    one.turn_to(60.0)
    assert State.TEMPERING is one.state
    assert "probe: failed read" in one.words(30.0, 60.0)
    one.rig.world.press(Button.NOW, 1.6)
    one.turn_until(State.RUNNING, 60.0)
    one.to_the_end()
    one.close()
    row = one.row()
    assert ("finished", None) == (row.state, row.poured_celsius)
    assert "poured-outside-window" in row.flags


def test_second_probe_lost(roll: Make) -> None:
    """With a probe in each, the loss of the bath's probe is named and the developer's goes on."""
    one = roll("unplug bath 60 60", arrangement=Arrangement.TWO)
    one.turn_to(110.0)
    assert {"bath": "probe vanished"} == one.live(110.0)["troubles"]
    assert "probe unplugged" in one.words(62.0, 110.0)
    _believes_what_is_so(one)
    one.turn_to(200.0)
    assert {} == one.live(200.0)["troubles"]
    _believes_what_is_so(one)
    one.close()
    fine = {sample.probe for sample in one.samples() if sample.condition == "fine"}
    assert {"developer", "bath"} == fine


def test_bus_gone(roll: Make) -> None:
    """A bus that the kernel no longer shows is named; it comes back by itself."""
    _trouble(roll("bus-gone 60 50"), "bus gone", "no probe answers", "look at plug and cable")
