"""What finished runs teach about a container, from the journal to the next run's prior."""

from __future__ import annotations

import json
import math
import os
from dataclasses import replace
from pathlib import Path

import pytest
from newton_sinks import NewtonSink
from typer.testing import CliRunner

from wetside.__main__ import app
from wetside.clock import Moment
from wetside.journal.writer import Writer
from wetside.outlook import Setup, Wall
from wetside.readings import Reading
from wetside.session import machine, record
from wetside.session.events import Event, Kind
from wetside.session.machine import due
from wetside.session.run import Session, State
from wetside.session.sheet import Sheet
from wetside.settings import Supplies
from wetside.sim.clock import VirtualClock
from wetside.station import containers
from wetside.station.containers import Container, Studied
from wetside.station.rows import run_row
from wetside.station.senses import Senses
from wetside.station.study import AFTER_SECONDS, StudyRoom, study
from wetside.thermal.learning import Evidence

RATE = 1 / 150
POUR = 400.0
STATION = "sink-1"


def _finish(writer: Writer, sheet: Sheet, run: str, rows: list[Reading], at: float) -> None:
    """A whole finished run with these readings, beginning at ``at`` seconds of the boot."""
    boot = 1_790_000_000.0

    def moment(seconds: float) -> Moment:
        return Moment(at + seconds, boot + at + seconds, True, "one")

    events = [record.begin(0.0, run, sheet), Event(Kind.ENTERED, POUR - 10), Event(Kind.NOW, POUR)]
    session = Session()
    for event in events[:2]:
        session, _ = machine.receive(session, event)
        row = run_row(session, STATION, moment(0), moment(event.seconds))
        writer.append(moment(event.seconds), str(event.kind), record.encode(event), run, row)
    for reading in rows:
        writer.sample(
            moment(reading.seconds), [replace(reading, seconds=at + reading.seconds)], run
        )
    now = events[2]
    while True:
        session, _ = machine.receive(session, now)
        row = run_row(session, STATION, moment(0), moment(now.seconds))
        writer.append(moment(now.seconds), str(now.kind), record.encode(now), run, row)
        if session.state is State.FINISHED:
            return
        coming = due(session, 100_000.0)
        now = (
            coming
            if coming is not None and coming.kind is not Kind.LATE_DUE
            else Event(Kind.NOW, now.seconds + 1.0)
        )


