"""The period of a run: read from the bells, or written by hand."""

from __future__ import annotations

import re
import sqlite3
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wetside.journal.schema import DESK_APPLICATION_ID
from wetside_desk import formats
from wetside_desk.bells.periods import PeriodKeeper, period_at
from wetside_desk.files import papers
from wetside_desk.store import labels, periods
from wetside_desk.store.database import MIGRATIONS, Database
from wetside_desk.store.periods import RunPeriod

if TYPE_CHECKING:
    from tests.desk import stocked
    from tests.desk.invented import Story, local, tell_alone

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_invented import Story, local, tell_alone


def at(text: str) -> datetime:
    """A moment as bell tables write it."""
    return datetime.fromisoformat(text)


@pytest.mark.parametrize(
    ("began", "period"),
    [
        ("2025-11-17T09:05:00", "2"),
        ("2025-11-17T09:54:59", "2"),
        ("2025-11-17T09:55:00", "3"),  # the bell of the second rang, the third begins in 5 min
        ("2025-11-17T09:02:00", "2"),  # tempering before the bell
        ("2025-11-17T08:55:00", "1"),  # ... but not while the period before is on
        ("2025-11-17T07:59:00", ""),
        ("2025-11-17T10:50:00", ""),
        ("2025-11-24T10:20:00", ""),  # a B week has no third period
        ("2025-11-18T10:20:00", "3-4"),
        ("2025-11-27T08:20:00", ""),  # no school
    ],
)
def test_period_of_a_moment(began: str, period: str) -> None:
    """The period that is on, or the one that begins within ten minutes."""
    assert period == period_at(papers.parse_bells(stocked.BELLS, "bells.toml"), at(began))


def table_around(wall: float, name: str = "5") -> str:
    """A bell table with one period around a moment, whatever the time zone of this machine."""
    when = formats.local(wall)
    return (
        f'format = 1\n[[period]]\nname = "{name}"\ndays = ["{when:%A}"]\n'
        f"starts = {when.hour:02d}:00:00\nends = {when.hour:02d}:59:59\n"
    ).lower()


def put(settings: DeskSettings, text: str) -> None:
    """Lay a bell table out."""
    settings.files_folder.mkdir(parents=True, exist_ok=True)
    (settings.files_folder / "bells.toml").write_text(text, encoding="utf-8")


def form_of(client: object) -> str:
    """The token that the forms carry."""
    found = re.search(r'name="form" value="([^"]+)"', client.get("/settings").text)  # type: ignore[attr-defined]  # a client
    assert found is not None
    return found[1]


def test_a_run_has_the_period_of_the_bells(folder: DeskSettings) -> None:
    """It stands in the list, on its page, on slips, in exports, and a search finds it."""
    story = Story()
    run = tell_alone(folder.journal, story)
    put(folder, table_around(story.wall))
    client = local(folder)
    client.app.state.desk.periods.look()  # type: ignore[attr-defined]  # what the caretaker does
    assert run in client.get("/?period=5").text
    assert run not in client.get("/?period=4").text
    assert "<h3>Period <bdi>5</bdi></h3>" in client.get("/").text
    assert "period <bdi>5</bdi>" in client.get("/slips").text
    assert 'data-name="Period"><bdi>5</bdi></td>' in client.get("/report").text
    assert 'name="period" value="5"' in client.get(f"/runs/{run}").text
    assert '"period":"5"' in client.get("/export/runs.jsonl").text


def test_a_hand_stands_above_the_bells(folder: DeskSettings) -> None:
    """A period written over it stays, also without a label; emptied, the bells speak again."""
    story = Story()
    run = tell_alone(folder.journal, story)
    put(folder, table_around(story.wall))
    client = local(folder)
    database = client.app.state.desk.database  # type: ignore[attr-defined]  # the desk inside
    data = {"form": form_of(client), "label": "", "period": "club", "seen_period": "5"}
    text = client.post(f"/runs/{run}/label", data=data).text
    assert "written by hand" in text
    assert {run: RunPeriod("club", by_hand=True)} == periods.of_runs(database, [run])
    assert {} == labels.of_runs(database, [run])
    data = {**data, "seen_period": "club"}
    client.post(f"/runs/{run}/label", data={**data, "period": "", "label": "K3"})
    assert "the one that the bells say" in client.get(f"/runs/{run}").text
    data = {**data, "seen_period": "5", "seen_label": "K3"}
    client.post(f"/runs/{run}/label", data={**data, "period": "5"})
    assert {} == labels.of_runs(database, [run])
    assert {run: RunPeriod("5")} == periods.of_runs(database, [run])


def test_a_new_table_leaves_earlier_runs_in_their_periods(folder: DeskSettings) -> None:
    """Next term's bells do not move last term's runs; a run outside them all is tried again."""
    story = Story()
    run = tell_alone(folder.journal, story)
    client = local(folder)
    keeper: PeriodKeeper = client.app.state.desk.periods  # type: ignore[attr-defined]  # the desk inside
    database = client.app.state.desk.database  # type: ignore[attr-defined]  # the desk inside
    put(folder, table_around(story.wall + 6 * 3600, "late"))
    keeper.look()
    assert {} == periods.of_runs(database, [run])
    put(folder, table_around(story.wall, "first"))
    keeper.look()
    assert {run: RunPeriod("first")} == periods.of_runs(database, [run])
    put(folder, table_around(story.wall, "second"))
    keeper.look()
    assert {run: RunPeriod("first")} == periods.of_runs(database, [run])


def test_an_untrusted_clock_gives_no_period(folder: DeskSettings) -> None:
    """A run whose begin may be wrong is not put into a period; the page says why."""
    story = Story(trusted=False)
    run = tell_alone(folder.journal, story)
    put(folder, table_around(story.wall))
    text = local(folder).get(f"/runs/{run}").text
    assert "The clock was not set when this run began" in text
    assert 'name="period" value=""' in text


def test_students_are_asked_only_where_the_bells_do_not_tell(folder: DeskSettings) -> None:
    """The page behind the code asks for the period until a bell table knows it."""
    story = Story()
    run = tell_alone(folder.journal, story)
    client = local(folder)
    database = client.app.state.desk.database  # type: ignore[attr-defined]  # the desk inside
    token, _ = labels.new_link(database, run)
    assert 'name="period"' in client.get(f"/L/{token}").text
    put(folder, table_around(story.wall))
    assert 'name="period"' not in client.get(f"/L/{token}").text
    client.post(f"/L/{token}", data={"label": "K3", "period": "9", "sure": "yes"})
    assert {run: RunPeriod("5")} == periods.of_runs(database, [run])


def test_periods_that_stood_with_labels_are_kept(tmp_path: Path) -> None:
    """A database of before has its periods afterwards, as written by hand."""
    path = tmp_path / "desk.sqlite3"
    with sqlite3.connect(path) as old:
        for statement in [one for version in MIGRATIONS[:2] for one in version]:
            old.execute(statement)
        old.execute("INSERT INTO label VALUES ('A', 'K3', '2', 1.0), ('B', 'K4', '', 1.0)")
        old.execute(f"PRAGMA application_id = {DESK_APPLICATION_ID}")
        old.execute("PRAGMA user_version = 2")
    old.close()
    database = Database(path)
    assert {"A": RunPeriod("2", by_hand=True)} == periods.of_runs(database, ["A", "B"])
    assert {"A": "K3", "B": "K4"} == {
        run: label.label for run, label in labels.of_runs(database, ["A", "B"]).items()
    }
    database.close()
