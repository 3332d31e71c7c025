"""Bells over the API: the table, a day, latest starts, capacity."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk import schooltime

if TYPE_CHECKING:
    from tests.desk import stocked
    from tests.desk.invented import local, write_live

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_invented import local, write_live

#: Live files from the future: a slow machine must not make them old.
LONG = -600.0

TOML = {"Content-Type": "application/toml"}


@pytest.fixture
def bells(folder: DeskSettings, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A desk with a bell table and no run yet, on a Monday at 10:06."""
    stocked.put(folder)
    monkeypatch.setattr(schooltime, "now", lambda: stocked.NOW)
    with local(folder) as client:
        yield client


def test_the_table(bells: TestClient) -> None:
    """Weeks alternate from the week of 8 September; 17 November, ten weeks on, is week A."""
    found = bells.get("/v1/bells").json()
    assert (["A", "B"], "A") == (found["weeks"], found["this_week"])
    assert ["1", "2", "3", "3-4"] == [one["name"] for one in found["periods"]]


@pytest.mark.parametrize(
    ("day", "week", "names"),
    [
        ("2025-11-17", "A", ["1", "2", "3"]),
        ("2025-11-24", "B", ["1", "2"]),
        ("2025-11-25", "B", ["1", "3-4"]),
        ("2025-11-27", "B", []),
        ("2025-11-22", "A", []),
    ],
)
def test_a_day(bells: TestClient, day: str, week: str, names: list[str]) -> None:
    """Read off the table by hand: both weeks, a day without school, a Saturday."""
    found = bells.get("/v1/bells/day", params={"day": day}).json()
    assert (week, names) == (found["week"], [one["name"] for one in found["periods"]])


def test_latest_start(bells: TestClient) -> None:
    """By hand: 10:50 less 5 min, less 1335 s of steps, less 7 hand-overs, hanging too.

    Nothing is learnt yet, so 20 s with a spread of 10 s count; 7 * 10 * 1.645 = 115 s.
    """
    found = bells.get("/v1/bells/starts").json()
    start = next(one for one in found["starts"] if one["sheet"] == "one reel 20")
    by_hand = datetime(2025, 11, 17, 10, 45) - timedelta(seconds=1335 + 7 * 20 + 7 * 10 * 1.645)  # noqa: DTZ001  # a bell table has no zone
    told = datetime.fromisoformat(start["start_by"])
    assert pytest.approx(0.0, abs=0.5) == (told - by_hand).total_seconds()
    assert 0 == found["learnt_from_runs"]
    assert pytest.approx((by_hand - stocked.NOW).total_seconds(), abs=0.5) == start["seconds_left"]
    assert "2025-11-17T10:50:00" == start["bell"]


def test_the_run_at_the_sink_is_judged(folder: DeskSettings, bells: TestClient) -> None:
    """Ready in about three minutes at 10:06 is early enough; ready in half an hour is not."""
    write_live(folder.live_file, LONG)
    starts = bells.get("/v1/bells/starts").json()["starts"]
    assert {"one reel 20": "easy"} == {
        one["sheet"]: one["prospect"] for one in starts if one["prospect"]
    }
    late = {
        "seconds": 900.0,
        "ready_in": {"p05": 1700.0, "p50": 1800.0, "p95": 1900.0},
        "never": 0.0,
    }
    write_live(folder.live_file, LONG, outlook=late)
    starts = bells.get("/v1/bells/starts").json()["starts"]
    assert "too late" == next(one["prospect"] for one in starts if one["prospect"])


def test_a_clock_in_doubt_is_told(folder: DeskSettings, bells: TestClient) -> None:
    """A station that was not given the time since it was switched on says so here too."""
    write_live(folder.live_file, LONG, trusted=False)
    assert "clock" in bells.get("/v1/bells/starts").json()["clock_doubt"]
    write_live(folder.live_file, LONG)
    assert not bells.get("/v1/bells/starts").json()["clock_doubt"]


def test_capacity(bells: TestClient) -> None:
    """By hand: of runs of 1475 s, each tempered 8 min, two fit into 95 min: eight tanks."""
    asked: dict[str, str | int] = {"period": "3-4", "students": 16, "sheet": "one reel 20"}
    found = bells.get("/v1/bells/capacity", params=asked).json()
    assert (8, 2, [480.0, 2435.0]) == (
        found["students"],
        found["periods_needed"],
        found["starts_seconds"],
    )


@pytest.mark.parametrize("path", ["/v1/bells/capacity?period=9&students=3", "/v1/bells/file"])
def test_what_is_not_there(folder: DeskSettings, bells: TestClient, path: str) -> None:
    """An unknown period, and a table that does not exist, are 404."""
    (folder.files_folder / "bells.toml").unlink()
    assert 404 == bells.get(path).status_code
    assert [] == bells.get("/v1/bells").json()["periods"]


def test_a_wrong_table_names_its_keys(bells: TestClient) -> None:
    """An overlap and an unknown week, each at its key; the table stays as it was."""
    wrong = stocked.BELLS.replace('weeks = ["A"]', 'weeks = ["C"]').replace(
        "starts = 09:05:00", "starts = 08:50:00"
    )
    tag = {"If-Match": bells.get("/v1/bells/file").headers["etag"], **TOML}
    answer = bells.put("/v1/bells/file", content=wrong, headers=tag)
    assert 422 == answer.status_code
    found = {(one["place"], one["reason"]) for one in answer.json()["errors"]}
    overlaps = {
        ("period[2].starts", f"overlaps period[1] on {day}")
        for day in ("monday", "wednesday", "friday")
    }
    unknown = ("period[3].weeks", "week C is not known; the table has A, B")
    assert {unknown, *overlaps} == found
    assert stocked.BELLS == bells.get("/v1/bells/file").text
