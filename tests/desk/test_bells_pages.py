"""The pages of the bells, as forms: periods, weeks, the room, when to begin."""

from __future__ import annotations

import re
import tomllib
from datetime import datetime
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk import schooltime
from wetside_desk.pages import bells

if TYPE_CHECKING:
    from tests.desk.asking import send
    from tests.desk.invented import write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_asking import send
    from desk_invented import write_live


def test_the_first_period_and_its_weeks(folder: DeskSettings, bare: TestClient) -> None:
    """A table from two forms; a third that overlaps is refused with what was typed."""
    fields = {"name": "1", "days": ["monday", "friday"], "starts": "08:10", "ends": "09:00"}
    page = "/bells/periods/0"
    assert 303 == send(bare, page, page, **fields, group="Photo 1", students="12").status_code
    weeks = {"names": "A B", "first_week_of": "2025-09-08", "clear_up_minutes": "6"}
    assert 303 == send(bare, "/bells", "/bells/table", **weeks, closed="2025-11-27").status_code
    answer = send(bare, page, page, **{**fields, "name": "2", "starts": "08:50", "ends": "09:40"})
    assert 422 == answer.status_code
    assert "overlaps period 1 on monday" in answer.text
    assert 'value="08:50"' in answer.text
    found = tomllib.loads((folder.files_folder / "bells.toml").read_text(encoding="utf-8"))
    assert (["A", "B"], 6, 1) == (
        found["weeks"]["names"],
        found["clear_up_minutes"],
        len(found["period"]),
    )


def test_a_period_is_changed_and_taken_away(pages: TestClient) -> None:
    """Times come from the form; the last button, ticked first, takes the period out."""
    page = "/bells/periods/3"
    fields = {"name": "3", "days": ["monday"], "starts": "10:00", "ends": "10:55"}
    assert 303 == send(pages, page, page, **fields, weeks=["A", "B"]).status_code
    third = pages.get("/v1/bells").json()["periods"][2]
    assert ("10:55", ["A", "B"]) == (third["ends"], third["weeks"])
    asked = send(pages, page, page, take="yes")
    assert 422 == asked.status_code
    assert "confirm it first" in asked.text
    assert 303 == send(pages, page, page, take="yes", sure="on").status_code
    assert ["1", "2", "3-4"] == [one["name"] for one in pages.get("/v1/bells").json()["periods"]]


def test_the_bells_page_says_when_to_begin(pages: TestClient, school: DeskSettings) -> None:
    """Now, the latest start of each sheet, and what the run at the sink looks like."""
    write_live(school.live_file, -600.0)  # a slow machine must not make it old
    text = pages.get("/bells").text
    assert "period <bdi>3</bdi>, <bdi>Photo 2</bdi>, 9 students" in text
    assert "At the sink now, one reel 20:" in text
    assert "learnt from 9 runs" in text


def test_days_without_a_period_are_told_apart(pages: TestClient, school: DeskSettings) -> None:
    """They are left out of the list of days that a phone shows; today stands out there."""
    (school.files_folder / "bells.toml").write_text(
        'format = 1\n[[period]]\nname = "3"\ndays = ["monday", "friday"]\n'
        "starts = 10:00:00\nends = 10:50:00\n"
    )
    days = re.findall(r'<td role="cell" data-day="(\w+)"([^>]*)>', pages.get("/bells").text)
    assert [("Monday", " data-today"), ("Friday", "")] == [d for d in days if "free" not in d[1]]
    assert ["Tuesday", "Wednesday", "Thursday"] == [d for d, rest in days if "free" in rest]


def test_what_may_be_left_at_the_bell(pages: TestClient) -> None:
    """Begun at 10:40 with the bell at 10:50 it is in the fixer and may not be left."""
    text = re.sub(r"<[^>]+>|\s+", " ", pages.get("/bells?begin=10:40&sheet=one+reel+20").text)
    assert re.search(r"finds it in\s+Fix\s*:\s+it may not be left", text)


def test_the_room_counts(pages: TestClient) -> None:
    """Two students to a tank need half the tanks; a number that cannot be is refused."""
    send(pages, "/bells", "/bells/room", stations="2", students_per_tank="3")
    assert "9 students, 3 tanks" in pages.get("/shelf").text
    assert 422 == send(pages, "/bells", "/bells/room", stations="0").status_code


