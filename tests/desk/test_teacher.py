"""What the teacher does with runs: search, judge, label, explain, export, back up."""

from __future__ import annotations

import csv
import io
import json
import re
import time
import zipfile
from typing import TYPE_CHECKING

import pytest
from prometheus_client.parser import text_string_to_metric_families

from wetside.journal.reader import Reader
from wetside_desk import backup, causes, diagnosis
from wetside_desk.caretaker import Caretaker, address_of
from wetside_desk.charts import bars, series, svg
from wetside_desk.charts.series import Chart, Line
from wetside_desk.evidence import Facts, Weighs
from wetside_desk.review import review
from wetside_desk.settings import DeskSettings
from wetside_desk.store import accounts, audit, labels, notes, periods, preferences
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient
    from tests.desk.invented import Story, local, tell_alone, write_live
else:
    from desk_invented import Story, local, tell_alone, write_live


def ids_of(client: TestClient) -> list[str]:
    """Ids of all runs, latest first."""
    return [run["id"] for run in client.get("/v1/runs?limit=200").json()["runs"]]


def shown(text: str) -> list[str]:
    """Ids of the runs on a list page, in their order."""
    return re.findall(r'href="/runs/([0-9A-Z]{26})"', text)


def database_of(client: TestClient) -> Database:
    """The desk's own database."""
    found: Database = client.app.state.desk.database  # type: ignore[attr-defined]  # the desk inside
    return found


def form_of(client: TestClient) -> str:
    """The token that the forms carry."""
    found = re.search(r'name="form" value="([^"]+)"', client.get("/settings").text)
    assert found is not None
    return found[1]


# --- list and search --------------------------------------------------------------------------


def test_list_shows_every_run_in_order(client: TestClient) -> None:
    """The page lists what the API lists."""
    assert ids_of(client) == shown(client.get("/").text)


def test_search_by_what_only_the_desk_knows(client: TestClient) -> None:
    """Outcome, words of the note, label and period find exactly their runs, also together."""
    runs = ids_of(client)
    database = database_of(client)
    notes.write(database, runs[1], "thin", "Edge numbers Pale", 0)
    notes.write(database, runs[2], "thin", "", 0)
    labels.give(database, runs[2], labels.checked("ab7"))
    labels.give(database, runs[3], labels.checked("ab7"))
    periods.write(database, runs[3], "4")
    for query, wanted in (
        ("outcome=thin", [runs[1], runs[2]]),
        ("text=pale", [runs[1]]),
        ("label=AB7", [runs[2], runs[3]]),
        ("label=ab7&period=4", [runs[3]]),
        ("label=ab7&outcome=thin", [runs[2]]),
        ("label=ab7&outcome=good", []),
    ):
        assert wanted == shown(client.get(f"/?{query}").text), query


def test_neighbours_lead_through_all_runs(client: TestClient) -> None:
    """From the latest run, "the run before" visits every run once, and "after" leads back."""
    runs = ids_of(client)
    for at, run in enumerate(runs):
        text = client.get(f"/runs/{run}").text
        older = re.search(r'href="/runs/(\w+)" rel="prev"', text)
        newer = re.search(r'href="/runs/(\w+)" rel="next"', text)
        assert (runs[at + 1] if at + 1 < len(runs) else None) == (older[1] if older else None)
        assert (runs[at - 1] if at else None) == (newer[1] if newer else None)


def test_fahrenheit_is_shown_where_it_is_wanted(client: TestClient) -> None:
    """With Fahrenheit chosen, 20.0 C stands as 68.0 F, on the page and in its chart."""
    preferences.save(database_of(client), preferences.Preferences(temperature="F"))
    run = next(r for r in client.get("/v1/runs").json()["runs"] if r["target_celsius"] == 20.0)
    text = client.get(f"/runs/{run['id']}").text
    assert "target 68.0 °F ± 0.5" in text
    assert "temperature, °F" in text


# --- notes ------------------------------------------------------------------------------------


