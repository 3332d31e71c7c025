"""The doctor says which board it is on."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from wetside.__main__ import app
from wetside.commands.doctor import house
from wetside.commands.doctor.findings import State


@pytest.mark.parametrize(
    "model",
    ["Raspberry Pi Zero 2 W Rev 1.0", "Raspberry Pi 5 Model B Rev 1.1"],
)
def test_a_raspberry_pi_is_named(tmp_path: Path, model: str) -> None:
    """The model is what the board's firmware says, which ends with a zero byte."""
    file = tmp_path / "model"
    file.write_text(model + "\0", encoding="utf-8")
    finding = house.board(file)
    assert (finding.state, finding.found) == (State.FINE, model)


@pytest.mark.parametrize("model", [None, "Some Other Board\0"])
def test_another_computer_is_told_to_be_none(tmp_path: Path, model: str | None) -> None:
    """A PC has no such file, another board has another name: both are no Raspberry Pi."""
    file = tmp_path / "model"
    if model is not None:
        file.write_text(model, encoding="utf-8")
    finding = house.board(file)
    assert finding.state is State.MISSING
    assert "this is not a Raspberry Pi" in finding.found
    assert "wetside bench" in finding.mend


@pytest.mark.skipif(
    house.board().state is State.FINE, reason="this is a Raspberry Pi, which has its parts"
)
def test_the_command_says_so_first(tmp_path: Path) -> None:
    """On a PC the line about the board stands before all that can only be missing there."""
    result = CliRunner().invoke(app, ["doctor", "--settings", str(tmp_path / "none.toml")])
    lines = result.stdout.splitlines()
    assert result.exit_code == 1
    assert "this is not a Raspberry Pi" in next(line for line in lines if "board" in line)
    assert next(line.split()[1] for line in lines if line.startswith("missing")) == "board"
