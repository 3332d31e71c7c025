"""The units are sound, closed and in the right order of importance.

Outside check: systemd's own tools, ``systemd-analyze verify`` and ``security``.
"""

from __future__ import annotations

import configparser
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from wetside import settings
from wetside.commands.table import command

SERVICES = {"station": 25, "desk": 15, "backup": 10}


def unit(systemd: Path, name: str) -> configparser.RawConfigParser:
    """Read a unit file; of a repeated key the last line counts here."""
    parser = configparser.RawConfigParser(strict=False, comment_prefixes="#")
    parser.optionxform = str  # type: ignore[assignment,method-assign] # keys keep their capitals
    parser.read(systemd / name, encoding="utf-8")
    return parser


def analyze(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run systemd-analyze; without it skip, or fail where the tests must all run."""
    program = shutil.which("systemd-analyze")
    if program is None:
        if os.environ.get("WETSIDE_CI"):
            pytest.fail("systemd-analyze is missing (apt install systemd)")
        pytest.skip("systemd-analyze is not installed")
    command = [program, *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)


def test_systemd_accepts_every_unit(systemd: Path, tmp_path: Path) -> None:
    """``systemd-analyze verify`` has nothing to say, with the programs in place."""
    there = tmp_path / "opt"
    (there / "venv" / "bin").mkdir(parents=True)
    (there / "docs").mkdir()
    (there / "docs" / "install.md").touch()
    for program in ("venv/bin/wetside", "venv/bin/python", "probe-features.sh"):
        (there / program).write_text("#!/bin/sh\n", encoding="ascii")
        (there / program).chmod(0o755)
    units = []
    for file in sorted(systemd.glob("wetside*")):
        text = file.read_text(encoding="utf-8").replace("/opt/wetside/current", str(there))
        copy = tmp_path / file.name
        copy.write_text(text, encoding="utf-8")
        units.append(copy)
    assert len(units) == 5
    done = analyze("verify", "--man=no", *units)
    assert (0, "") == (done.returncode, done.stderr)


def test_systemd_refuses_a_misspelt_key(systemd: Path, tmp_path: Path) -> None:
    """The check above is able to fail: a key that does not exist is reported."""
    text = (systemd / "wetside-station.service").read_text(encoding="utf-8")
    copy = tmp_path / "wetside-station.service"
    copy.write_text(text.replace("WatchdogSec", "WatchDogSec"), encoding="utf-8")
    assert "WatchDogSec" in analyze("verify", "--man=no", copy).stderr


@pytest.mark.parametrize("name", SERVICES)
def test_the_exposure_stays_low(systemd: Path, name: str) -> None:
    """Systemd rates the station at 2.5 or lower, the desk at 1.5, the backup at 1.0."""
    file = systemd / f"wetside-{name}.service"
    done = analyze(
        "security", "--offline=true", "--no-pager", f"--threshold={SERVICES[name]}", file
    )
    assert done.returncode == 0, done.stdout[-200:] + done.stderr


def test_an_open_unit_fails_the_exposure(systemd: Path, tmp_path: Path) -> None:
    """Without its protections the desk's unit is over the limit."""
    text = (systemd / "wetside-desk.service").read_text(encoding="utf-8")
    copy = tmp_path / "wetside-desk.service"
    copy.write_text(re.sub(r"(?m)^(Protect|Restrict|System).*\n", "", text), encoding="utf-8")
    done = analyze("security", "--offline=true", "--no-pager", "--threshold=15", copy)
    assert done.returncode == 1


def number(text: str) -> int:
    """Give a size such as 160M in bytes."""
    return int(text.removesuffix("M")) * 1_048_576


def test_the_desk_can_never_starve_the_station(systemd: Path) -> None:
    """In processor, disk and memory the station comes first, and the desk is killed first."""
    station = unit(systemd, "wetside-station.service")["Service"]
    desk = unit(systemd, "wetside-desk.service")["Service"]
    assert int(station["CPUWeight"]) >= 10 * int(desk["CPUWeight"])
    assert int(station["IOWeight"]) >= 10 * int(desk["IOWeight"])
    assert int(station["Nice"]) < 0 < int(desk["Nice"])
    assert int(station["OOMScoreAdjust"]) < 0 < int(desk["OOMScoreAdjust"])
    assert "MemoryHigh" not in desk  # without swap it would hang where it should be ended
    both = number(station["MemoryMax"]) + number(desk["MemoryMax"])
    assert both < 480 * 1_048_576  # a Pi Zero 2 W has 512 MB, its graphics take a part


def test_a_slow_start_is_not_ended(systemd: Path) -> None:
    """A start took up to 70 s on an overloaded emulated machine; an ended one begins anew."""
    station = unit(systemd, "wetside-station.service")["Service"]
    assert int(station["TimeoutStartSec"]) >= 4 * 70


def test_the_station_is_watched_and_comes_back(systemd: Path) -> None:
    """It reports ready itself, is restarted when it hangs or ends, and is never given up."""
    parsed = unit(systemd, "wetside-station.service")
    service = parsed["Service"]
    assert service["Type"] == "notify"
    assert int(service["WatchdogSec"]) <= 30
    assert service["Restart"] == "always"
    assert parsed["Unit"]["StartLimitIntervalSec"] == "0"
    text = (systemd / "wetside-station.service").read_text(encoding="utf-8")
    assert "LG_WD=%t/wetside" in text
    assert "DeviceAllow=char-gpiochip rw" in text
    assert "DeviceAllow=char-i2c rw" in text
    assert "ProcSubset=all" in text


def test_the_station_can_ask_whether_its_clock_is_right(systemd: Path) -> None:
    """Adjtimex is allowed, and setting the clock is not: no capability is left."""
    text = (systemd / "wetside-station.service").read_text(encoding="utf-8")
    assert "\nSystemCallFilter=adjtimex" in text
    assert "\nProtectClock=" not in text
    assert "\nCapabilityBoundingSet=\n" in text


@pytest.mark.parametrize("name", SERVICES)
def test_all_run_as_the_one_user(systemd: Path, name: str) -> None:
    """One static user owns journal and run folder, so no lock file is out of another's reach."""
    service = unit(systemd, f"wetside-{name}.service")["Service"]
    assert service["User"] == service["Group"] == "wetside"
    assert "DynamicUser" not in service
    assert service["StateDirectory"] == "wetside"
    assert service["UMask"] == "0077"


def test_the_run_folder_outlives_a_restart(systemd: Path) -> None:
    """Station and desk share /run/wetside; stopping one does not take it from the other."""
    for name in ("station", "desk"):
        service = unit(systemd, f"wetside-{name}.service")["Service"]
        assert service["RuntimeDirectory"] == "wetside"
        assert service["RuntimeDirectoryPreserve"] == "yes"


def test_the_commands_in_the_units_exist(systemd: Path) -> None:
    """Every ``wetside COMMAND --option`` of a unit is one that the program has."""
    for name in ("station", "desk"):
        words = unit(systemd, f"wetside-{name}.service")["Service"]["ExecStart"].split()
        known = {option for parameter in command(words[1]).params for option in parameter.opts}
        assert {word for word in words if word.startswith("--")} <= known


def test_the_shipped_settings_are_valid(systemd: Path) -> None:
    """files/station.toml loads, and points to the folders that the units make."""
    loaded = settings.load(systemd / "files" / "station.toml")
    assert Path("/var/lib/wetside") == loaded.data_folder
    assert Path("/run/wetside") == loaded.live_folder
