"""The installer's lines in a Raspberry Pi's config.txt."""

from __future__ import annotations

import tomllib
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st

USUAL = """# For more options and information see
# http://rptl.io/configtxt
dtparam=audio=on
#dtparam=i2c_arm=on
[cm4]
otg_mode=1

[pi5]
dtparam=rtc_bbat_vchg=3000000
"""


def test_the_lines_stand_once_and_for_all_boards(boot_config: ModuleType) -> None:
    """The block comes after the owner's lines and opens the section [all]."""
    text = boot_config.with_block(USUAL, clock=False)
    assert text.startswith(USUAL.rstrip("\n"))
    after = text.split("[pi5]")[1]
    assert after.index("[all]") < after.index("dtoverlay=w1-gpio,gpiopin=4")
    assert "dtparam=i2c_arm=on,i2c_arm_baudrate=400000" in after
    assert "i2c-rtc" not in text
    assert boot_config.with_block(text, clock=False) == text


def test_the_clock_is_added_and_stays(boot_config: ModuleType, tmp_path: Path) -> None:
    """``--clock`` adds the chip's line, and a later run without it keeps the line."""
    file = tmp_path / "config.txt"
    file.write_text(USUAL, encoding="utf-8")
    assert boot_config.main(["on", str(file), "--clock"]) == 0
    assert boot_config.main(["on", str(file)]) == 0
    assert file.read_text(encoding="utf-8").count("dtoverlay=i2c-rtc,ds3231") == 1


@given(st.text(alphabet=st.characters(codec="ascii", exclude_characters="\r\x0b\x0c\x1c\x1d\x1e")))
def test_off_undoes_on(boot_config: ModuleType, text: str) -> None:
    """Whatever the file held, on and then off leaves its lines as they were."""
    back = boot_config.without_block(boot_config.with_block(text, clock=True))
    assert text.rstrip("\n") == back.rstrip("\n")


def test_the_first_state_is_kept(
    boot_config: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The file as it was before the first change is kept beside it, also after many runs."""
    file = tmp_path / "config.txt"
    file.write_text(USUAL, encoding="utf-8")
    answers = []
    for action in ("on", "on", "off", "off", "on"):
        assert boot_config.main([action, str(file)]) == 0
        answers.append(capsys.readouterr().out.strip())
    assert answers == ["changed", "unchanged", "changed", "unchanged", "changed"]
    kept = tmp_path / "config.txt.before-wetside"
    assert kept.read_text(encoding="utf-8") == USUAL


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("dtoverlay=w1-gpio", False),
        ("dtoverlay=w1-gpio,gpiopin=4", False),
        ("dtoverlay=w1-gpio,gpiopin=17", True),
        ("dtoverlay=w1-gpio-pullup,gpiopin=4", True),
        ("# dtoverlay=w1-gpio,gpiopin=17", False),
        ("dtparam=i2c_arm=off", True),
    ],
)
def test_contradictions_are_told(boot_config: ModuleType, line: str, *, told: bool) -> None:
    """A line of the owner that works against the station is named; a harmless one is not."""
    assert told == bool(boot_config.conflicts(f"{USUAL}{line}\n"))


def test_a_missing_file_is_an_answer(
    boot_config: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without the file the command says so and exits 1."""
    assert boot_config.main(["on", str(tmp_path / "config.txt")]) == 1
    assert "cannot be changed" in capsys.readouterr().err


def test_the_pin_is_the_wired_one(boot_config: ModuleType, systemd: Path) -> None:
    """The overlay's pin is the one of hardware/wiring.toml."""
    file = systemd.parent / "hardware" / "wiring.toml"
    wiring = tomllib.loads(file.read_text(encoding="utf-8"))
    assert wiring["station"]["one_wire_gpio"] == boot_config.ONE_WIRE_GPIO
