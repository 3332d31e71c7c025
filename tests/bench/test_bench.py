"""The bench: a whole roll on the real libraries, deterministic, with its faults and refusals."""

from __future__ import annotations

import io
import socket
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from rich.console import Console
from typer.testing import CliRunner

from wetside.__main__ import app
from wetside.commands.bench.braille import braille
from wetside.commands.bench.command import Watch
from wetside.commands.bench.desk import DeskProcess
from wetside.commands.bench.rig import Rig, RigOptions
from wetside.commands.bench.terminal import Terminal
from wetside.development.bells import Weekday
from wetside.journal.reader import Reader
from wetside.session import record
from wetside.session import sheet as sheets
from wetside.session.run import State
from wetside.sim.faults import parse
from wetside.sim.scripts import script
from wetside.sim.situation import Arrangement, usual

SHIPPED = sheets.load(sheets.available([sheets.shipped_folder()])[0])


def _rig(
    folder: Path,
    seed: int = 1,
    student: str = "scripted",
    *faults: str,
    on_live: Callable[[Mapping[str, object]], None] | None = None,
) -> Rig:
    situation = usual(SHIPPED.setup(), seed, Arrangement.DEVELOPER)
    situation = replace(situation, faults=tuple(parse(text) for text in faults))
    return Rig(
        RigOptions(folder, SHIPPED, situation, script(student, Arrangement.DEVELOPER), seed=seed),
        on_live=on_live,
    )


def _roll(folder: Path, seed: int = 1, student: str = "scripted", *faults: str) -> str:
    """Take a roll through; the state it ended in."""
    rig = _rig(folder, seed, student, *faults)
    try:
        summary = rig.run_roll()
    finally:
        rig.close()
    assert summary is not None
    return summary.state


def _content(folder: Path) -> dict[str, Any]:
    """Everything of the journal but wall times and ids."""
    with Reader(folder / "journal.sqlite") as reader:
        (row,) = reader.runs().rows
        return {
            "row": (row.state, row.flags, row.poured_celsius, row.actual_develop_seconds),
            "events": [
                (one.moment.seconds, one.kind, {**one.detail, "run": None})
                for one in reader.events(row.id)
            ],
            "samples": [
                (one.moment.seconds, one.probe, one.place, one.celsius, one.condition)
                for one in reader.samples(row.id)
            ],
            "forecasts": [(one.moment.seconds, one.outlook) for one in reader.forecasts(row.id)],
        }


@pytest.mark.slow
def test_the_same_seed_gives_the_same_journal(tmp_path: Path) -> None:
    """Two benches of one seed differ in wall times and ids only; another seed differs."""
    for name, seed in (("one", 1), ("two", 1), ("other", 2)):
        assert State.FINISHED == _roll(tmp_path / name, seed)
    first = _content(tmp_path / "one")
    assert first["samples"]
    assert first["forecasts"]
    assert first == _content(tmp_path / "two")
    assert first["samples"] != _content(tmp_path / "other")["samples"]


@pytest.mark.slow
def test_a_roll_goes_through_with_everything_broken_for_a_while(tmp_path: Path) -> None:
    """Probe unplugged, bus gone, display lost, buttons bouncing: the film hangs all the same."""
    faults = (
        "unplug probe 60 40",
        "bus-gone 150 15",
        "power-on probe 200 5",
        "bad-crc probe 0 3000 0.1",
        "display-lost 220 60",
        "bounce 0 4000 4",
    )
    assert State.FINISHED == _roll(tmp_path, 1, "scripted", *faults)
    content = _content(tmp_path)
    seen = {
        detail["condition"] for _, kind, detail in content["events"] if kind == "probe-condition"
    }
    assert {"failed read", "probe vanished", "bus gone", "power-on value", "fine"} <= seen
    assert "display-fault" in {kind for _, kind, _ in content["events"]}
    late = [
        detail["late_seconds"]
        for _, _, detail in content["events"]
        if "late_seconds" in detail and detail.get("cue") in {"agitate", "rest", "drain"}
    ]
    assert late
    assert max(late) == 0.0


