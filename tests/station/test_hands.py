"""Sheets are taken as they are when a run begins."""

from __future__ import annotations

from pathlib import Path

from wetside.commands.bench.rig import Rig, RigOptions
from wetside.session import sheet as sheets
from wetside.session.machine import State
from wetside.session.presses import Button
from wetside.session.sheet import Sheet
from wetside.sim.scripts import script
from wetside.sim.situation import usual


def _rig(folder: Path, there: list[Sheet]) -> Rig:
    setup = there[0].setup()
    rig = Rig(RigOptions(folder, there[0], usual(setup, 1), script("me"), seed=1))
    rig.station._hands._renew = lambda: there
    return rig


def test_a_run_takes_the_sheet_as_the_desk_left_it(tmp_path: Path, small_sheet_text: str) -> None:
    """A sheet that was changed after the station started is begun as it is now."""
    there = [sheets.parse(small_sheet_text, "small")]
    rig = _rig(tmp_path, there)
    there[0] = sheets.parse(small_sheet_text.replace("seconds = 180", "seconds = 240"), "small")
    rig.world.press(Button.NOW)
    rig.turn_until(lambda: rig.station.session.state is State.TEMPERING)
    begun = rig.station.session.sheet
    rig.close()
    assert begun is not None
    assert 240.0 == begun.step[1].seconds


def test_a_sheet_that_is_gone_is_not_begun(tmp_path: Path, small_sheet_text: str) -> None:
    """When the offered sheet was taken away, the first that is there is begun instead."""
    there = [sheets.parse(small_sheet_text, "small")]
    rig = _rig(tmp_path, there)
    there[0] = sheets.parse(small_sheet_text.replace('"Small"', '"Other"'), "other")
    rig.world.press(Button.NOW)
    rig.turn_until(lambda: rig.station.session.state is State.TEMPERING)
    begun = rig.station.session.sheet
    rig.close()
    assert begun is not None
    assert "Other" == begun.name
