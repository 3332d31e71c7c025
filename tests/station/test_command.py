"""The station's command by itself."""

from __future__ import annotations

import subprocess
import sys
import warnings
from pathlib import Path

import pytest
from gpiozero import BadPinFactory, PinFactoryFallback
from typer.testing import CliRunner

from wetside.__main__ import app


def test_the_command_loads_nothing_of_the_simulated_sink() -> None:
    """What runs at a real sink brings no simulated one into memory."""
    words = "import sys, wetside.commands.station; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True)
    loaded = done.stdout.split()
    assert "wetside.station.loop" in loaded
    assert [] == [name for name in loaded if name.startswith("wetside.sim")]


@pytest.mark.parametrize("command", ["station", "desk"])
def test_without_settings_a_command_says_what_to_do(command: str, tmp_path: Path) -> None:
    """The one line names the file, who makes it, another one, and what needs none."""
    done = CliRunner().invoke(app, [command, "--settings", str(tmp_path / "none.toml")])
    said = done.stderr.splitlines()
    assert (2, 1) == (done.exit_code, len(said))
    assert said[0].startswith(f"{tmp_path / 'none.toml'}: cannot be read: ")
    for way in ("systemd/install.sh", "--settings FILE", "wetside bench"):
        assert way in said[0]


def test_a_machine_without_pins_is_told_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the library tried before it gave up is not told as well."""

    def no_pins(*_: object) -> None:
        warnings.warn("Falling back from lgpio: no module", PinFactoryFallback, stacklevel=1)
        raise BadPinFactory("Unable to load any default pin factory!")

    monkeypatch.setattr("wetside.commands.station._run", no_pins)
    (tmp_path / "station.toml").write_text(f'data_folder = "{tmp_path}"\n', encoding="utf-8")
    with warnings.catch_warnings(record=True) as told:
        done = CliRunner().invoke(app, ["station", "--settings", str(tmp_path / "station.toml")])
    assert (1, []) == (done.exit_code, told)
    (line,) = done.stderr.splitlines()
    assert line.startswith("the GPIO pins cannot be used: ")


def test_settings_with_a_mistake_are_not_called_missing(tmp_path: Path) -> None:
    """A file that is there is to be mended, not to be made."""
    (tmp_path / "station.toml").write_text("nothing = 1", encoding="utf-8")
    done = CliRunner().invoke(app, ["desk", "--settings", str(tmp_path / "station.toml")])
    assert 2 == done.exit_code
    assert "installer" not in done.stderr
