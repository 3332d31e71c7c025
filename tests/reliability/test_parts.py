"""What goes wrong with the display, the buzzer and the buttons."""

from __future__ import annotations

from collections.abc import Callable

from sinks.rolls import Make, Roll, late_seconds

from wetside.session.presses import Button
from wetside.session.run import State
from wetside.session.signals import CueName
from wetside.sim.situation import Situation

#: A sink that is ready after a minute, for what happens in the steps.
QUICK = Situation(developer_celsius=20.5, bath_celsius=18.0)


def _faults(roll: Roll, name: str) -> list[bool]:
    """Whether each note in the journal about this part is of a fault, in order."""
    return [
        event.detail["fault"] is not None
        for event in roll.events()
        if event.kind == f"{name}-fault"
    ]


def _shines(roll: Roll) -> bool:
    """Whether an eye sees anything on the display."""
    return roll.rig.world.panel.picture is not None


def _finished_on_time(roll: Roll) -> None:
    assert "finished" == roll.row().state
    assert {0.0} == set(late_seconds(roll.events()))
    assert () == roll.problems()


def test_display_lost(roll: Make) -> None:
    """A display that does not answer in a step stops no tone, and is set up anew by itself."""
    one = roll(situation=QUICK)
    one.turn_until(State.RUNNING)
    begun = one.at
    one.bring("display-lost 5 60")
    one.turn_to(begun + 40.0)
    assert "the display does not answer" in one.live(one.at)["warnings"][0]
    assert not _shines(one)
    assert one.sounded(begun + 5.0, begun + 40.0)
    one.turn_to(begun + 80.0)
    assert [] == one.live(one.at)["warnings"]
    assert _shines(one)
    one.to_the_end()
    one.close()
    _finished_on_time(one)
    assert [True, False] == _faults(one, "display")


def test_display_missing_from_the_start(roll: Make) -> None:
    """A roll goes through by ear; the live page has the screen and says what is wrong."""
    one = roll("display-lost 0 4000", situation=QUICK)
    one.to_the_end()
    assert "the display does not answer" in one.live(30.0)["warnings"][0]
    assert one.live(30.0)["picture"]
    assert [] != one.heard(CueName.AGITATE)
    one.close()
    _finished_on_time(one)


def test_buzzer_pin_fails(roll: Make) -> None:
    """A pin that gives errors leaves the display to say every cue, with a line about the pin."""
    one = roll(situation=QUICK)
    one.turn_until(State.RUNNING)
    begun = one.at
    mend = _break_buzzer(one)
    one.turn_to(begun + 90.0)
    assert "no tone, the buzzer's pin fails" in one.live(one.at)["warnings"][0]
    assert "AGITATE" in one.words(begun, one.at)
    assert "no tone" in one.words(begun, one.at)
    assert 0 == one.sounded(begun + 1.0, one.at)
    mend()
    one.turn_to(begun + 150.0)
    assert one.sounded(begun + 90.0, one.at)
    assert [] == one.live(one.at)["warnings"]
    one.to_the_end()
    one.close()
    _finished_on_time(one)
    assert [True, False] == _faults(one, "buzzer")


def _break_buzzer(roll: Roll) -> Callable[[], None]:
    """Let the buzzer's pin fail as a lost GPIO chip does; what is given back mends it."""
    pin = roll.rig.world.pins.factory.pin(roll.rig.settings.pins.buzzer_gpio)
    fine = pin._set_frequency

    def failing(_: float | None) -> None:
        raise OSError(5, "Input/output error")

    def mend() -> None:
        pin._set_frequency = fine

    pin._set_frequency = failing
    return mend


def test_buttons_bounce(roll: Make) -> None:
    """Contacts that bounce six times at either end of each press make one press each."""
    one = roll("bounce 0 4000 6", situation=QUICK)
    one.to_the_end()
    one.close()
    _finished_on_time(one)
    kinds = [event.kind for event in one.events()]
    assert (1, 5) == (kinds.count("begin"), kinds.count("now"))
    assert "refused" not in kinds


def test_button_stuck(roll: Make) -> None:
    """A button held down by something is one long press, is named, and hinders no other."""
    one = roll(situation=QUICK)
    one.turn_until(State.RUNNING)
    begun = one.at
    one.rig.world.press(Button.WAIT, 60.0)
    one.turn_to(begun + 50.0)
    assert ["button wait is stuck"] == one.live(one.at)["warnings"]
    assert "GIVE UP? this cannot wait" in one.words(begun, one.at)
    assert "button wait is stuck" in one.words(begun, one.at)
    one.turn_to(begun + 65.0)
    assert [] == one.live(one.at)["warnings"]
    one.to_the_end()
    one.close()
    _finished_on_time(one)
    assert [True, False] == _faults(one, "buttons")


def test_button_pressed_without_sense(roll: Make) -> None:
    """Presses that mean nothing now are answered with a reason and change nothing."""
    one = roll(situation=QUICK)
    one.turn_until(State.RUNNING)
    begun = one.at
    for second in range(3, 60, 6):
        one.turn_to(begun + second)
        one.rig.world.press(Button.NOW)
    one.turn_to(begun + 70.0)
    assert "hold now to end early" in one.words(begun, one.at)
    one.to_the_end()
    one.close()
    _finished_on_time(one)
    assert 10 == [event.kind for event in one.events()].count("refused")
    assert () == one.row().flags


def test_nobody_answers(roll: Make) -> None:
    """A hand-over that nobody answers is called each five seconds, timed, and kept as late."""
    one = roll(situation=QUICK)
    one.turn_until(State.DRAINING)
    one.rig.student.left = True
    one.turn_until(State.LATE)
    begun = one.at
    one.turn_to(begun + 300.0)
    assert State.LATE is one.state
    assert "LATE" in one.words(begun, one.at)
    assert "POUR IN NOW" in one.words(begun, one.at)
    assert "+5:0" in one.words(begun, one.at)
    assert all(one.sounded(begun + 5.0 * n, begun + 5.0 * n + 4.9) for n in range(1, 60))
    one.rig.world.press(Button.NOW)
    one.rig.student.left = False
    one.to_the_end()
    one.close()
    row = one.row()
    assert ("finished", True) == (row.state, "late-develop" in row.flags)
    assert row.actual_develop_seconds is not None
    assert row.actual_develop_seconds > 480.0