@pytest.mark.slow
def test_a_late_student_is_recorded_as_late(tmp_path: Path) -> None:
    """What came late is flagged, and each step lasted as long as it did."""
    assert State.FINISHED == _roll(tmp_path, 1, "late")
    flags = _content(tmp_path)["row"][1]
    assert [flag for flag in flags if flag.startswith("late-")]


def test_an_open_roll_of_a_stopped_bench_is_given_up(tmp_path: Path) -> None:
    """A bench that was stopped in a roll leaves a run that the next bench closes."""
    rig = _rig(tmp_path)
    rig.student.begin()
    rig.turn_until(lambda: rig.station.session.state is State.TEMPERING)
    rig.close()
    _rig(tmp_path).close()
    with Reader(tmp_path / "journal.sqlite") as reader:
        (row,) = reader.runs().rows
    assert ("abandoned", ("power-lost",)) == (row.state, row.flags)


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (["--speed", "warp"], "max or a number"),
        (["--sheet", "no such"], "no sheet of that name"),
        (["--student", "nobody there"], "no student"),
        (["--fault", "flood 1 2"], "no kind"),
        (["--bath", "99C"], "between 2 and 60"),
        (["--bath", "warm"], "temperature"),
        (["--student", "me", "--speed", "max"], "a person cannot"),
    ],
)
def test_wrong_words_end_with_2_and_a_reason(words: list[str], reason: str, tmp_path: Path) -> None:
    """Whatever is asked wrongly, the command says what would be right, without a traceback."""
    result = CliRunner().invoke(app, ["bench", "--once", "--data", str(tmp_path), *words])
    assert 2 == result.exit_code
    assert reason in result.output


