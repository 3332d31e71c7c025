"""Many runs in figures, and few of them."""

from __future__ import annotations

import html
import re
from datetime import datetime, time
from typing import TYPE_CHECKING

import pytest

from wetside.development.bells import Period, Weekday
from wetside.journal.writer import Writer
from wetside_desk.bells.timing import Coming
from wetside_desk.digest import FEWEST_RUNS, Digest, Part, Share
from wetside_desk.pages import bells
from wetside_desk.store import notes, periods, uses

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import database_of, ids_of
    from tests.desk.invented import Story, local, tell

    from wetside_desk.settings import DeskSettings
else:
    from desk_asking import database_of, ids_of
    from desk_invented import Story, local, tell


def test_few_runs_have_no_middle() -> None:
    """Of four runs neither a median nor a percentage is told, of five both are."""
    few = Digest(whole=Part(outside=Share(2, FEWEST_RUNS - 1)), over=[1.0, 2.0, 300.0, 400.0])
    assert (None, None) == (few.median_over, few.percent_inside)
    enough = Digest(whole=Part(outside=Share(3, FEWEST_RUNS)), over=[1.0, 2.0, 3.0, 300.0, 400.0])
    assert (3.0, 40.0) == (enough.median_over, enough.percent_inside)


def test_the_summary_of_two_runs_says_too_few(folder: DeskSettings) -> None:
    """What was poured is counted and not put in per cent, and there is no median of two."""
    with Writer(folder.journal, "sink-1") as writer:
        for seed in (1, 2):
            tell(writer, Story(wall=Story().wall + 7200 * seed, seed=seed, outside=seed == 2))
    text = local(folder).get("/summary").text
    assert "<dt>Poured inside the window</dt><dd>1 of 2</dd>" in text
    assert "<dd>too few runs</dd>" in text


def test_the_summary_of_ten_runs_tells_minutes(client: TestClient) -> None:
    """The median stands as minutes and seconds, and says which way it is off."""
    text = client.get("/summary").text
    assert "too few runs" not in text
    found = client.app.state.desk.reader.runs().rows  # type: ignore[attr-defined]  # the desk inside
    over = sorted(
        row.actual_develop_seconds - row.planned_develop_seconds
        for row in found
        if row.actual_develop_seconds is not None and row.planned_develop_seconds is not None
    )
    middle = round((over[(len(over) - 1) // 2] + over[len(over) // 2]) / 2)
    assert f"<dd>{middle // 60}:{middle % 60:02d} longer</dd>" in text


def test_each_trouble_is_counted_by_week_and_by_period(folder: DeskSettings) -> None:
    """Late steps, runs given up and bad outcomes have bars for their week and their period."""
    first, later = Story().wall, Story().wall + 7 * 86_400
    with Writer(folder.journal, "sink-1") as writer:
        late = tell(writer, Story(wall=first, seed=1, late_seconds=60.0))
        good = tell(writer, Story(wall=first + 7200, seed=2))
        left = tell(writer, Story(wall=later, seed=3, abandon_in="wash"))
    client = local(folder)
    database = database_of(client)
    for run, period in ((late, "2"), (good, "2"), (left, "10")):
        periods.write(database, run, period)
    notes.write(database, late, "dense", "", 0)
    notes.write(database, good, "good", "", 0)
    text = client.get("/summary").text

    def told(chart: str) -> list[str]:
        drawn = text.partition(f'aria-label="{chart}"')[2].partition("</svg>")[0]
        return re.findall(r'aria-label="([^"]+)"', drawn)

    assert ["2025 week 46: 1 of 2"] == told("A step left too long, by week")
    assert ["2025 week 47: 1 of 1"] == told("Given up, by week")
    assert ["2: 1 of 2"] == told("A step left too long, by period")
    assert ["10: 1 of 1"] == told("Given up, by period")
    assert ["2: 1 of 2"] == told("Outcome other than good, of those judged, by period")


def test_each_bar_leads_to_the_runs_that_it_counts(client: TestClient) -> None:
    """The list behind a bar has as many runs as the bar says, also in a part of the time."""
    for number, run in enumerate(ids_of(client)):
        periods.write(database_of(client), run, str(number % 3))
        if number % 2:
            notes.write(database_of(client), run, ("good", "thin")[number % 4 // 2], "", 0)
    for asked in ("", "?sheet=one+reel+20&until=2025-11-14"):
        text = client.get(f"/summary{asked}").text
        found = re.findall(r'<a href="(/\?[^"]+)" aria-label="[^"]*: (\d+)[^"]*">', text)
        assert len(found) > 8
        for address, number in found:
            listed = client.get(html.unescape(address)).text
            assert int(number) == listed.count('<div class="run">'), address


@pytest.mark.parametrize(
    ("logged", "said"),
    [
        (0, "assumed, until runs are logged here"),
        (1, "mostly assumed, with 1 run logged here too few to go by"),
        (4, "mostly assumed, with 4 runs logged here too few to go by"),
        (5, "learnt from 5 runs"),
    ],
)
def test_few_runs_teach_nothing_of_hand_overs(
    client: TestClient,
    school: DeskSettings,
    monkeypatch: pytest.MonkeyPatch,
    logged: int,
    said: str,
) -> None:
    """The page of the bells says what its hand-over times rest on."""
    school.files_folder.mkdir(parents=True, exist_ok=True)
    (school.files_folder / "bells.toml").write_text(
        'format = 1\n[[period]]\nname = "3"\ndays = ["monday", "tuesday", "wednesday", '
        '"thursday", "friday"]\nstarts = 10:00:00\nends = 10:50:00\n'
    )
    monkeypatch.setattr(uses, "gaps", lambda _: [12.0] * logged)
    assert said in client.get("/bells").text


@pytest.mark.parametrize(
    ("now", "starts", "said"),
    [
        ("09:00", (600.0,), "One round begins at 10:10."),
        ("10:36", (600.0,), "One round was to begin at 10:10."),
        ("10:36", (600.0, 2400.0), "One round was to begin at 10:10. One round begins at 10:40."),
        ("09:00", (600.0, 2400.0), "Rounds begin at 10:10, 10:40."),
        ("10:36", (), ""),
    ],
)
def test_a_round_that_is_past_does_not_begin(
    now: str, starts: tuple[float, ...], said: str
) -> None:
    """In the middle of a period its earlier rounds are told as past."""
    day = datetime(2025, 11, 17)  # noqa: DTZ001  # a bell table has no zone
    period = Period(name="3", days=(Weekday.MONDAY,), starts=time(10), ends=time(10, 50))
    at = datetime.combine(day, time.fromisoformat(now))
    assert said == bells.rounds(Coming(day.date(), period), starts, at)
