"""Lights out is for open film: nothing but a hand ends it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sinks.rolls import Roll

from wetside.session.presses import Button
from wetside.session.run import State
from wetside.session.sheet import Sheet
from wetside.station import lights


@pytest.fixture
def roll(tmp_path: Path, small_sheet: Sheet) -> Iterator[Roll]:
    """A sink on virtual time that nobody comes to."""
    one = Roll(tmp_path, small_sheet)
    one.rig.student.left = True
    one.go_on(1.0)
    yield one
    one.close()


def _press(one: Roll, button: Button, seconds: float = 0.15) -> None:
    one.rig.world.press(button, seconds)
    one.go_on(3.0)


def _lit(one: Roll) -> bool:
    return one.rig.world.panel.picture is not None


@pytest.mark.parametrize("run_open", [True, False])
@pytest.mark.parametrize("dark", [True, False])
def test_the_display_is_after_a_restart_as_it_was_before(
    roll: Roll, dark: bool, run_open: bool
) -> None:
    """Dark stays dark until the next long press of probe, with a run or between two."""
    _press(roll, Button.PROBE, 2.0)
    if not dark:
        _press(roll, Button.PROBE, 2.0)
    if run_open:
        _press(roll, Button.NOW)
        assert State.TEMPERING is roll.state
    roll.restart(2.0)
    roll.go_on(3.0)
    assert _lit(roll) is not dark
    _press(roll, Button.PROBE, 2.0)
    assert _lit(roll) is dark


@pytest.mark.parametrize("run_open", [True, False])
def test_after_a_power_cut_only_an_open_run_is_left_in_the_dark(roll: Roll, run_open: bool) -> None:
    """Film may still be open then; a display that is dark next morning would only seem broken."""
    if run_open:
        _press(roll, Button.NOW)
    _press(roll, Button.PROBE, 2.0)
    roll.restart(2.0, boot="two")
    roll.go_on(3.0)
    assert _lit(roll) is not run_open


def test_without_a_journal_the_display_is_lit(tmp_path: Path) -> None:
    """Nobody put the lights out at a station that never ran."""
    assert not lights.left_out(tmp_path / "none.sqlite", "sink-1", "boot", run_open=False)
