"""A run that was ready, was held or lost power, is ready again only once it is seen to be."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from wetside.commands.bench.rig import Rig, RigOptions
from wetside.cues import view
from wetside.readings import Place
from wetside.session import record
from wetside.session import sheet as sheets
from wetside.session.events import Event, Kind
from wetside.session.machine import fold
from wetside.session.presses import Button
from wetside.session.run import State
from wetside.session.window import STANDS_SECONDS
from wetside.sim.scripts import script
from wetside.sim.situation import usual
from wetside.station.recovery import TakeUp

ONE_REEL = sheets.load(sheets.available([sheets.shipped_folder()])[0])


@pytest.fixture
def rig(tmp_path: Path) -> Iterator[Rig]:
    """A bench whose buttons and probe only the test moves."""
    there = Rig(RigOptions(tmp_path, ONE_REEL, usual(ONE_REEL.setup(), 1), script("me"), seed=1))
    yield there
    there.close()


def _state(rig: Rig) -> State:
    return rig.station.session.state


def _pass(rig: Rig, seconds: float) -> bool:
    """Go on for so long; whether the display said meanwhile to pour."""
    until, said = rig.clock.now() + seconds, False

    def over() -> bool:
        nonlocal said
        said = said or "POUR NOW" in view.view(rig.station.snapshot()).lines
        return rig.clock.now() > until

    rig.turn_until(over)
    return said


def _to_ready(rig: Rig) -> None:
    rig.world.press(Button.NOW)
    _pass(rig, 1.0)
    rig.world.move("probe", Place.DEVELOPER)
    rig.world.press(Button.PROBE)
    pressed = rig.clock.now()
    rig.turn_until(lambda: _state(rig) is State.READY or rig.clock.now() > pressed + 3600)
    assert State.READY is _state(rig)


def _cut_in_ready(rig: Rig) -> None:
    """The power was off for ten minutes while the run was ready, and is back."""
    now = rig.clock.now()
    events = [record.begin(now - 900, "01RUN", ONE_REEL), Event(Kind.ENTERED, now - 700)]
    lost = Event(Kind.POWER_LOST, now, {"shift_seconds": 0.0, "gap": "off for 10:00"})
    rig.station.take_up(TakeUp(fold(events), rig.clock.moment(), lost))
    _pass(rig, 1.0)
    assert State.INTERRUPTED is _state(rig)


def _go_on(rig: Rig) -> None:
    pressed = rig.clock.now()
    rig.world.press(Button.NOW)
    rig.turn_until(
        lambda: (
            _state(rig) not in {State.HOLDING, State.INTERRUPTED} or rig.clock.now() > pressed + 5
        )
    )


@pytest.mark.parametrize("unplugged", [False, True])
def test_after_five_minutes_of_holding_nobody_is_told_to_pour(rig: Rig, unplugged: bool) -> None:
    """The developer drifted out of its window meanwhile, and the display never says "pour now"."""
    _to_ready(rig)
    assert _pass(rig, 1.0)
    rig.world.press(Button.WAIT, 2.0)
    _pass(rig, 300.0)
    assert State.HOLDING is _state(rig)
    if unplugged:
        rig.world.unplug("probe")
    _go_on(rig)
    assert State.TEMPERING is _state(rig)
    assert not _pass(rig, 60.0)
    assert rig.station.session.in_window is None


@pytest.mark.parametrize("unplugged", [False, True])
def test_after_a_power_cut_nobody_is_told_to_pour(rig: Rig, unplugged: bool) -> None:
    """What was ready ten minutes ago is not called ready on the word of the journal."""
    if unplugged:
        rig.world.unplug("probe")
    _cut_in_ready(rig)
    _go_on(rig)
    assert State.TEMPERING is _state(rig)
    assert not _pass(rig, 60.0)


def test_a_developer_that_is_still_in_its_window_is_called_ready_again(rig: Rig) -> None:
    """A short hold: readings confirm it for as long as at first, and then the display says so."""
    _to_ready(rig)
    _pass(rig, 15.0)
    rig.world.press(Button.WAIT, 2.0)
    _pass(rig, 10.0)
    _go_on(rig)
    went_on = rig.clock.now()
    assert State.TEMPERING is _state(rig)
    rig.turn_until(lambda: _state(rig) is State.READY or rig.clock.now() > went_on + 60)
    assert State.READY is _state(rig)
    assert rig.clock.now() >= went_on + STANDS_SECONDS
    assert _pass(rig, 4.0)
