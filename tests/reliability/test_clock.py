"""What goes wrong with the time of day and with the power."""

from __future__ import annotations

from sinks.rolls import Make, Roll, late_seconds

from wetside.journal.reader import Reader
from wetside.session.presses import Button
from wetside.session.run import State
from wetside.session.signals import CueName
from wetside.sim.situation import Situation
from wetside.station.files import journal_path

#: A sink that is ready after a minute.
QUICK = Situation(developer_celsius=20.5, bath_celsius=18.0)
_HOUR = 3600.0


def _jump(roll: Roll, hours: float) -> None:
    """Let the wall clock jump in the middle of developing; the roll goes on to its end."""
    roll.turn_until(State.RUNNING)
    begun = roll.at
    roll.turn_to(begun + 60.0)
    roll.rig.clock.jump_wall(hours * _HOUR)
    roll.to_the_end()
    assert "AGITATE" in roll.words(begun + 60.0, begun + 160.0)
    agitate = [at for at in roll.heard(CueName.AGITATE) if at > begun]
    roll.close()
    assert "finished" == roll.row().state
    assert {0.0} == set(late_seconds(roll.events()))
    moments = [event.moment.seconds for event in roll.events()]
    assert moments == sorted(moments)
    # by the sheet the tank is moved at whole minutes of developing
    assert 60.0 == round(agitate[1] - agitate[0], 3)
    assert () == roll.problems()


def test_clock_jumps_forward(roll: Make) -> None:
    """Nine hours forward in the developer, as when the network answers: nobody notices."""
    one = roll(situation=QUICK)
    _jump(one, 9.0)
    walls = [event.moment.wall_seconds for event in one.events()]
    assert 9 * _HOUR < walls[-1] - walls[0] < 9.5 * _HOUR


def test_clock_jumps_back(roll: Make) -> None:
    """Five hours back in the developer: nobody notices, the order of the journal stands."""
    one = roll(situation=QUICK)
    _jump(one, -5.0)
    walls = [event.moment.wall_seconds for event in one.events()]
    assert walls[-1] < walls[0] - 4.5 * _HOUR
    numbers = [event.seq for event in one.events()]
    assert numbers == sorted(numbers)


def test_clock_not_set(roll: Make) -> None:
    """A board without clock battery starts in 1970; its run is dated once the network answers."""
    one = roll(situation=QUICK)
    one.rig.clock.jump_wall(-one.rig.clock.moment().wall_seconds, trusted=False)
    one.turn_until(State.RUNNING)
    assert one.live(one.at)["trusted"] is False
    one.rig.clock.jump_wall(1_900_000_000.0, trusted=True)
    one.to_the_end()
    assert one.live(one.at)["trusted"] is True
    one.close()
    with Reader(journal_path(one.rig.settings)) as reader:
        began = reader.runs().rows[0].began
    assert abs(began.wall_seconds - 1_900_000_000.0) < _HOUR
    assert {0.0} == set(late_seconds(one.events()))


def _power_cut(roll: Roll, off_seconds: float, wall_seconds: float | None = None) -> None:
    """No power for a while, then another boot with the same journal and parts."""
    run = roll.rig.station.session.run
    roll.rig.cut_power(off_seconds, "boot-2", wall_seconds)
    assert run == roll.rig.station.session.run


def test_power_cut_with_a_clock(roll: Make) -> None:
    """Half a minute without power in the developer: the gap is told, the schedule stands."""
    one = roll(situation=QUICK)
    one.turn_until(State.RUNNING)
    began = one.rig.station.session.began
    assert began is not None
    elapsed = one.rig.clock.now() - began
    one.rig.student.left = True
    _power_cut(one, 30.0)
    seen = len(one.seen)
    one.rig.turn_until(lambda: len(one.seen) > seen + 4)
    assert State.INTERRUPTED is one.state
    assert "off for 0:3" in "\n".join(v["screen"]["text"] for _, v in one.seen[seen:])
    again = one.rig.station.session.began
    assert again is not None
    assert abs(one.rig.clock.now() - again - elapsed - 30.0) < 5.0
    one.rig.student.left = False
    one.rig.world.press(Button.NOW)
    one.to_the_end()
    one.close()
    assert ("finished", ("power-lost",)) == (one.row().state, one.row().flags)
    assert () == one.problems()


def test_power_cut_without_a_clock(roll: Make) -> None:
    """Without a clock battery the gap's length is not known, and that is what is said."""
    one = roll(situation=QUICK)
    one.turn_until(State.RUNNING)
    one.rig.student.left = True
    _power_cut(one, 30.0, wall_seconds=0.0)
    seen = len(one.seen)
    one.rig.turn_until(lambda: len(one.seen) > seen + 4)
    assert State.INTERRUPTED is one.state
    assert "or longer" in "\n".join(v["screen"]["text"] for _, v in one.seen[seen:])
    one.rig.student.left = False
    one.rig.world.press(Button.NOW)
    one.to_the_end()
    one.close()
    assert ("finished", ("power-lost",)) == (one.row().state, one.row().flags)
