"""What the teacher chose for this sink is heard and seen there, from the next roll on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from wetside.commands.bench.rig import Rig, RigOptions
from wetside.cues.catalogue import row
from wetside.cues.tones import Tone
from wetside.cues.voicing import voiced
from wetside.devices.buzzer import Buzzer
from wetside.journal.reader import Reader
from wetside.session.presses import Button
from wetside.session.run import State
from wetside.session.sheet import Sheet
from wetside.session.signals import CueName
from wetside.session.sinkfile import Pitch, Tones
from wetside.settings import StationSettings
from wetside.sim.scripts import script
from wetside.sim.situation import usual
from wetside.station.choices import Choices

QUIET = 'format = 1\nfahrenheit = true\n[tones]\nagitation = "silent"\npitch = "low"\n'


def heard_at_the_sink(
    folder: Path, sheet: Sheet, monkeypatch: pytest.MonkeyPatch, chosen: str
) -> tuple[list[Tone], list[dict[str, Any]], Rig]:
    """Tones and live objects of a roll from the begin into developing, chosen after the start."""
    played: list[Tone] = []
    shown: list[dict[str, Any]] = []
    monkeypatch.setattr(Buzzer, "play", lambda _, tone: played.append(tone))
    options = RigOptions(
        folder / "data",
        sheet,
        usual(sheet.setup(), 1),
        script("me"),
        bells_file=folder / "bells.toml",
    )
    rig = Rig(options, on_live=lambda values: shown.append(dict(values)))
    (folder / "sink.toml").write_text(chosen, encoding="utf-8")
    rig.world.press(Button.NOW)
    rig.turn_until(lambda: rig.station.session.state is State.TEMPERING)
    rig.world.press(Button.NOW, 2.0)
    rig.turn_until(lambda: rig.station.session.state is State.RUNNING)
    until = rig.clock.now() + 70.0
    rig.turn_until(lambda: rig.clock.now() > until)
    rig.close()
    return played, shown, rig


def test_a_choice_made_at_the_desk_is_heard_at_the_next_roll(
    tmp_path: Path, small_sheet: Sheet, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Agitation falls silent and the rest is lower, in a roll that begins after the choice."""
    played, shown, rig = heard_at_the_sink(tmp_path, small_sheet, monkeypatch, QUIET)
    low = Tones(pitch=Pitch.LOW)
    assert voiced(CueName.TEMPERING_BEGUN, low) == played[0]
    assert voiced(CueName.POUR_BEGUN, low) in played
    for name in (CueName.AGITATE, CueName.REST):
        assert voiced(name, low) not in played
        assert row(name).tone not in played
    moving = [values for values in shown if values["step"] and values["step"]["agitating"]]
    assert any("agitate" in values["screen"]["text"].casefold() for values in moving)
    assert rig.station.snapshot().fahrenheit
    with Reader(tmp_path / "data" / "journal.sqlite") as reader:
        run = reader.runs().rows[0].id
        details = [one.detail for one in reader.events(run) if one.kind == "tones"]
    assert [{"agitation": "silent", "calm": True, "pitch": "low"}] == details


def test_without_a_choice_agitation_is_called(
    tmp_path: Path, small_sheet: Sheet, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same roll with nothing chosen calls when to move and when to rest."""
    played, _, _ = heard_at_the_sink(tmp_path, small_sheet, monkeypatch, "format = 1\n")
    assert row(CueName.AGITATE).tone in played
    assert row(CueName.REST).tone in played


def test_a_file_with_mistakes_silences_nothing(tmp_path: Path) -> None:
    """The reason is told, and every tone sounds; mended, the choice holds."""
    file = tmp_path / "sink.toml"
    file.write_text('format = 1\n[tones]\nagitation = "none"\n', encoding="utf-8")
    choices = Choices(file)
    assert Tones() == choices.now.tones
    assert "tones.agitation" in str(choices.renewed()["problem"])
    file.write_text(QUIET, encoding="utf-8")
    assert "low" == choices.renewed()["pitch"]
    file.unlink()
    assert {} == choices.renewed()


def test_where_the_choices_are_looked_for(tmp_path: Path) -> None:
    """As set; else beside the bell table, where the desk of an older set-up writes them."""
    bells, own = tmp_path / "bells.toml", tmp_path / "other.toml"
    assert tmp_path / "sink.toml" == StationSettings(bells_file=bells).choices_file
    assert own == StationSettings(bells_file=bells, sink_file=own).choices_file
    assert StationSettings().choices_file is None
