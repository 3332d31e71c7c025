"""``wetside replay``: the contract line by line, and every way to misuse it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from newton_sinks import NewtonSink
from typer.testing import CliRunner

from wetside.__main__ import app
from wetside.commands.replay import outlook_line, replay_outlooks
from wetside.outlook import Outlook, Quantiles, Setup, Temperature, Wall
from wetside.readings import Place, Reading

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "docs" / "replay.schema.json").read_text(encoding="utf-8"))
SINK = NewtonSink(start=26.0, bath=19.0, rate=1 / 300)
HEADER = "seconds,probe,place,celsius"
OPTIONS = ["--target", "20.0C", "--vessel", "steel", "--volume", "300mL"]


def recording(
    folder: Path, plan: list[tuple[str, int]], *, dirty: bool = False, told: bool = True
) -> Path:
    """File of one probe that follows a plan; with every fault the contract names, if asked."""
    rows = SINK.readings(plan, told=told)
    lines = [HEADER, *(f"{r.seconds:.1f},{r.probe},{r.place},{r.celsius}" for r in rows)]
    if dirty:
        lines[21] = "20.0,p,developer,"
        lines[31] = "30.0,p,developer,85.0"
        lines[41] = "40.0,p,developer,0.0"
        lines[51] = "50.0,p,developer,33.0"
        lines.insert(61, lines[60])
        lines.insert(71, lines[55])
        del lines[90:110]
        lines.insert(100, "100.0,q,,")
    file = folder / "evening.csv"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


def run(*arguments: str | Path) -> tuple[int, str, str]:
    """Exit code, stdout and stderr of a replay."""
    result = CliRunner().invoke(app, ["replay", *map(str, arguments)])
    return result.exit_code, result.stdout, result.stderr


@pytest.mark.parametrize("dirty", [False, True])
def test_every_line_follows_the_schema(tmp_path: Path, dirty: bool) -> None:
    """Every 5 s one JSON object of the documented form, with clean rows and with dirty ones."""
    file = recording(tmp_path, [("developer", 60), ("bath", 120)], dirty=dirty)
    code, out, err = run(file, *OPTIONS)
    assert (0, "") == (code, err)
    lines = [json.loads(line) for line in out.splitlines()]
    assert [5.0 * i for i in range(36)] == [line["seconds"] for line in lines]
    validator = Draft202012Validator(SCHEMA)
    for line in lines:
        assert [] == [error.message for error in validator.iter_errors(line)]
        ready = [line["ready_in"][name] for name in ("p05", "p50", "p95")]
        known = [value for value in ready if value is not None]
        assert sorted(known) == known


def test_only_rows_up_to_the_moment_count(tmp_path: Path) -> None:
    """A recording cut off later says the same before the cut."""
    whole = recording(tmp_path, [("developer", 40), ("bath", 100)])
    _, full, _ = run(whole, *OPTIONS)
    lines = whole.read_text(encoding="utf-8").splitlines()
    for cut in (31, 61, 101):
        part = tmp_path / "part.csv"
        part.write_text("\n".join(lines[: cut + 1]) + "\n", encoding="utf-8")
        _, said, _ = run(part, *OPTIONS)
        assert full.startswith(said)
        assert said


def test_dirt_leaves_the_forecast_near_the_clean_one(tmp_path: Path) -> None:
    """Failed, doubled, late, wild and missing rows change the last median by less than 10 %."""
    medians = []
    for dirty in (False, True):
        file = recording(tmp_path, [("developer", 200)], dirty=dirty)
        _, out, _ = run(file, *OPTIONS)
        medians.append(json.loads(out.splitlines()[-1])["ready_in"]["p50"])
    assert medians[0] == pytest.approx(medians[1], rel=0.1)


def test_faults_are_named_when_they_happen(tmp_path: Path) -> None:
    """Power-on value and wild values are rejected, an empty read failed, a gap stale."""
    file = recording(tmp_path, [("developer", 200)], dirty=True)
    _, out, _ = run(file, *OPTIONS, "--every", "1")
    named = {word for line in out.splitlines() for word in json.loads(line)["faults"]}
    assert {"failed read", "rejected", "duplicate", "late", "stale"} <= named


def test_units_are_interchangeable(tmp_path: Path) -> None:
    """68 F, 0.54 F and 10.144 fluid ounces say what 20 C, 0.3 C and 300 mL say."""
    file = recording(tmp_path, [("developer", 60)])
    _, metric, _ = run(file, "--target", "20C", "--tolerance", "0.3C", "--volume", "300mL")
    _, other, _ = run(file, "--target", "68F", "--tolerance", "0.54F", "--volume", "10.144206floz")
    ours, theirs = (
        json.loads(text.splitlines()[-1])["ready_in"]["p50"] for text in (metric, other)
    )
    assert ours == pytest.approx(theirs, rel=1e-3)


def test_text_is_for_people(tmp_path: Path) -> None:
    """One readable line for each moment, temperatures and minutes in it."""
    file = recording(tmp_path, [("developer", 60)])
    _, out, _ = run(file, *OPTIONS, "--output", "text", "--every", "30")
    lines = out.splitlines()
    assert len(lines) == 2
    assert lines[1].lstrip().startswith("0:30")
    assert "ready in" in lines[1]


def test_text_forecasts_nothing_while_nothing_is_known(tmp_path: Path) -> None:
    """A probe that hangs in the room, placed by nobody: no time and no chance in words."""
    file = recording(tmp_path, [("air", 40)], told=False)
    _, out, _ = run(file, *OPTIONS, "--output", "text", "--every", "10")
    assert out.count("no forecast yet") == len(out.splitlines()) > 2
    assert "ready" not in out
    assert "never" not in out


@pytest.mark.parametrize(
    ("rows", "place"),
    [
        ("0,p,developer,warm", "line 2"),
        ("0,p,developer,20\n1,p,kitchen,20", "line 3"),
        ("0,p,developer", "line 2"),
        ("0,p,developer,2_0", "line 2"),
        ("0,p\0,developer,20", "line 2"),
        ("", "line 2"),
    ],
)
def test_bad_rows_end_with_one_line_and_exit_2(tmp_path: Path, rows: str, place: str) -> None:
    """File, line and reason in a single line on standard error; nothing on standard output."""
    file = tmp_path / "bad.csv"
    file.write_text(f"{HEADER}\n{rows}\n", encoding="utf-8")
    code, out, err = run(file, *OPTIONS)
    assert (2, "") == (code, out)
    (line,) = err.splitlines()
    assert line.startswith(f"{file}: {place}: ")


def test_missing_file_ends_with_one_line_and_exit_2(tmp_path: Path) -> None:
    """A file that is not there is named with the system's reason."""
    code, _, err = run(tmp_path / "none.csv", *OPTIONS)
    assert code == 2
    (line,) = err.splitlines()
    assert "none.csv" in line
    assert "No such file" in line


