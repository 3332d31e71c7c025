"""The benchmark's command line, run as people run it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import probe_out
import pytest
import ready_truth
from forecast import cases, measured, plain

#: A sink whose room is a few kelvin off its developer.
LIFTED_SEED = 441
RUN = Path(__file__).parent / "forecast" / "run.py"


def _run(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(RUN), *arguments], cwd=cwd, capture_output=True, text=True, check=False
    )


def test_run_writes_table_scores_records_and_picture(tmp_path: Path) -> None:
    """One sink with three methods gives a table, scores, a record per question and a PNG."""
    done = _run(
        "--seeds=1", "--start=1", "--arrangements=developer", "--no-cache", "--out=out",
        "--methods=wetside,straight line,bound", cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "tuning seeds" in done.stdout
    scores = json.loads((tmp_path / "out/scores.json").read_text(encoding="utf-8"))
    assert ["wetside", "straight line", "bound"] == [line["method"] for line in scores["lines"]]
    records = (tmp_path / "out/records.jsonl").read_text(encoding="utf-8").splitlines()
    assert 9 == len(records)
    assert (tmp_path / "out/forecast.png").read_bytes().startswith(b"\x89PNG")


def test_unknown_method_is_refused(tmp_path: Path) -> None:
    """A misspelt method ends with status 2 and names those that there are."""
    done = _run("--methods=strait line", cwd=tmp_path)
    assert done.returncode == 2
    assert "straight line" in done.stderr


def test_mug_crosses_60_degrees_when_its_table_says() -> None:
    """The crossing of 60.3 C lies between the rows of mosaicData's mug that stand around it."""
    seconds, celsius = measured.load("CoolingWater")["liquid"]
    found = measured.crossing(seconds, celsius, 60.0, 0.3)
    assert found is not None
    before = int(found // 60)
    assert celsius[before - 1] >= 60.3 - 0.2
    assert celsius[before + 2] <= 60.3 + 0.2


def test_every_target_is_crossed_in_its_series(measured_data: Path) -> None:
    """Each stretch of measured data crosses all the temperatures that are asked of it."""
    assert measured_data.is_dir()
    for series in measured.SERIES:
        seconds, celsius = measured.load(series.name)[series.liquid]
        kept = (seconds >= series.begin) & (seconds < series.end)
        for target in series.targets:
            wait = measured.crossing(seconds[kept] - series.begin, celsius[kept], target, 0.3)
            assert wait, (series.name, target)


def test_hidden_series_shows_the_liquid_only_while_dipped(measured_data: Path) -> None:
    """The fermenter's liquid is shown for 200 s, then only the air around it."""
    assert measured_data.is_dir()
    series = next(s for s in measured.SERIES if s.dip_seconds)
    rows = measured.recording(series, measured.load(series.name))
    assert all((r.seconds < 200) == (r.place == "developer") for r in rows)
    assert {"probe1"} == {r.probe for r in rows}


def test_crossing_is_interpolated() -> None:
    """A straight fall of 1 C a minute from 70 C meets 60.3 C after 9.7 minutes."""
    seconds = np.arange(0.0, 1800.0, 60.0)
    found = measured.crossing(seconds, 70.0 - seconds / 60.0, 60.0, 0.3)
    assert pytest.approx(9.7 * 60) == found


def test_plain_sinks_are_scored_beside_the_simple_methods(tmp_path: Path) -> None:
    """One plain sink gives a line for wetside in each arrangement and two for simple methods."""
    command = [sys.executable, str(RUN.with_name("plain.py")), "--seeds=1", "--start=3"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert 3 == sum(" wetside " in line for line in lines)
    assert 2 == sum(line.startswith("developer    ") and "%" in line for line in lines) - 1


def test_a_plain_sink_is_ready_when_its_developer_is() -> None:
    """The moment that answers are scored by is the first inside the band, on the told setup."""
    sink = plain.draw(5)
    setup = sink.setup
    off = [abs(celsius - setup.target_celsius) for celsius in sink.developer]
    assert off[sink.ready_at] <= setup.tolerance_celsius < off[sink.ready_at - 1]
    assert all(each > setup.tolerance_celsius for each in off[: sink.ready_at])


def test_ready_is_judged_by_the_true_developer() -> None:
    """One roll of the bench gives how far outside the true developer was at READY."""
    outcome = ready_truth.roll((500, "developer"))
    assert outcome is not None
    outside, error = outcome
    assert -0.31 < outside < 0.2
    assert 0.0 < abs(error) < 0.5


def test_a_probe_that_slips_out_is_told_from_one_that_stays() -> None:
    """The lift of one benchmark sink is noticed while it lasts, and nothing without a lift."""
    plan, path, ready, _ = cases.settle(LIFTED_SEED)
    assert ready is not None
    out = range(int(0.4 * ready), int(0.4 * ready) + 60)
    times = probe_out._believed_out(plan, probe_out._readings(plan, path, LIFTED_SEED, out))
    assert times
    assert out.start <= times[0] < out.stop
    stays = range(out.stop, out.stop)
    assert not probe_out._believed_out(plan, probe_out._readings(plan, path, LIFTED_SEED, stays))


def test_a_roll_whose_presses_come_ten_seconds_late_still_gets_ready() -> None:
    """Said 10 s after each move where the probe is, READY is called and the developer is there."""
    outcome = ready_truth.roll((500, "bath"), press_late=10.0)
    assert outcome is not None
    assert outcome[0] < 0.2