def test_note_is_kept_and_shown_as_text(client: TestClient) -> None:
    """What the teacher writes comes back as it was written, never as markup."""
    run = ids_of(client)[0]
    note = "<b>held</b> & fixed \N{GREEK SMALL LETTER ALPHA}"
    data = {"form": form_of(client), "version": "0", "outcome": "good", "note": note}
    text = client.post(f"/runs/{run}/note", data=data).text
    assert "&lt;b&gt;held&lt;/b&gt; &amp; fixed \N{GREEK SMALL LETTER ALPHA}" in text
    assert notes.Note("good", note) == notes.Note(
        *[getattr(notes.of_run(database_of(client), run), part) for part in ("outcome", "note")]
    )


def test_two_teachers_do_not_overwrite_each_other(client: TestClient) -> None:
    """A note that changed meanwhile is not replaced by one that did not see the change."""
    run = ids_of(client)[0]
    data = {"form": form_of(client), "version": "0", "outcome": "good"}
    client.post(f"/runs/{run}/note", data={**data, "note": "first"})
    answer = client.post(f"/runs/{run}/note", data={**data, "note": "second"})
    assert 409 == answer.status_code
    assert "first" == notes.of_run(database_of(client), run).note


@pytest.mark.parametrize("data", [{"outcome": "lovely"}, {"note": "x" * 2001}])
def test_unusable_notes_are_refused(client: TestClient, data: dict[str, str]) -> None:
    """An unknown outcome or a note that is too long is refused and nothing is kept."""
    run = ids_of(client)[0]
    answer = client.post(
        f"/runs/{run}/note", data={"form": form_of(client), "version": "0", **data}
    )
    assert 422 == answer.status_code
    assert notes.Note() == notes.of_run(database_of(client), run)


# --- labels and their end ---------------------------------------------------------------------


def test_old_labels_are_removed_and_runs_stay(client: TestClient) -> None:
    """After the chosen number of days a label goes; the run and its note stay."""
    runs = ids_of(client)
    desk = client.app.state.desk  # type: ignore[attr-defined]  # the desk inside
    for run in runs[:2]:
        labels.give(desk.database, run, labels.checked("AB7"))
    notes.write(desk.database, runs[0], "good", "fine", 0)
    keeper = Caretaker(desk.settings, desk.reader, desk.database, desk.gate.claim, desk.address)
    day = 86400.0
    assert 0 == keeper.clean(time.time() + 364 * day)
    assert 2 == keeper.clean(time.time() + 366 * day)
    assert {} == labels.of_runs(desk.database, runs)
    assert "fine" == notes.of_run(desk.database, runs[0]).note
    assert runs == ids_of(client)


def test_one_student_is_exported_and_forgotten(client: TestClient) -> None:
    """The export of a label holds exactly its runs; forgetting removes label and notes."""
    runs = ids_of(client)
    database = database_of(client)
    for run in runs[2:5]:
        labels.give(database, run, labels.checked("AB7"))
        notes.write(database, run, "good", "about AB7", 0)
    lines = client.get("/export/runs.jsonl?label=AB7").text.splitlines()
    assert runs[2:5] == [json.loads(line)["id"] for line in lines]
    client.post("/settings/forget", data={"form": form_of(client), "label": "ab7"})
    assert () == labels.runs_with(database, "AB7")
    kept = b"".join(path.read_bytes() for path in database.path.parent.glob("*.sqlite3"))
    assert notes.Note() == notes.of_run(database, runs[2])
    assert "AB7" not in repr(audit.latest(database))
    assert kept