@pytest.mark.parametrize(
    "options",
    [
        ["--target", "warm"],
        ["--target", "20K"],
        ["--target", "500C"],
        ["--target", "-5C"],
        ["--target", "20F"],
        ["--target", "20C", "--tolerance", "-0.3C"],
        ["--target", "20C", "--tolerance", "100C"],
        ["--target", "20C", "--volume", "0mL"],
        ["--target", "20C", "--volume", "10000L"],
        ["--target", "20C", "--every", "0"],
        ["--target", "20C", "--every", "nan"],
    ],
)
def test_bad_options_exit_2_with_one_line(tmp_path: Path, options: list[str]) -> None:
    """A quantity that cannot be read is named with what would be accepted."""
    file = recording(tmp_path, [("developer", 5)])
    code, out, err = run(file, *options)
    assert (2, "") == (code, out)
    assert len(err.splitlines()) == 1


def test_a_target_that_water_cannot_have_is_named(tmp_path: Path) -> None:
    """68C meant as 68F passes, as a mug may be so hot; what is no liquid water does not."""
    file = recording(tmp_path, [("developer", 5)])
    assert 0 == run(file, "--target", "68C")[0]
    assert 0 == run(file, "--target", "212F")[0]
    _, _, err = run(file, "--target", "240F")
    assert "--target 240F: a developer is water, between 0C and 100C (32F and 212F)\n" == err


def test_documented_example_is_what_comes_out(tmp_path: Path) -> None:
    """The page about replay shows a line that follows the schema it points to."""
    page = (ROOT / "docs" / "replay.md").read_text(encoding="utf-8")
    block = page.split("```json\n")[1].split("```")[0]
    Draft202012Validator(SCHEMA).validate(json.loads(block))
    assert HEADER in page
    assert "replay.schema.json" in page


@pytest.mark.parametrize("nothing", ["", "   ", ",,,", " , , , "])
def test_a_row_in_which_nothing_stands_is_passed_over(tmp_path: Path, nothing: str) -> None:
    """As a table program leaves them at the end of a sheet."""
    file = tmp_path / "rows.csv"
    row = "0,p,developer,20"
    file.write_text(f"{HEADER}\n{row}\n{nothing}\n1,p,developer,20\n", encoding="utf-8")
    code, out, err = run(file, "--target", "20C", "--every", "1")
    assert (0, "", 2) == (code, err, len(out.splitlines()))


