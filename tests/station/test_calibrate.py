"""Correcting a probe: from ice and a thermometer to the settings and every figure after."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from wetside import settings
from wetside.__main__ import app
from wetside.devices.ds18b20 import Bus
from wetside.outlook import Setup
from wetside.readings import Place, Reading
from wetside.settings import Probe, Supplies
from wetside.sim.tree import Tree
from wetside.station.senses import Senses, probe_sd
from wetside.thermal import calibration
from wetside.thermal.estimator import begin, update
from wetside.thermal.forecast import outlook

ROM = "0316a2795e4b"
TEXT = f"""# sink by the window
station = "sink-2"  # not the one by the door
w1_folder = "FOLDER"

[[probe]]
rom = "{ROM}"  # steel tube, red tape
name = "probe"
"""


@pytest.fixture
def tree(tmp_path: Path) -> Tree:
    """The simulated kernel's tree with one probe, which reads 0.25 C high in ice."""
    made = Tree(tmp_path)
    made.add(ROM)
    made.show(ROM, 0.25)
    return made


@pytest.fixture
def file(tmp_path: Path, tree: Tree) -> Path:
    """Settings that name the probe."""
    path = tmp_path / "station.toml"
    path.write_text(TEXT.replace("FOLDER", str(tree.folder)), encoding="utf-8")
    return path


def _calibrate(file: Path, *words: str) -> tuple[int, str]:
    said = CliRunner().invoke(app, ["calibrate", "--settings", str(file), "--every", "0", *words])
    return said.exit_code, said.output


@pytest.fixture
def hands(monkeypatch: pytest.MonkeyPatch, tree: Tree) -> Callable[[float, float], None]:
    """Somebody who puts the probe where the command says, and reads the thermometer."""

    def ready(ice: float, reference: float) -> None:
        steps = iter([(ice, ""), (reference, ""), (reference, "20.0 C")])

        def answer(*_: object, **__: object) -> str:
            celsius, said = next(steps)
            tree.show(ROM, celsius)
            return said

        monkeypatch.setattr("typer.prompt", answer)

    return ready


def test_ice_and_a_thermometer_correct_the_probe_and_keep_the_file(
    file: Path, tree: Tree, hands: Callable[[float, float], None]
) -> None:
    """Both points read true afterwards; comments stay, a day and an uncertainty are written."""
    hands(0.25, 20.3125)
    code, text = _calibrate(file)
    assert 0 == code, text
    written = file.read_text(encoding="utf-8")
    for comment in ("# sink by the window", "# not the one by the door", "# steel tube, red tape"):
        assert comment in written
    (probe,) = settings.load(file).probe
    assert probe.calibrated is not None
    (answer,) = Bus(tree.folder, settings.load(file).probe).read()
    assert pytest.approx(20.0, abs=0.002) == answer.celsius
    tree.show(ROM, 0.25)
    (answer,) = Bus(tree.folder, settings.load(file).probe).read()
    assert pytest.approx(0.0, abs=0.002) == answer.celsius
    assert math.hypot(0.05, calibration.RESIDUAL_SD) < (probe.sd_celsius or 0.0) < 0.1


def test_a_dry_run_shows_the_line_and_writes_nothing(file: Path) -> None:
    """Noted readings do; the file is as it was."""
    before = file.read_bytes()
    noted = ("--ice-read", "0.25C", "--reference-read", "20.31C", "--thermometer", "68F")
    code, text = _calibrate(file, *noted, "--dry-run")
    assert 0 == code, text
    assert "true = 0.99701 x read -0.249 C" in text
    assert "Nothing is written." in text
    assert before == file.read_bytes()


@pytest.mark.parametrize(
    ("within", "promised"), [("0.1C", "±0.18 C"), ("0.2C", "±0.29 C"), ("0.3C", "±0.42 C")]
)
def test_a_thermometers_paper_is_read_as_a_probes_data_sheet_is(
    file: Path, within: str, promised: str
) -> None:
    """Even between its ends: a over the root of three; the figures of docs/calibrate.md."""
    noted = ("--ice-read", "0.25C", "--reference-read", "20.31C", "--thermometer", "20C")
    code, text = _calibrate(file, *noted, "--within", within, "--dry-run")
    assert 0 == code, text
    assert promised in text
    page = (Path(__file__).parents[2] / "docs" / "calibrate.md").read_text(encoding="utf-8")
    assert promised.removesuffix(" C") in page


def test_a_second_calibration_takes_the_first_out(
    file: Path, hands: Callable[[float, float], None]
) -> None:
    """Points are read without the correction in force, so doing it twice changes nothing."""
    hands(0.25, 20.3125)
    assert 0 == _calibrate(file)[0]
    first = settings.load(file).probe
    hands(0.25, 20.3125)
    assert 0 == _calibrate(file)[0]
    assert first == settings.load(file).probe


