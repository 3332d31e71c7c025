"""The summary, exports, and the figures for Prometheus."""

from __future__ import annotations

import csv
import io
import re
import time
from typing import TYPE_CHECKING

import pytest
from prometheus_client.parser import text_string_to_metric_families

from wetside_desk.store import labels, notes, periods

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import database_of, ids_of
    from tests.desk.invented import local, write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_asking import database_of, ids_of
    from desk_invented import local, write_live


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


def test_an_export_has_the_time_of_the_school(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beside the time in UTC stands that of the clock on the wall."""
    monkeypatch.setenv("TZ", "America/New_York")
    time.tzset()
    try:
        rows = list(csv.DictReader(io.StringIO(client.get("/export/runs.csv").text)))
    finally:
        monkeypatch.undo()
        time.tzset()
    first = rows[-1]
    assert ("2025-11-12T09:10:00Z", "2025-11-12 04:10:00") == (first["utc"], first["local"])


@pytest.mark.parametrize("form", ["csv", "jsonl"])
def test_an_export_without_a_journal_is_a_problem_of_its_own(
    folder: DeskSettings, form: str
) -> None:
    """Before the station's first start an export answers as every other question does."""
    answer = local(folder, loud=False).get(f"/export/runs.{form}")
    assert (503, "application/problem+json") == (answer.status_code, answer.headers["content-type"])
    assert answer.json()["type"].endswith("journal-unavailable")


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