def test_a_desk_that_ends_by_itself_is_told_once(tmp_path: Path) -> None:
    """Killed beside a bench that goes on: one line, with the file that holds its last words."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    rig = _rig(tmp_path / "data")
    console = Console(record=True, width=300, file=io.StringIO())
    terminal = Terminal(console, rig.world.truth)
    try:
        with DeskProcess(tmp_path / "journal.sqlite", tmp_path / "live.json", port) as desk:
            watch = Watch(desk, terminal)
            watch.live({})
            assert "" == console.export_text(clear=False)
            assert desk._process is not None
            desk._process.kill()
            desk._process.wait()
            watch.live({})
            watch.live({})
        (line,) = console.export_text().splitlines()
    finally:
        rig.close()
    assert line.startswith("desk   ended by itself (signal 9)")
    assert str(tmp_path / "desk.log") in line


def test_braille_shows_each_pixel_once() -> None:
    """Eight pixels make a character; a lit pixel is a raised dot."""
    picture = Image.new("1", (4, 4))
    picture.putpixel((0, 0), 1)
    picture.putpixel((3, 3), 1)
    assert ["⠁⢀"] == braille(picture)


def _one_event(folder: Path, kind: str) -> dict[str, Any]:
    (detail,) = [detail for _, name, detail in _content(folder)["events"] if name == kind]
    found: dict[str, Any] = detail
    return found


@pytest.mark.slow
def test_a_hurried_student_pours_before_the_window_with_the_laws_time(tmp_path: Path) -> None:
    """The choice is shown at a press, a long press pours, and the log keeps both and the effect.

    The time is the sheet's table at the temperature that was believed, worked out anew here.
    """
    shown: list[Any] = []
    rig = _rig(tmp_path, 1, "hurried", on_live=shown.append)
    summary = rig.run_roll()
    rig.close()
    assert summary is not None
    assert (State.FINISHED, False, "pour now") == (
        summary.state,
        summary.window_hit,
        summary.chosen,
    )
    now = next(d for _, kind, d in _content(tmp_path)["events"] if kind == "now")
    assert 21.0 < now["developer_celsius"] < 22.0
    share = (1 / (273.15 + now["developer_celsius"]) - 1 / 294.15) / (1 / 295.15 - 1 / 294.15)
    by_hand = 390.0 * (360.0 / 390.0) ** share + 10.0
    assert now["develop_seconds"] == summary.steps[1].planned_seconds
    assert now["develop_seconds"] == pytest.approx(by_hand, abs=0.6)  # told in whole seconds
    assert _one_event(tmp_path, "choice-shown")["pour"]["refused"] is None
    effect = _one_event(tmp_path, "effective-development")
    assert summary.effective_text == effect["text"]
    assert 95.0 < effect["percent"] < 105.0
    assert any(values["choice"] for values in shown)
    assert shown[-1]["effective"] == {
        key: effect[key] for key in ("percent", "low", "high", "text")
    }
    with Reader(tmp_path / "journal.sqlite") as reader:
        (row,) = reader.runs().rows
        session = record.rebuild((one.kind, one.detail) for one in reader.events(row.id))
    assert session == rig.station.session


@pytest.mark.slow
def test_a_warm_rooms_end_follows_the_tank(tmp_path: Path) -> None:
    """A tank at 20 around a developer of 24: the end moves later and development is nominal."""
    warm = sheets.load(sheets.shipped_folder() / "warm-room-24.toml")
    situation = usual(warm.setup(), 1, Arrangement.DEVELOPER)
    situation = replace(situation, sink=replace(situation.sink, room_celsius=20.0))
    student = script("scripted", Arrangement.DEVELOPER)
    rig = Rig(RigOptions(tmp_path, warm, situation, student))
    summary = rig.run_roll()
    rig.close()
    assert summary is not None
    moved = _one_event(tmp_path, "end-moved")
    assert 340.0 == moved["before_seconds"]
    assert 345.0 <= moved["develop_seconds"] == summary.steps[1].planned_seconds
    assert 98.0 <= _one_event(tmp_path, "effective-development")["percent"] <= 103.0
    assert "end-moved" in summary.flags


@pytest.mark.slow
def test_the_bell_is_in_the_live_file_and_on_the_display(tmp_path: Path) -> None:
    """A period that is always on: start-by before the pour, and what may be left after it."""
    bells = tmp_path / "bells.toml"
    days = ", ".join(f'"{day}"' for day in Weekday)
    bells.write_text(
        f'format = 1\n[[period]]\nname = "all"\ndays = [{days}]\n'
        "starts = 00:00:00\nends = 23:59:59\n",
        encoding="utf-8",
    )
    situation = usual(SHIPPED.setup(), 1, Arrangement.DEVELOPER)
    shown: list[Any] = []
    rig = Rig(
        RigOptions(
            tmp_path / "data",
            SHIPPED,
            situation,
            script("scripted", Arrangement.DEVELOPER),
            bells_file=bells,
        ),
        on_live=shown.append,
    )
    # late in the evening of any day, so that the bell at midnight is less than two hours away
    evening = datetime.now().astimezone().replace(hour=22, minute=20, second=0)
    rig.clock.jump_wall(evening.timestamp() - rig.clock.moment().wall_seconds)
    rig.run_roll()
    rig.close()
    before = next(values["bell"] for values in shown if values["state"] == "tempering")
    assert before["known"] is True
    assert before["start_by"][11:13] == "23"
    assert "start developing by 23:" in before["text"]
    assert any("start by 23:" in values["screen"]["text"] for values in shown)
    washing = [v["bell"] for v in shown if v["step"] and v["step"]["kind"] == "wash"]
    assert {"hang"} == {bell["at_bell"] for bell in washing}


def test_pour_early_and_a_bad_bell_table_are_checked_first(tmp_path: Path) -> None:
    """What contradicts itself, or cannot be read, ends with 2 and a reason."""
    bad = tmp_path / "bells.toml"
    bad.write_text("format = 1\n", encoding="utf-8")
    for words, reason in (
        (["--pour-early", "--student", "late"], "--pour-early is the student hurried"),
        (["--bells", str(bad)], f"{bad}: period: is missing"),
        (["--bells", str(tmp_path / "none.toml")], "cannot be read"),
    ):
        result = CliRunner().invoke(app, ["bench", "--once", "--data", str(tmp_path), *words])
        assert 2 == result.exit_code
        assert reason in result.output