def test_a_probe_without_an_entry_gets_one(file: Path, tree: Tree) -> None:
    """A file that lists no probe has one afterwards, under the name that was given."""
    file.write_text(f'w1_folder = "{tree.folder}"\n', encoding="utf-8")
    tree.show(ROM, 20.25)
    noted = ("--ice-read", "0.2C", "--reference-read", "20.2C", "--thermometer", "20C")
    assert 0 == _calibrate(file, *noted, "--name", "left")[0]
    (probe,) = settings.load(file).probe
    assert (ROM, "left") == (probe.rom, probe.name)


def test_readings_noted_before_need_no_probe_but_its_rom_id(tmp_path: Path) -> None:
    """A probe in no settings and on no bus is corrected by what was noted of it."""
    file = tmp_path / "station.toml"
    file.write_text(f'w1_folder = "{tmp_path}"\n', encoding="utf-8")
    noted = ("--ice-read", "0.2C", "--reference-read", "20.2C", "--thermometer", "20C")
    assert 1 == _calibrate(file, *noted)[0]
    assert 0 == _calibrate(file, f"28-{ROM}", *noted, "--name", "left")[0]
    (probe,) = settings.load(file).probe
    assert (ROM, "left") == (probe.rom, probe.name)


@pytest.mark.parametrize(
    ("words", "code", "reason"),
    [
        (("--ice-read", "1.5C"), 1, "in ice the probe is off by 1.50 C"),
        (("--reference-read", "22C"), 1, "beside the thermometer the probe is off by 2.00 C"),
        (("--reference-read", "20.8C", "--ice-read", "-0.2C"), 1, "slope would be 0.952"),
        (("--reference-read", "9C"), 1, "at least 10 C are needed"),
        (("--thermometer", "5C"), 2, "between 10 and 60 C"),
        (("--within", "1C"), 2, "no reference"),
        (("--within", "nought"), 2, "nought"),
        (("basin",), 1, "no probe 'basin' answers"),
    ],
)
def test_impossible_values_are_refused_with_the_reason(
    file: Path, words: tuple[str, ...], code: int, reason: str
) -> None:
    """Nothing is written that would make a sound probe wrong."""
    before = file.read_bytes()
    noted = ("--ice-read=0.25C", "--reference-read=20.3C", "--thermometer=20C")
    got, text = _calibrate(file, *noted, *words)  # a later option stands for the earlier one
    assert (code, True) == (got, reason in text), text
    assert before == file.read_bytes()


def test_a_probe_on_its_way_is_no_point(
    file: Path, monkeypatch: pytest.MonkeyPatch, tree: Tree
) -> None:
    """Readings that still change ask for stirring and waiting."""
    values = iter(3.0 - 0.2 * n for n in range(20))
    monkeypatch.setattr("time.sleep", lambda _: tree.show(ROM, next(values)))
    monkeypatch.setattr("typer.prompt", lambda *_, **__: "")
    code, text = _calibrate(file, "--thermometer", "20C")
    assert 1 == code
    assert "stir and wait" in text


def test_the_uncertainty_reaches_every_figure() -> None:
    """A worse correction makes the developer's sd and the interval of the wait wider."""
    seen = []
    for sd in (0.05, 0.2):
        belief = begin(Setup(20.0, 0.3, probe_sd_celsius=sd))
        for n in range(240):
            celsius = 18.0 + 5.0 * math.exp(-n / 300)
            belief = update(
                belief, Reading(float(n), "p", round(celsius * 16) / 16, Place.DEVELOPER)
            )
        view = outlook(belief, 239.0)
        assert view.developer is not None
        assert view.ready_in.p95 is not None
        assert view.ready_in.p05 is not None
        seen.append((view.developer.sd, view.ready_in.p95 - view.ready_in.p05))
    assert 0.05 < seen[0][0] < 0.12 < 0.2 < seen[1][0]
    assert 1.5 * seen[0][1] < seen[1][1]


def test_a_probe_that_the_settings_do_not_name_spoils_the_promise() -> None:
    """A corrected probe promises ±0.3 C; a stranger on the bus takes that back."""
    known = Probe(rom=ROM, name="probe", sd_celsius=0.08)
    assert 0.08 == probe_sd([known])
    assert calibration.UNCORRECTED_SD == probe_sd([]) == probe_sd([Probe(rom=ROM, name="a")])
    senses = Senses(0.0, Setup(20.0), [known], Supplies())
    promises = []
    for seconds, name in ((1.0, "probe"), (2.0, "0000aa00bb01")):
        senses.take([Reading(seconds, name, 20.0)], seconds)
        promises.append(senses.corrected)
    assert [True, False] == promises
    assert calibration.UNCORRECTED_SD == senses.probe_sd_celsius
    assert calibration.UNCORRECTED_SD == senses.belief.story.setup.probe_sd_celsius


def test_the_ice_point_is_that_of_water() -> None:
    """The melting curve of IAPWS (R14-08, in the library iapws) meets one atmosphere at 0.00 C."""
    melting = pytest.importorskip("iapws._iapws")._Melting_Pressure
    low, high = 273.10, 273.16  # the pressure falls as ice melts warmer
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if melting(middle) > 0.101325 else (low, middle)
    # air in the water takes the last 0.0024 K
    assert pytest.approx(calibration.ICE_POINT_CELSIUS, abs=0.004) == low - 273.15
