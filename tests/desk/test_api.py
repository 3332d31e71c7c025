"""The API over journals of an invented school."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING

import httpx2
import pytest
from starlette.testclient import TestClient

from wetside.journal.reader import Reader
from wetside.journal.writer import Writer
from wetside.readings import Place, Reading
from wetside.thermal.recording import read_recording
from wetside_desk import formats, problems
from wetside_desk.api import health, runs
from wetside_desk.pages import settings

if TYPE_CHECKING:
    from tests.desk.invented import SCHOOL_DAY, Story, local, stories, tell, tell_alone, write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import SCHOOL_DAY, Story, local, stories, tell, tell_alone, write_live


def one(folder: DeskSettings, story: Story) -> tuple[TestClient, str]:
    """A desk over one run."""
    run = tell_alone(folder.journal, story)
    return local(folder), run


def is_problem(answer: httpx2.Response, name: str) -> None:
    """RFC 9457, section 3: media type and members of problem details."""
    assert problems.MEDIA_TYPE == answer.headers["content-type"]
    body = answer.json()
    assert f"/problems/{name}" == body["type"]
    assert answer.status_code == body["status"]
    assert body["title"]
    assert answer.request.url.path == body["instance"]


def test_runs_come_latest_first(client: TestClient) -> None:
    """The list shows every run once, the latest first."""
    runs = client.get("/v1/runs").json()["runs"]
    assert 10 == len(runs)
    assert sorted((run["listed_utc"] for run in runs), reverse=True) == [
        run["listed_utc"] for run in runs
    ]


def test_pages_never_repeat_or_skip(client: TestClient) -> None:
    """Following `next` gives each run once and ends."""
    seen: list[str] = []
    address: str | None = "/v1/runs?limit=3"
    pages = 0
    while address:
        page = client.get(address).json()
        seen += [run["id"] for run in page["runs"]]
        address = page["next"]
        pages += 1
    whole = [run["id"] for run in client.get("/v1/runs?limit=200").json()["runs"]]
    assert whole == seen
    assert 4 == pages


def test_next_keeps_the_filter(client: TestClient) -> None:
    """The next page is filtered as the first was."""
    sheet = client.get("/v1/runs").json()["runs"][0]["sheet"]
    following = client.get("/v1/runs", params={"sheet": sheet, "limit": 1}).json()["next"]
    assert {sheet} == {run["sheet"] for run in client.get(following).json()["runs"]}


@pytest.mark.parametrize("member", ["state", "sheet", "station"])
def test_filter_by_word(client: TestClient, member: str) -> None:
    """A filter gives exactly the runs whose member has that value."""
    everything = client.get("/v1/runs?limit=200").json()["runs"]
    word = everything[-1][member]
    wanted = [run["id"] for run in everything if run[member] == word]
    found = client.get("/v1/runs", params={member: word, "limit": 200}).json()["runs"]
    assert wanted == [run["id"] for run in found]


def test_filter_by_flag(client: TestClient) -> None:
    """A flag gives exactly the runs that carry it."""
    everything = client.get("/v1/runs?limit=200").json()["runs"]
    flag = next(run["flags"][0] for run in everything if run["flags"])
    wanted = [run["id"] for run in everything if flag in run["flags"]]
    found = client.get("/v1/runs", params={"flag": flag, "limit": 200}).json()["runs"]
    assert wanted == [run["id"] for run in found]


def test_filter_by_day(client: TestClient) -> None:
    """A day gives exactly the runs listed on that day of the device's time zone."""
    day = formats.local(SCHOOL_DAY).date().isoformat()
    everything = client.get("/v1/runs?limit=200").json()["runs"]
    wanted = [
        run["id"]
        for run in everything
        if formats.local(run["began"]["seconds"] - 500 + SCHOOL_DAY).date().isoformat() == day
    ]
    found = client.get("/v1/runs", params={"day": day}).json()["runs"]
    assert wanted == [run["id"] for run in found]
    assert wanted