@pytest.mark.parametrize(("target", "asks"), [("24C", False), ("68F", False), ("68", True)])
def test_a_target_that_looks_like_fahrenheit_is_asked_about(
    tmp_path: Path, target: str, asks: bool
) -> None:
    """It is taken as it stands; the question goes to the standard error, not into the answers."""
    code, out, err = run(recording(tmp_path, [("developer", 30)]), "--target", target)
    assert (0, asks) == (code, "--target: taken as 68 C" in err)
    assert all(json.loads(line) for line in out.splitlines())


@pytest.mark.parametrize(("again", "asks"), [(0, False), (4, False), (30, True)])
def test_seconds_that_start_again_are_asked_about(tmp_path: Path, again: int, asks: bool) -> None:
    """A few late rows are dirt; many in a row are a second recording, which is not played."""
    file = recording(tmp_path, [("developer", 100)])
    rows = (f"{second}.0,p,developer,20.0" for second in range(again))
    file.write_text("\n".join([file.read_text(encoding="utf-8").rstrip(), *rows]), "utf-8")
    code, out, err = run(file, *OPTIONS)
    assert (0, asks) == (code, "did its seconds start again?" in err)
    assert json.loads(out.splitlines()[-1])["seconds"] == 95.0


def test_a_recording_that_looks_like_fahrenheit_is_asked_about(tmp_path: Path) -> None:
    """Room and water of 70 are no degrees Celsius."""
    file = tmp_path / "f.csv"
    rows = (f"{i},p,developer,{72.0 - 0.02 * i:.2f}" for i in range(30))
    file.write_text("\n".join([HEADER, *rows]), encoding="utf-8")
    code, _, err = run(file, "--target", "20C")
    assert (0, True) == (code, "the recording: taken as C" in err)


def test_text_never_says_ready_and_never_in_one_line() -> None:
    """A developer at the edge of its window is ready with a probability, or not yet."""
    inside = Outlook(
        585.0,
        Temperature(20.3, 0.1),
        None,
        Quantiles(0.0, 0.0, 0.0),
        Quantiles(3.0, 21.0, 54.0),
        0.6,
    )
    assert outlook_line(inside).endswith("ready with 40%, for 0:21 (0:03 to 0:54)")
    coming = replace(inside, ready_in=Quantiles(60.0, 90.0, 120.0), never=0.35)
    assert outlook_line(coming).endswith("if at all: 35% it never gets there")
    edge = replace(inside, ready_in=Quantiles(0.0, None, None))
    assert outlook_line(edge).endswith("perhaps ready: 60% it is not and never gets there")


@pytest.mark.parametrize("late", [-3, 3, 6])
def test_a_place_that_was_noted_some_seconds_off_spoils_nothing(late: int) -> None:
    """A dip and a check dip, two seconds through the air each time: the readings say when.

    Against Newton's law: a label that is off gives the developer as the right one does.
    """
    dip, through, again = ("developer", 30), ("air", 2), ("developer", 25)
    rows = SINK.readings([dip, through, ("bath", 120), through, again, through, ("bath", 60)])
    edges = {0: Place.DEVELOPER, 30: Place.BATH, 154: Place.DEVELOPER, 181: Place.BATH}

    def noted(reading: Reading) -> Reading:
        place = [place for at, place in edges.items() if at == 0 or reading.seconds >= at + late]
        return replace(reading, place=place[-1])

    setup = Setup(20.0, 0.3, Wall.STEEL, 300.0)
    for said in list(replay_outlooks([noted(row) for row in rows], setup, 30.0))[2:]:
        assert said.developer is not None
        truth = SINK.developer(said.seconds)
        assert abs(said.developer.celsius - truth) < max(0.15, 2.0 * said.developer.sd)
        assert said.never < 0.1


def test_places_may_be_written_in_capitals(tmp_path: Path) -> None:
    """`Developer` is the developer."""
    small = recording(tmp_path, [("developer", 40), ("bath", 40)])
    _, said, _ = run(small, *OPTIONS)
    small.write_text(
        small.read_text("utf-8").replace(",developer,", ",Developer,").replace(",bath,", ",BATH,"),
        encoding="utf-8",
    )
    assert (0, said) == run(small, *OPTIONS)[:2]