def test_label_is_offered_when_a_run_has_ended(folder: DeskSettings) -> None:
    """Within half an hour after the end, the note to the display has a link that works, once."""
    run = tell_alone(folder.journal, Story())
    client = local(folder)
    desk = client.app.state.desk  # type: ignore[attr-defined]  # the desk inside
    with Reader(folder.journal) as reader:
        row = reader.run(run)
    assert row is not None
    assert row.ended is not None
    keeper = Caretaker(
        folder, desk.reader, desk.database, desk.gate.claim, "http://192.168.1.20:8470"
    )
    file = folder.live / "label.json"
    keeper.look(row.ended.wall_seconds + labels.LINK_SECONDS + 5)
    assert not file.exists()
    keeper.look(row.ended.wall_seconds + 5)
    offered = json.loads(file.read_text())
    assert run == offered["run"]
    assert offered["url"].startswith("HTTP://192.168.1.20:8470/L/")
    assert len(offered["qr"]) == len(offered["qr"][0]) <= 29
    again = json.loads(file.read_text())
    keeper.look(row.ended.wall_seconds + 8)
    assert again == json.loads(file.read_text())
    labels.give(desk.database, run, labels.checked("AB7"))
    keeper.look(row.ended.wall_seconds + 11)
    assert not file.exists()


def test_address_for_phones() -> None:
    """A given address is used as it is; a bound one stands for itself."""
    from pathlib import Path as Real  # noqa: PLC0415  # only here at run time

    folder = Real("/nowhere")
    assert "http://127.0.0.1:8470" == address_of(DeskSettings(folder, folder, folder))
    named = DeskSettings(folder, folder, folder, address="http://sink-1.local:8470/")
    assert "http://sink-1.local:8470" == address_of(named)


# --- why ----------------------------------------------------------------------------------------


def found(outcome: str, **facts: object) -> dict[str, Weighs]:
    """Causes of an outcome and what the log says of each, in order."""
    seen = Facts(**facts)  # type: ignore[arg-type]  # named in each test
    return {f.rule.name: f.evidence.weighs for f in diagnosis.explain(outcome, seen)}


def test_cold_developer_explains_a_thin_film() -> None:
    """Four degrees too cold comes first among the causes of a thin film."""
    likely = found(
        "thin",
        develop_planned=430.0,
        develop_actual=430.0,
        poured_off=-4.0,
        development=(-0.36, -0.24),
    )
    assert "less-development" == next(iter(likely))
    assert Weighs.FOR is likely["less-development"]


def test_right_development_speaks_against_itself() -> None:
    """When the log shows the right development, that cause goes to the end of the list."""
    likely = found(
        "dense",
        develop_planned=430.0,
        develop_actual=431.0,
        poured_off=0.1,
        development=(0.0, 0.02),
    )
    order = list(likely)
    assert order.index("more-development") > order.index("overexposed")
    assert Weighs.AGAINST is likely["more-development"]


def test_short_fixing_explains_a_milky_film() -> None:
    """Half the fixing time is named with its figures."""
    seen = Facts(fix_planned=310.0, fix_actual=150.0)
    first = diagnosis.explain("milky", seen)[0]
    assert "Fix 150 s of 310 s." == first.evidence.says


@pytest.mark.parametrize(("fahrenheit", "minutes"), [(70, 4.5), (72, 4.0), (76, 3.0), (80, 2.5)])
def test_amount_of_development_agrees_with_a_published_chart(
    fahrenheit: float, minutes: float
) -> None:
    """The two coefficients span a printed chart, but for its rounding to half minutes.

    Carestream Dental, Intraoral Processing Guidelines: 5 min at 68 F, and the pairs above.
    """
    off = (fahrenheit - 68.0) / 1.8
    slow, fast = (5.0 / c ** (off / 10.0) for c in diagnosis.COEFFICIENTS)
    assert fast - 0.25 <= minutes <= slow + 0.25


def test_facts_of_a_real_run(folder: DeskSettings) -> None:
    """Poured early, the log says too warm by how much, and how much development that was."""
    run = tell_alone(folder.journal, Story(outside=True))
    with Reader(folder.journal) as reader:
        row = reader.run(run)
        assert row is not None
        seen = diagnosis.facts(review(row.began, reader.events(run)))
    assert row.poured_celsius is not None
    assert seen.poured_off == pytest.approx(row.poured_celsius - 20.0, abs=0.001)
    assert seen.development is not None
    assert 0 < seen.development[0] < seen.development[1]
    assert seen.inside is False