@pytest.mark.parametrize(
    ("address", "there"),
    [
        ("/v1/runs?from=2031-09-01", "day, flag, limit"),
        ("/v1/shelf?day=2031-09-01", "There are: on."),
        ("/v1/shelf/file?x=", "none here"),
    ],
)
def test_a_filter_that_is_not_known_is_refused(
    client: TestClient, address: str, there: str
) -> None:
    """Nobody takes the whole list for a filtered one; the names that there are are told."""
    answer = client.get(address)
    assert 422 == answer.status_code
    name = address.partition("?")[2].partition("=")[0]
    [error] = answer.json()["errors"]
    assert f"query.{name}" == error["place"]
    assert there in error["reason"]


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31", "1999-06-01"])
def test_days_without_runs_are_empty(client: TestClient, day: str) -> None:
    """A day of the calendar on which nothing was logged gives an empty list."""
    answer = client.get("/v1/runs", params={"day": day})
    assert 200 == answer.status_code
    assert [] == answer.json()["runs"]


def test_run_tells_steps_planned_and_actual(folder: DeskSettings) -> None:
    """Each step has what was planned and what it was, and how far they are apart."""
    client, run = one(folder, Story(late_seconds=14.0))
    steps = {step["kind"]: step for step in client.get(f"/v1/runs/{run}").json()["steps"]}
    assert steps["temper"]["planned_seconds"] is None
    assert 430 == steps["develop"]["planned_seconds"]
    assert pytest.approx(14.0, abs=0.01) == steps["develop"]["over_seconds"]
    assert pytest.approx(444.0, abs=0.01) == steps["develop"]["actual_seconds"]


def test_run_holds_forecasts_against_what_happened(folder: DeskSettings) -> None:
    """The checks take the forecast made at a quarter, half and three quarters of the wait."""
    client, run = one(folder, Story())
    body = client.get(f"/v1/runs/{run}").json()
    happened = body["happened"]["entered_after_seconds"]
    assert [0.25, 0.5, 0.75] == [check["share"] for check in body["checks"]]
    for check in body["checks"]:
        made = [f for f in body["forecasts"] if f["after_seconds"] <= check["share"] * happened]
        assert made[-1]["after_seconds"] == check["after_seconds"]
        assert pytest.approx(happened - made[-1]["ready_p50"], abs=0.06) == check["late_seconds"]


def test_events_lie_on_one_axis_across_a_reboot(folder: DeskSettings) -> None:
    """After a power cut of known length, events go on where the clock of the run went on."""
    client, run = one(folder, Story(power_cut=True, gap_seconds=90.0))
    body = client.get(f"/v1/runs/{run}").json()
    afters = [event["after_seconds"] for event in body["events"]]
    assert sorted(afters) == afters
    fix = next(step for step in body["steps"] if step["kind"] == "fix")
    lost = next(event for event in body["events"] if event["kind"] == "power-lost")
    half = fix["planned_seconds"] / 2
    assert pytest.approx(half + 90.0, abs=0.01) == (
        lost["after_seconds"] - fix["began_after_seconds"]
    )
    assert body["axis_certain"]


def test_unknown_gap_is_said(folder: DeskSettings) -> None:
    """A power cut of unknown length makes the axis uncertain, and the answer says so."""
    client, run = one(folder, Story(power_cut=True))
    assert client.get(f"/v1/runs/{run}").json()["axis_certain"] is False


def test_trace_is_what_replay_reads(folder: DeskSettings) -> None:
    """trace.csv has the header and the order of the replay contract; failed reads are empty."""
    client, run = one(folder, Story(probe_gap=True))
    answer = client.get(f"/v1/runs/{run}/trace.csv")
    rows = list(csv.reader(io.StringIO(answer.text)))
    assert ["seconds", "probe", "place", "celsius"] == rows[0]
    seconds = [float(row[0]) for row in rows[1:]]
    assert sorted(seconds) == seconds
    failed = [row for row in rows[1:] if row[3] == ""]
    assert failed
    assert all(60 < float(row[0]) < 100 for row in failed)
    assert "text/csv; charset=utf-8" == answer.headers["content-type"]


def test_trace_can_be_replayed(folder: DeskSettings, tmp_path: Path) -> None:
    """Replay reads from trace.csv the run's readings, also before its begin and below zero."""
    client, run = one(folder, Story())
    with Reader(folder.journal) as reader:
        began = next(row.began for row in reader.runs().rows if row.id == run)
    odd = Reading(began.seconds - 0.25, 'a "b", c', -0.062, Place.BATH)
    with Writer(folder.journal, "sink-1") as writer:
        writer.sample(began, [odd], run=run)
    with Reader(folder.journal) as reader:
        given: list[object] = [
            (pytest.approx(one.moment.seconds - began.seconds), one.probe, one.place, one.celsius)
            for one in reader.samples(run)
        ]
    file = tmp_path / "trace.csv"
    file.write_bytes(client.get(f"/v1/runs/{run}/trace.csv").content)
    found = [(one.seconds, one.probe, one.place, one.celsius) for one in read_recording(file)]
    assert found == given
    assert (-0.25, odd.probe, odd.place, odd.celsius) in found


