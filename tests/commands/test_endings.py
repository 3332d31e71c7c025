"""How commands end that are stopped, or whose output cannot be written: never in a traceback."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from wetside.commands.endings import not_half_way, one_line_endings, reason

WETSIDE = [sys.executable, "-m", "wetside"]
REPLAY = ["replay", "evening.csv", "--target", "24C"]
SHEET = ["sheet", "show", "one reel 20"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a recording of ten minutes and a station's settings."""
    rows = (f"{second},p,developer,{26 - second / 300:.2f}" for second in range(600))
    (tmp_path / "evening.csv").write_text("\n".join(["seconds,probe,place,celsius", *rows]))
    (tmp_path / "station.toml").write_text(f'data_folder = "{tmp_path}"\n')
    return tmp_path


FULL = [
    ["--help"],
    ["--version"],
    REPLAY,
    SHEET,
    ["sheet", "list"],
    ["screens", "pictures", "--scale", "1"],
    ["containers", "--json", "--settings", "station.toml"],
]


@pytest.mark.parametrize("words", FULL, ids=lambda words: " ".join(words[:2]))
def test_a_full_disk_is_one_line_and_exit_1(folder: Path, words: list[str]) -> None:
    """Output that finds no room is told in one line."""
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [*WETSIDE, *words],
            cwd=folder, stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert (1, "wetside: the output cannot be written: No space left on device\n") == (
        done.returncode,
        done.stderr,
    )


@pytest.mark.parametrize("words", [REPLAY, SHEET, ["--help"]], ids=lambda words: words[0])
def test_a_closed_output_is_no_success(folder: Path, words: list[str]) -> None:
    """A command that was started without a standard output says that it wrote nothing."""
    done = subprocess.run(
        ["sh", "-c", '"$@" >&-', "sh", *WETSIDE, *words],
        cwd=folder, stderr=subprocess.PIPE, text=True, check=False,
    )  # fmt: skip
    assert (1, "wetside: the output cannot be written: Bad file descriptor\n") == (
        done.returncode,
        done.stderr,
    )


def test_a_refusal_stays_one_where_the_output_is_full(folder: Path) -> None:
    """What was asked wrongly is told with its own code, as nothing was to be written."""
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [*WETSIDE, "replay", "none.csv", "--target", "24C"],
            cwd=folder, stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert (2, "none.csv: No such file or directory\n") == (done.returncode, done.stderr)


def test_a_reader_that_leaves_ends_it_as_a_signal_would(folder: Path) -> None:
    """A pipe that is closed early gives 141, and nothing on standard error."""
    words = [*WETSIDE, *REPLAY, "--every", "1"]
    with subprocess.Popen(
        words, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        assert process.stdout.readline().startswith("{")
        process.stdout.close()
        said = process.stderr.read()
    assert (141, "") == (process.returncode, said)


def _roll_that_begins(folder: Path) -> subprocess.Popen[str]:
    """A roll at the bench that tempers by now."""
    process = subprocess.Popen(
        [*WETSIDE, "bench", "--once", "--speed", "30", "--data", str(folder / "bench")],
        cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    while "tempering-begun" not in process.stdout.readline():
        assert process.poll() is None
    return process


def test_ctrl_c_in_a_roll_at_the_bench_gives_130(folder: Path) -> None:
    """What was done so far is shown, and the exit code is that of every command."""
    with _roll_that_begins(folder) as process:
        process.send_signal(signal.SIGINT)
        said, wrong = process.communicate(timeout=60)
    assert (130, "") == (process.returncode, wrong)
    assert "temper" in said


def test_a_reader_that_leaves_a_roll_at_the_bench_ends_it(folder: Path) -> None:
    """A pipe that is closed in the roll gives 141, and nothing on standard error."""
    with _roll_that_begins(folder) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        said = process.stderr.read()
    assert (141, "") == (process.returncode, said)


@pytest.mark.parametrize("words", [SHEET, ["sheet", "list"]], ids=" ".join)
def test_letters_that_an_output_cannot_have_cost_no_figure(folder: Path, words: list[str]) -> None:
    """Where it takes ASCII alone the degree sign is a question mark, and all else is there."""
    done = subprocess.run(
        [*WETSIDE, *words],
        cwd=folder, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )  # fmt: skip
    assert (0, "") == (done.returncode, done.stderr)
    assert done.stdout.isascii()
    assert "?" in done.stdout


#: Runs the command with a Ctrl-C at the so-many-th import from its first line on, or, where that is
#: no number, when the file of that name is opened.
STOPPED = """
import runpy, signal, sys
moment, imports = sys.argv.pop(1), 0
def hook(event, arguments):
    global moment, imports
    imports += event == "import" and bool(imports or arguments[0] == "wetside.commands")
    if moment == str(imports) or event == "open" and moment == str(arguments[0]):
        moment = "over"
        signal.raise_signal(signal.SIGINT)
sys.addaudithook(hook)
runpy.run_module("wetside", run_name="__main__")
"""


@pytest.mark.parametrize("moment", ["1", "2", "5", "20", "60", "150", "300", "evening.csv"])
def test_ctrl_c_gives_130_and_no_traceback_at_any_moment(folder: Path, moment: str) -> None:
    """Also while it is still imported; before its first line it is Python that is stopped."""
    done = subprocess.run(
        [sys.executable, "-c", STOPPED, moment, *REPLAY],
        cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, check=False,
    )  # fmt: skip
    assert (130, "") == (done.returncode, done.stderr)


def test_a_file_that_cannot_be_read_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    """An error of the system that no command expects is told with its file."""
    with pytest.raises(typer.Exit) as ended, one_line_endings():
        Path("/nowhere/at/all").read_bytes()
    assert 1 == ended.value.exit_code
    assert "wetside: /nowhere/at/all: No such file or directory\n" == capsys.readouterr().err


def test_a_copy_that_finds_no_room_is_named_by_where_it_goes_to() -> None:
    """The system's error of a copy names the source first."""
    full = OSError(28, "No space left on device", "source", None, "target")
    assert "target: No space left on device" == reason(full)


def test_ctrl_c_at_a_question_is_ctrl_c() -> None:
    """A question that Ctrl-C ends gives 130; one at which the input ends is aborted as before."""
    asked = typer.Abort()
    asked.__context__ = KeyboardInterrupt()
    with pytest.raises(typer.Exit) as ended, one_line_endings():
        raise asked
    assert 130 == ended.value.exit_code
    with pytest.raises(typer.Abort), one_line_endings():
        raise typer.Abort


def test_the_exit_code_of_a_command_passes() -> None:
    """What a command ends with itself stays."""
    with pytest.raises(typer.Exit) as ended, one_line_endings():
        raise typer.Exit(2)
    assert 2 == ended.value.exit_code


def test_what_must_not_stop_half_way_is_stopped_behind_its_end() -> None:
    """Ctrl-C in the middle waits until the block is done, and then ends the command as ever."""
    done = []

    def work() -> None:
        with one_line_endings(), not_half_way():
            signal.raise_signal(signal.SIGINT)
            done.append("the rest")

    with pytest.raises(typer.Exit) as ended:
        work()
    assert (["the rest"], 130) == (done, ended.value.exit_code)
    assert signal.default_int_handler is signal.getsignal(signal.SIGINT)