def test_another_period_in_the_way_is_named(pages: TestClient) -> None:
    """The overlap is told at the period that has it, which need not be that of the form."""
    fields = {"name": "1", "starts": "08:10", "ends": "09:20", "days": ["monday"]}
    answer = send(pages, "/bells/periods/1", "/bells/periods/1", **fields)
    assert 422 == answer.status_code
    assert "<strong>Begins of period 2</strong>: overlaps period 1 on monday" in answer.text


def test_a_day_that_is_none_stays_in_its_field(pages: TestClient, school: DeskSettings) -> None:
    """The bells come again with all that was typed, the reason tied to the one wrong field."""
    before = (school.files_folder / "bells.toml").read_text(encoding="utf-8")
    typed = {"names": "A B C", "first_week_of": "2025-09-08", "clear_up_minutes": "7"}
    days = "2025-11-27 13.10.2025"
    answer = send(pages, "/bells", "/bells/table", **typed, closed=days)
    assert 422 == answer.status_code
    assert "<title>Error: Bells" in answer.text
    assert f">{days}</textarea>" in answer.text
    assert all(f'value="{text}"' in answer.text for text in typed.values())
    assert re.search(r'id="wrong-closed"><strong>Days without school</strong>', answer.text)
    assert 1 == answer.text.count('aria-invalid="true"')
    assert 'aria-invalid="true" aria-describedby="closed-help wrong-closed"' in answer.text
    assert before == (school.files_folder / "bells.toml").read_text(encoding="utf-8")


def test_a_period_that_ends_first_is_told_without_keys(pages: TestClient) -> None:
    """The reason speaks of what stands on the page, not of what the file calls it."""
    fields = {"name": "1", "days": ["monday"], "starts": "09:00", "ends": "08:00"}
    answer = send(pages, "/bells/periods/1", "/bells/periods/1", **fields)
    assert "<strong>Its bell</strong>: 08:00 is not after 09:00, when it starts" in answer.text


def test_how_many_finish_says_what_it_rests_on(pages: TestClient) -> None:
    """The device is busy until film hangs, and each roll is tempered again: that stands there."""
    text = pages.get("/bells").text
    assert "A device is busy until the film hangs, wherever that is washed." in text
    assert "ready 8 min after the bell, each later one 8 min after the film before it" in text
    assert 303 == send(pages, "/bells", "/bells/room", again_minutes="2").status_code
    assert "each later one 2 min after" in pages.get("/bells").text


def test_a_bell_of_another_day_is_said_with_its_day(
    pages: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On Friday morning after the last class the bell at 09:00 is Monday's."""
    friday = datetime(2025, 11, 21, 9, 55)  # noqa: DTZ001  # a bell table has no zone
    monkeypatch.setattr(schooltime, "now", lambda: friday)
    text = pages.get("/bells").text
    assert "started at 09:55, the bell at 09:00 on Monday finds it in" in text


def test_a_bell_far_away_is_not_held_against_the_roll_at_the_sink(
    pages: TestClient, school: DeskSettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """More than two hours before the bell nothing is said of the run that tempers now."""
    write_live(school.live_file, -600.0)
    for day, said in ((17, True), (21, False)):
        when = datetime(2025, 11, day, 10, 6)  # noqa: DTZ001  # a bell table has no zone
        monkeypatch.setattr(schooltime, "now", lambda when=when: when)
        assert said is ("At the sink now" in pages.get("/bells").text)


@pytest.mark.parametrize(
    ("now", "begin", "meant"),
    [
        ("2025-11-17T23:59", "00:10", "2025-11-18T00:10"),
        ("2025-11-17T00:05", "23:50", "2025-11-16T23:50"),
        ("2025-11-17T09:55", "09:40", "2025-11-17T09:40"),
        ("2025-11-17T16:00", "08:00", "2025-11-18T08:00"),
        ("2025-11-17T09:55", "soon", "2025-11-17T09:55"),
    ],
)
def test_a_start_is_the_coming_one_or_one_just_past(now: str, begin: str, meant: str) -> None:
    """At a minute to midnight ten past is tomorrow's; a quarter of an hour ago is today's."""
    found = bells.start_at(begin, datetime.fromisoformat(now))
    assert datetime.fromisoformat(meant) == found