@pytest.fixture(autouse=True)
def niceness(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """What the command asks of the system; granted, it would hold for all tests that follow."""
    asked: list[int] = []
    monkeypatch.setattr(os, "nice", asked.append)
    return asked


@pytest.fixture
def house(tmp_path: Path, small_sheet: Sheet) -> Path:
    """A data folder with two finished runs of one container, and settings beside it."""
    target = small_sheet.setup().target_celsius
    with Writer(tmp_path / "journal.sqlite", STATION) as writer:
        for number, start in enumerate((7.0, -6.0)):
            sink = NewtonSink(target + start, target - 0.1 * start, RATE, seed=number)
            dips = [("developer", 30), ("bath", 190), ("developer", int(POUR) - 220)]
            rows = sink.readings(dips)
            _finish(writer, small_sheet, f"01RUN{number}", rows, 10_000.0 * (number + 1))
    (tmp_path / "station.toml").write_text(
        f'station = "{STATION}"\ndata_folder = "{tmp_path}"\nlive_folder = "{tmp_path}"\n',
        encoding="utf-8",
    )
    return tmp_path


def _wetside(house: Path, *words: str) -> tuple[int, str]:
    said = CliRunner().invoke(
        app, ["containers", *words, "--settings", str(house / "station.toml")]
    )
    return said.exit_code, said.output


def test_finished_runs_move_the_next_runs_prior_to_the_container(
    house: Path, small_sheet: Sheet
) -> None:
    """Two runs with a fast container make the next run expect one; each counts once."""
    ledger, setup = house / "containers.json", small_sheet.setup()
    assert containers.prior_of(containers.read(ledger), setup) is None
    assert 2 == study(house / "journal.sqlite", ledger, STATION)
    assert 0 == study(house / "journal.sqlite", ledger, STATION)
    assert 0 == study(house / "journal.sqlite", ledger, "another")
    prior = containers.prior_of(containers.read(ledger), setup)
    assert prior is not None
    assert 2 == prior.runs
    bare = containers.container_of(setup).bare
    assert prior.log_coupling_sd < bare.log_coupling_sd
    assert abs(prior.log_coupling - math.log(RATE)) < abs(bare.log_coupling - math.log(RATE))
    senses = Senses(
        0.0, setup, (), Supplies(), lambda one: containers.prior_of(containers.read(ledger), one)
    )
    assert prior == senses.belief.story.prior
    other = replace(setup, wall=Wall.STEEL, volume_millilitres=900.0)
    assert containers.prior_of(containers.read(ledger), other) is None


def test_the_command_shows_the_numbers_and_forgets(
    house: Path, small_sheet: Sheet, niceness: list[int]
) -> None:
    """K with its spread, runs and last day; a reset container has none and stays forgotten."""
    assert (0, "2 runs studied\n") == _wetside(house, "study")
    assert [19] == niceness  # the station comes first
    code, text = _wetside(house, "--json")
    (shown,) = json.loads(text)
    name = containers.container_of(small_sheet.setup()).name
    assert (0, name, 2, 2) == (code, shown["container"], shown["runs"], shown["looked_at"])
    assert shown["factor"] < shown["bare_factor"]
    assert 0.7 < shown["per_minute"] / (60 * RATE) < 1.3
    assert name in _wetside(house)[1]
    assert 2 == _wetside(house, "reset", "teapot")[0]
    assert 2 == _wetside(house, "reset")[0]
    assert (0, f"forgotten: {name}\n") == _wetside(house, "reset", name)
    (shown,) = json.loads(_wetside(house, "--json")[1])
    assert (0, 2) == (shown["runs"], shown["looked_at"])
    assert shown["per_minute"] == shown["bare_per_minute"]
    assert (0, "0 runs studied\n") == _wetside(house, "study")


def test_settings_may_be_named_before_the_subcommand(house: Path) -> None:
    """What --settings of the whole command names holds for study and reset too."""
    words = ["containers", "--settings", str(house / "station.toml")]
    said = CliRunner().invoke(app, [*words, "study"])
    assert (0, "2 runs studied\n") == (said.exit_code, said.output)
    said = CliRunner().invoke(app, [*words, "reset", "--all"])
    assert (0, "forgotten: all containers\n") == (said.exit_code, said.output)
    assert all(one.evidence is None for one in containers.read(house / "containers.json"))


def test_what_root_makes_belongs_to_the_owner_of_the_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A lock and a first file made with sudo do not keep the station's own user out."""
    given: list[tuple[str, int, int]] = []

    def chown(path: Path, user: int, group: int, *, follow_symlinks: bool) -> None:
        assert not follow_symlinks
        given.append((Path(path).suffix, user, group))

    monkeypatch.setattr(os, "geteuid", lambda: 0)
    monkeypatch.setattr(os, "chown", chown)
    file = tmp_path / "containers.json"
    with containers.held(file):
        containers.write(file, ())
    there = tmp_path.stat()
    assert (".lock", there.st_uid, there.st_gid) == given[0]
    assert 2 == len(given)


def test_a_reset_also_forgets_what_was_not_studied_yet(house: Path, small_sheet: Sheet) -> None:
    """Runs that wait in the journal do not bring back what somebody wants forgotten."""
    assert 0 == _wetside(house, "reset", "--all")[0]
    ledger = house / "containers.json"
    assert 0 == study(house / "journal.sqlite", ledger, STATION)
    assert containers.prior_of(containers.read(ledger), small_sheet.setup()) is None


_NO_RUN = '{"format": 1, "runs": [{"run": "a", "day": "", "millilitres": 1, %s}]}'


def test_a_process_of_its_own_studies_once_no_run_is_open(house: Path) -> None:
    """While a run is open nothing is started; after it, the file is there."""
    clock = VirtualClock()
    room = StudyRoom(clock, house / "station.toml")
    ledger = house / "containers.json"
    clock.run_for(60.0)
    started = []
    for state in (State.RUNNING, State.FINISHED, State.FINISHED):
        room.saw(str(state))
        started.append(room._process is not None)
        clock.run_for(AFTER_SECONDS)
    assert [False, False, True] == started
    assert room._process is None or 0 == room._process.wait(60)
    assert 2 == len(containers.read(ledger))
    room.close()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        pytest.param("[" * 100_000, id="nested too deep"),
        '{"format": 2, "runs": []}',
        '{"format": 1, "runs": [{"run": "a"}]}',
        _NO_RUN % '"wall": "tin", "told": null',
        _NO_RUN % '"wall": null, "told": 1',
        _NO_RUN % '"wall": null, "told": [NaN, 0.1]',
    ],
)
def test_a_broken_file_is_as_good_as_none(tmp_path: Path, text: str) -> None:
    """The station tempers with the bare physics, and the next study begins anew."""
    file = tmp_path / "containers.json"
    file.write_text(text, encoding="utf-8")
    assert () == containers.read(file)


def test_the_file_holds_what_was_written(tmp_path: Path) -> None:
    """Only the latest runs are kept, and a container of which nothing is said has a name too."""
    runs = tuple(
        Studied(f"{n:05d}", Container(), "2026-01-02", Evidence(-7.0, 0.25))
        for n in range(containers.RUNS_KEPT + 5)
    )
    containers.write(tmp_path / "containers.json", runs)
    assert runs[5:] == containers.read(tmp_path / "containers.json")
    assert "unnamed" == containers.container_of(Setup(20.0)).name
    assert "glass 600 mL" == Container(Wall.GLASS, 600.0).name
    assert containers.RUNS_COUNTED == len(containers.told_by(runs, Container()))