def test_every_outcome_has_causes_and_every_rule_a_source() -> None:
    """Each outcome but a good one is explained; each rule names its source and a known outcome."""
    explained = {outcome for rule in causes.RULES for outcome in rule.outcomes}
    assert set(notes.OUTCOMES) - {"good"} == explained
    for rule in causes.RULES:
        assert rule.source
        assert rule.change.endswith(".")


# --- charts -------------------------------------------------------------------------------------


def test_thinning_keeps_peaks_gaps_and_order() -> None:
    """Of many points few are drawn, but never without the highest, the lowest and the gaps."""
    points: list[series.Point] = [(float(x), 20.0) for x in range(5000)]
    points[1234] = (1234.0, 31.0)
    points[4321] = (4321.0, 9.0)
    points[2500] = (2500.0, None)
    thin = series.thin(points)
    assert len(thin) <= 420
    assert {(1234.0, 31.0), (4321.0, 9.0), (2500.0, None)} <= set(thin)
    assert sorted(x for x, _ in thin) == [x for x, _ in thin]


def test_still_chart_is_well_formed_and_says_what_it_shows() -> None:
    """The picture is XML, has its sentence for screen readers, and breaks at a gap."""
    from xml.etree import ElementTree as ET  # noqa: PLC0415  # of our own text

    chart = Chart(
        "A <chart>", "It shows & tells.", "x", "y",
        (Line("a", [(0.0, 1.0), (1.0, 2.0), (2.0, None), (3.0, 1.5), (4.0, 1.0)]),),
    )  # fmt: skip
    root = ET.fromstring(svg.draw(chart))
    space = "{http://www.w3.org/2000/svg}"
    title = root.find(f"{space}title")
    assert title is not None
    assert "A <chart>. It shows & tells." == title.text
    assert 2 == len(root.findall(f"{space}polyline"))


def test_empty_chart_says_so() -> None:
    """Without points there is a sentence instead of an empty frame."""
    assert "nothing was recorded" in svg.draw(Chart("t", "s", "x", "y", ()))


@pytest.mark.parametrize(
    ("low", "high", "wanted"),
    [(0.0, 10.0, [0, 2, 4, 6, 8, 10]), (18.4, 20.6, [18.5, 19, 19.5, 20, 20.5])],
)
def test_ticks_are_round(low: float, high: float, wanted: list[float]) -> None:
    """Grid lines stand at round numbers."""
    assert wanted == pytest.approx(svg.ticks(low, high, 5))


def test_bars_carry_their_numbers() -> None:
    """Each bar's figure is in the picture and in its sentence."""
    text = bars.draw("Flags", [bars.Bar("late", 3, 10, "3 of 10")])
    assert 2 == text.count("3 of 10")


def test_chart_values_match_the_trace(folder: DeskSettings) -> None:
    """What the live chart gets are the readings of the trace, in minutes."""
    run = tell_alone(folder.journal, Story())
    client = local(folder)
    rows = list(csv.DictReader(io.StringIO(client.get(f"/v1/runs/{run}/trace.csv").text)))
    lines = client.get(f"/runs/{run}/trace.json").json()["lines"]
    developer = next(line for line in lines if line["name"] == "developer")["points"]
    readings = {
        (round(float(row["seconds"]) / 60, 3), round(float(row["celsius"]), 3))
        for row in rows
        if row["place"] == "developer"
    }
    assert {(x, y) for x, y in developer} <= readings
    assert len(developer) > 50


# --- summary, exports, metrics, backup -----------------------------------------------------------


def test_summary_counts_what_the_list_holds(client: TestClient) -> None:
    """Figures of the summary agree with a count over the API."""
    runs = client.get("/v1/runs?limit=200").json()["runs"]
    poured = [run for run in runs if run["window_hit"] is not None]
    hit = sum(run["window_hit"] for run in poured)
    text = re.sub(r"\s+", " ", client.get("/summary").text)
    assert f"<dt>Runs</dt><dd>{len(runs)}</dd>" in text
    assert f"<dd>{100 * hit / len(poured):.0f} %</dd>" in text