def test_trace_with_all_columns_and_marks(folder: DeskSettings) -> None:
    """All columns, semicolons and the byte order mark come when they are asked for."""
    client, run = one(folder, Story())
    text = client.get(
        f"/v1/runs/{run}/trace.csv", params={"columns": "all", "semicolon": True, "mark": True}
    ).text
    assert text.startswith(formats.BYTE_ORDER_MARK)
    header = next(csv.reader(io.StringIO(text.removeprefix("\ufeff")), delimiter=";"))
    assert ["condition", "utc", "local", "clock_trusted"] == header[4:]


def test_finished_run_is_tagged(folder: DeskSettings) -> None:
    """A finished run answers 304 to its own tag and the whole to another."""
    client, run = one(folder, Story())
    first = client.get(f"/v1/runs/{run}")
    tag = first.headers["etag"]
    again = client.get(f"/v1/runs/{run}", headers={"If-None-Match": tag})
    assert 304 == again.status_code
    assert b"" == again.content
    other = client.get(f"/v1/runs/{run}", headers={"If-None-Match": '"other"'})
    assert first.json() == other.json()


def test_open_run_is_not_tagged(folder: DeskSettings) -> None:
    """A run that goes on must not be kept by a browser."""
    client, run = one(folder, Story(stop_in="fix"))
    answer = client.get(f"/v1/runs/{run}")
    assert "etag" not in answer.headers
    assert "no-store" == answer.headers["cache-control"]


@pytest.mark.parametrize(
    "address", ["/v1/runs", "/v1/runs/{run}", "/v1/runs/{run}/trace.csv", "/v1/health", "/live"]
)
def test_head_answers_as_get_without_a_body(folder: DeskSettings, address: str) -> None:
    """HEAD gives the status and type of GET and no body (RFC 9110, section 9.3.2)."""
    client, run = one(folder, Story())
    with client:
        got = client.get(address.format(run=run))
        head = client.head(address.format(run=run))
    assert got.status_code == head.status_code
    assert got.headers["content-type"] == head.headers["content-type"]


@pytest.mark.parametrize(
    ("method", "address", "status", "name"),
    [
        ("GET", "/v1/nothing", 404, "not-found"),
        ("GET", "/v1/runs/01KB0A7QJ8M3T5W9XYZ2C4D6EF", 404, "run-not-found"),
        ("GET", "/v1/runs/nonsense", 404, "run-not-found"),
        ("GET", "/v1/runs/nonsense/trace.csv", 404, "run-not-found"),
        ("GET", "/runs/nonsense", 404, "run-not-found"),
        ("GET", "/v1/runs?limit=0", 422, "invalid-request"),
        ("GET", "/v1/runs?after=nonsense", 422, "invalid-request"),
        ("GET", "/v1/runs?day=2026-02-30", 422, "invalid-request"),
        ("POST", "/v1/runs", 405, "method-not-allowed"),
        ("DELETE", "/v1/health", 405, "method-not-allowed"),
    ],
)
def test_every_refusal_is_a_problem(
    client: TestClient, method: str, address: str, status: int, name: str
) -> None:
    """Each refusal is problem details (RFC 9457) whose type leads to a page that exists."""
    answer = client.request(method, address)
    assert status == answer.status_code
    is_problem(answer, name)
    explained = client.get(answer.json()["type"], headers={"accept": "text/html"})
    assert 200 == explained.status_code
    assert problems.PROBLEMS[name].title in explained.text


def test_method_refusal_names_what_works(client: TestClient) -> None:
    """A 405 carries Allow (RFC 9110, section 15.5.6)."""
    assert "GET" in client.post("/v1/runs").headers["allow"]