def test_export_has_what_the_teacher_wrote(client: TestClient) -> None:
    """The table has a row for each run, with outcome, guarded note and label."""
    run = ids_of(client)[0]
    notes.write(database_of(client), run, "thin", "=HYPERLINK()", 0)
    labels.give(database_of(client), run, labels.checked("AB7"))
    periods.write(database_of(client), run, "3")
    rows = list(csv.DictReader(io.StringIO(client.get("/export/runs.csv").text)))
    assert ids_of(client) == [row["run"] for row in rows]
    assert ["thin", "'=HYPERLINK()", "AB7", "3"] == [
        rows[0][name] for name in ("outcome", "note", "label", "period")
    ]


def test_metrics_are_read_by_prometheus_own_parser(
    client: TestClient, school: DeskSettings
) -> None:
    """The figures parse with prometheus_client's parser and agree with the API."""
    write_live(school.live_file)
    families = {
        family.name: family
        for family in text_string_to_metric_families(client.get("/metrics").text)
    }
    assert 10 == families["wetside_runs"].samples[0].value
    assert 1 == families["wetside_station_up"].samples[0].value
    believed = {s.labels["of"]: s.value for s in families["wetside_temperature_celsius"].samples}
    assert {"developer": 22.41, "bath": 19.2} == believed


def test_backup_holds_all_and_restores(client: TestClient, tmp_path: Path) -> None:
    """A backup has the journal whole; restoring brings notes, labels and passphrase back."""
    run = ids_of(client)[0]
    database = database_of(client)
    notes.write(database, run, "good", "before", 0)
    accounts.open_session(database, "somebody")
    content = client.get("/settings/backup").content
    file = tmp_path / "backup.zip"
    file.write_bytes(content)
    with zipfile.ZipFile(file) as archive:
        archive.extract("journal.sqlite3", tmp_path / "out")
    with Reader(tmp_path / "out" / "journal.sqlite3") as copy:
        assert ids_of(client) == [row.id for row in copy.runs().rows]
        assert 0 < sum(1 for _ in copy.samples(run))
    notes.write(database, run, "thin", "after", 1)
    answer = client.post(
        "/settings/restore",
        data={"form": form_of(client)},
        files={"file": ("backup.zip", content, "application/zip")},
    )
    assert 200 == answer.status_code
    assert "before" == notes.of_run(database, run).note
    assert [] == accounts.sessions(database)
    assert (database.path.parent / "desk.before-restore.sqlite3").exists()


@pytest.mark.parametrize("content", [b"", b"no zip", b"PK\x05\x06" + b"\x00" * 18])
def test_what_is_no_backup_changes_nothing(client: TestClient, content: bytes) -> None:
    """A wrong file is refused with a reason, and everything stays."""
    run = ids_of(client)[0]
    notes.write(database_of(client), run, "good", "kept", 0)
    answer = client.post(
        "/settings/restore",
        data={"form": form_of(client)},
        files={"file": ("x.zip", content, "application/zip")},
    )
    assert 422 == answer.status_code
    assert "not a backup" in answer.text
    assert "kept" == notes.of_run(database_of(client), run).note


def test_a_damaged_backup_changes_nothing(tmp_path: Path) -> None:
    """A backup whose database is not ours is refused."""
    database = Database(tmp_path / "desk" / "desk.sqlite3")
    preferences.save(database, preferences.Preferences(school="ours"))
    file = tmp_path / "b.zip"
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("wetside-backup.json", '{"format": 1}')
        archive.writestr("desk.sqlite3", b"SQLite format 3\x00" + b"\x00" * 4000)
    with pytest.raises(backup.NotABackup):
        backup.restore(file, database)
    assert "ours" == preferences.load(database).school


def test_foreign_database_is_left_alone(tmp_path: Path) -> None:
    """A file of another program in our place is reported and not touched."""
    import sqlite3  # noqa: PLC0415  # to make the foreign file

    from wetside.errors import JournalError  # noqa: PLC0415  # only here

    path = tmp_path / "desk.sqlite3"
    with sqlite3.connect(path) as foreign:
        foreign.execute("CREATE TABLE theirs (x)")
    foreign.close()
    with pytest.raises(JournalError, match="other program"):
        preferences.load(Database(path))