def test_a_mistake_of_the_desk_is_a_problem_too(
    school: DeskSettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An exception nobody expected answers 500 as problem details and tells no internals."""
    client = local(school, loud=False)
    monkeypatch.setattr(client.app.state.desk.reader, "runs", lambda *_, **__: 1 / 0)  # type: ignore[attr-defined]  # the desk inside
    answer = client.get("/v1/runs")
    assert 500 == answer.status_code
    is_problem(answer, "internal-error")
    assert "ZeroDivision" not in answer.text


def test_missing_journal_is_said(folder: DeskSettings) -> None:
    """Without a journal the list is unavailable, and health fails and says why."""
    client = local(folder)
    is_problem(client.get("/v1/runs"), "journal-unavailable")
    health = client.get("/v1/health")
    assert 503 == health.status_code
    assert "application/health+json" == health.headers["content-type"]
    assert "fail" == health.json()["status"]
    assert "no journal" in health.json()["checks"]["journal"][0]["output"]


def test_health_passes_when_all_is_well(client: TestClient, school: DeskSettings) -> None:
    """A journal and a running station with a set clock pass, with figures."""
    write_live(school.live_file)
    answer = client.get("/v1/health")
    assert 200 == answer.status_code
    assert "pass" == answer.json()["status"], answer.json()


def test_health_warns_of_a_probe_and_the_clock(client: TestClient, school: DeskSettings) -> None:
    """A probe in trouble and a clock that was not set are warnings, not failures."""
    write_live(school.live_file, troubles={"probe": "probe vanished"}, trusted=False)
    answer = client.get("/v1/health")
    assert 200 == answer.status_code
    assert "warn" == answer.json()["status"]
    assert "The probe does not answer any more." == answer.json()["checks"]["probes"][0]["output"]
    assert "warn" == answer.json()["checks"]["clock"][0]["status"]


def test_damaged_journal_is_said(folder: DeskSettings) -> None:
    """A file that is no journal is reported and left as it is."""
    folder.journal.write_text("this is no database, but it is long enough to look at")
    before = folder.journal.read_bytes()
    client = local(folder)
    assert 503 == client.get("/v1/health").status_code
    is_problem(client.get("/v1/runs"), "journal-unavailable")
    assert before == folder.journal.read_bytes()


def test_api_page_names_every_address(client: TestClient) -> None:
    """The page for people lists what the description lists, without scripts from elsewhere."""
    text = client.get("/api").text
    for address in client.get("/openapi.json").json()["paths"]:
        assert address in text
    assert "//cdn" not in text


def test_csv_cells_cannot_become_formulas() -> None:
    """Text that begins like a formula is guarded, numbers below zero are not."""
    text = "".join(formats.csv_lines(["a", "b"], [["=1+1", -2.5], ["@x", "fine"], [None, 3]]))
    assert [["a", "b"], ["'=1+1", "-2.5"], ["'@x", "fine"], ["", "3"]] == list(
        csv.reader(io.StringIO(text))
    )


def test_semicolons_come_with_a_decimal_comma() -> None:
    """Where a semicolon parts cells a point groups thousands: 20.194 must not become 20194."""
    text = "".join(formats.csv_lines(["a", "b"], [[20.194, 3], [-0.5, "1.5"]], semicolon=True))
    assert "a;b\r\n20,194;3\r\n-0,5;1.5\r\n" == text


def test_nothing_of_the_desk_changes_the_journal(client: TestClient, school: DeskSettings) -> None:
    """Reading leaves the journal's bytes as they are."""
    before = Path(school.journal).read_bytes()
    for address in ("/v1/runs", "/", "/v1/health", "/live"):
        assert 200 == client.get(address).status_code
    assert before == Path(school.journal).read_bytes()


def test_a_list_is_tagged(client: TestClient, school: DeskSettings) -> None:
    """A list answers 304 until a run changes it."""
    tag = client.get("/v1/runs").headers["etag"]
    assert 304 == client.get("/v1/runs", headers={"If-None-Match": tag}).status_code
    with Writer(school.journal, "sink-1") as writer:
        tell(writer, next(iter(stories(1, seed=77))))
    assert 200 == client.get("/v1/runs", headers={"If-None-Match": tag}).status_code


def test_a_second_desk_in_one_process_is_no_larger(folder: DeskSettings) -> None:
    """Making an application leaves nothing behind on the routers that all of them share."""
    local(folder)
    before = [len(router.routes) for router in (runs.router, health.router, settings.router)]
    local(folder)
    assert before == [
        len(router.routes) for router in (runs.router, health.router, settings.router)
    ]
    assert {"HEAD"} in [getattr(route, "methods", None) for route in runs.router.routes]
