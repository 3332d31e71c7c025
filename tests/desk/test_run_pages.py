"""The list of runs, its search, and what the teacher writes to a run."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from wetside.journal.writer import Writer
from wetside.units import clock_text
from wetside_desk.pages import runs as run_pages
from wetside_desk.pages import words
from wetside_desk.store import labels, notes, periods, preferences

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import database_of, form_of, ids_of
    from tests.desk.invented import Story, local, tell, tell_alone

    from wetside_desk.settings import DeskSettings
else:
    from desk_asking import database_of, form_of, ids_of
    from desk_invented import Story, local, tell, tell_alone


def shown(text: str) -> list[str]:
    """Ids of the runs on a list page, in their order."""
    return re.findall(r'href="/runs/([0-9A-Z]{26})"', text)


def test_list_shows_every_run_in_order(client: TestClient) -> None:
    """The page lists what the API lists."""
    assert ids_of(client) == shown(client.get("/").text)


def test_from_and_to_a_day_are_bounds_of_their_own(client: TestClient) -> None:
    """A first day alone finds that day and all later ones, a last day alone all up to it."""
    listed = {run["id"]: run["listed_utc"] for run in client.get("/v1/runs").json()["runs"]}
    middle = sorted({f"{utc[:10]}" for utc in listed.values()})[1]
    for query, wanted in (
        (f"day={middle}", [run for run, utc in listed.items() if utc[:10] >= middle]),
        (f"until={middle}", [run for run, utc in listed.items() if utc[:10] <= middle]),
        (f"day={middle}&until={middle}", [run for run, utc in listed.items() if middle in utc]),
    ):
        assert wanted == shown(client.get(f"/?{query}").text), query


def test_the_day_of_a_run_is_that_day_alone(client: TestClient) -> None:
    """The links of a run's page to its day and to that day's slips end with the day."""
    text = client.get(f"/runs/{ids_of(client)[0]}").text
    found = re.findall(r'href="(?:/|/slips)\?day=([\d-]+)&amp;until=([\d-]+)"', text)
    assert 2 == len(found)
    assert all(first == last for first, last in found)


def test_search_by_what_only_the_desk_knows(client: TestClient) -> None:
    """Outcome, words of the note, label and period find exactly their runs, also together."""
    runs = ids_of(client)
    database = database_of(client)
    notes.write(database, runs[1], "thin", "Edge numbers Pale ÜBER", 0)
    notes.write(database, runs[2], "thin", "", 0)
    labels.give(database, runs[2], labels.checked("ab7"))
    labels.give(database, runs[3], labels.checked("ab7"))
    periods.write(database, runs[3], "4")
    for query, wanted in (
        ("outcome=thin", [runs[1], runs[2]]),
        ("text=pale", [runs[1]]),
        ("text=über", [runs[1]]),
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


def begun_otherwise(folder: DeskSettings, change: str) -> str:
    """A run in the journal whose begin was logged with another detail, an SQL expression of it."""
    with Writer(folder.journal, "sink-1") as writer:
        run = tell(writer, Story())
    with closing(sqlite3.connect(folder.journal)) as connection, connection:
        connection.execute(
            f"UPDATE event SET detail = {change} "  # the tests' own words
            "WHERE json_extract(detail, '$.sheet') IS NOT NULL"
        )
    return run


def test_a_run_of_another_version_is_shown_without_its_steps(folder: DeskSettings) -> None:
    """Its sheet cannot be read: the reason is told, everything else of the desk goes on."""
    run = begun_otherwise(folder, "json_set(detail, '$.sheet.step[0].of_another_version', 1)")
    with local(folder) as client:
        shown = client.get(f"/runs/{run}")
        assert (200, True) == (shown.status_code, "of_another_version" in shown.text)
        assert "of_another_version" in client.get(f"/runs/{run}/sheet").text
        assert [] == client.get(f"/v1/runs/{run}").json()["steps"]
        assert [200] * 3 == [client.get(page).status_code for page in ("/", "/shelf", "/bells")]
        assert "not counted" in client.get("/shelf/runs").text


def test_steps_and_events_count_from_the_press(folder: DeskSettings) -> None:
    """The row of the begin is written half a second after the press; both tables count from it."""
    run = begun_otherwise(folder, "json_set(detail, '$.at', json_extract(detail, '$.at') - 0.5)")
    with local(folder) as client:
        told = client.get(f"/v1/runs/{run}").json()
    assert 0.0 == told["events"][0]["after_seconds"]
    pour = next(event for event in told["events"] if event["kind"] == "now")
    develop = told["steps"][1]
    assert pour["after_seconds"] == pytest.approx(develop["began_after_seconds"], abs=0.01)


def test_compared_steps_stand_in_the_order_of_the_trade(client: TestClient) -> None:
    """What only the second run came to stands in its place, and not after the first one's end."""
    kinds = {
        run: [step["kind"] for step in client.get(f"/v1/runs/{run}").json()["steps"]]
        for run in ids_of(client)
    }
    longest = max(kinds, key=lambda run: len(kinds[run]))
    other = next(run for run in kinds if kinds[run][-1] == "hang" and "rinse" not in kinds[run])
    assert "rinse" in kinds[longest]
    page = client.get("/compare", params={"run": [other, longest]}).text
    order = [page.find(f'scope="row">{word}') for word in ("Develop", "Rinse", "Wash", "Hang")]
    assert -1 not in order
    assert sorted(order) == order


def test_every_step_is_compared(folder: DeskSettings) -> None:
    """Three washes are three rows, each with its own time, and not the last one alone."""
    with Writer(folder.journal, "sink-1") as writer:
        two = [tell(writer, Story(sheet=1, seed=seed, late_seconds=seed)) for seed in (2, 9)]
    client = local(folder)
    text = client.get("/compare", params={"run": two}).text
    rows = re.findall(r'scope="row">(Wash \d)</th>(.*?)</tr>', text)
    assert ["Wash 1", "Wash 2", "Wash 3"] == [name for name, _ in rows]
    for at, run in enumerate(two):
        steps = client.get(f"/v1/runs/{run}").json()["steps"]
        taken = [clock_text(step["actual_seconds"]) for step in steps if step["kind"] == "wash"]
        shown_there = [re.findall(r">([\d:]+) <small>", cells)[at] for _, cells in rows]
        assert taken == shown_there


def test_compared_runs_tell_whose_they_are(client: TestClient) -> None:
    """Label, period, sink, window and how each ended stand above the steps."""
    runs = ids_of(client)[:2]
    labels.give(database_of(client), runs[0], labels.checked("AB7"))
    periods.write(database_of(client), runs[1], "3")
    text = client.get("/compare", params={"run": runs}).text
    rows = dict(re.findall(r'scope="row">(\w[\w ]*)</th>(.*?)</tr>', text, re.DOTALL))
    cells = {name: re.findall(r">([^<>]+)(?:</bdi>)?</td>", row) for name, row in rows.items()}
    assert ["AB7", words.NOTHING] == cells["Label"]
    assert [words.NOTHING, "3"] == cells["Period"]
    assert ["sink-1"] * 2 == cells["Sink"]
    assert {"inside", "outside"} >= set(cells["Window"])
    assert ["Finished"] * 2 == cells["How it ended"]


def test_each_event_names_its_step(folder: DeskSettings) -> None:
    """A pour says what was poured, and the press that hangs the film pours nothing."""
    run = tell_alone(folder.journal, Story())
    text = local(folder).get(f"/runs/{run}").text
    rows = re.findall(
        r'data-name="Step">([^<]*)</td><td role="cell" data-name="Event">([^<]*)<', text
    )
    told = [row for row in rows if row[1].startswith(("Poured", "Hung", "Run begun"))]
    assert ("Temper", "Run begun") == told[0]
    assert ("Develop", "Poured in: developer") == told[1]
    assert ("Stop bath", "Poured in: stop bath") == told[2]
    assert ("Hang", "Hung up") == told[-1]
    assert ("Develop", "Prepare the next: stop bath") in rows


def test_a_run_says_at_its_head_whose_it_is(client: TestClient) -> None:
    """Sink, day, label and period stand under the title."""
    run = ids_of(client)[0]
    labels.give(database_of(client), run, labels.checked("AB7"))
    periods.write(database_of(client), run, "3")
    text = client.get(f"/runs/{run}").text
    head = re.sub("<[^>]+>", "", text.partition("</h1>")[2].partition("</p>")[0])
    assert re.search(r"^\s*AB7 \w+ \d+ November 2025, period 3, sink-1$", head)


@pytest.mark.parametrize("outside", [False, True])
def test_the_forecast_speaks_of_no_line_that_is_not_there(
    folder: DeskSettings, outside: bool
) -> None:
    """The level line is explained where the developer entered the window, and only there."""
    run = tell_alone(folder.journal, Story(outside=outside))
    client = local(folder)
    levels = client.get(f"/runs/{run}/forecast.json").json()["levels"]
    text = client.get(f"/runs/{run}").text
    assert bool(levels) == ("The broken level line is when it was." in text)
    assert outside == ("The developer did not enter the window." in text)


def test_runs_of_a_day_stand_by_period(client: TestClient) -> None:
    """The list has a heading for each period of a day, and one for runs outside of all."""
    runs = ids_of(client)
    assert "Outside every period" not in client.get("/").text
    periods.write(database_of(client), runs[0], "3")
    text = client.get("/").text
    assert text.index("Period <bdi>3</bdi></h3>") < text.index(runs[0])
    periods.write(database_of(client), runs[2], "1")
    assert "<h3>Outside every period</h3>" in client.get("/").text


PAGE = {"accept": "text/html"}


@pytest.mark.parametrize("address", ["/", "/summary", "/report", "/slips"])
def test_before_the_first_start_there_are_no_runs_yet(folder: DeskSettings, address: str) -> None:
    """A desk without a journal says so as a plain page, and still asks for a passphrase."""
    answer = local(folder).get(address, headers=PAGE)
    assert 200 == answer.status_code
    assert "No runs yet" in answer.text
    assert "The station has not been started here." in answer.text
    assert "/first-start" in answer.text
    assert "cannot be read" not in answer.text


def test_a_run_of_a_journal_that_is_not_there_is_not_found(folder: DeskSettings) -> None:
    """Its page is the same plain one, with the status of nothing there."""
    answer = local(folder).get("/runs/01KB0A7QJ8M3T5W9XYZ2C4D6EF", headers=PAGE)
    assert (404, True) == (answer.status_code, "No runs yet" in answer.text)


def test_a_broken_journal_is_said_on_pages(folder: DeskSettings) -> None:
    """What is no journal is not taken for a station that never started."""
    folder.journal.write_text("this is no database, but it is long enough to look at")
    answer = local(folder).get("/", headers=PAGE)
    assert 503 == answer.status_code
    assert "The journal cannot be read" in answer.text
    assert "No runs yet" not in answer.text


def test_the_report_says_when_and_of_whom(client: TestClient) -> None:
    """Above stand school and days; a date is whole, and written as people write it."""
    preferences.save(database_of(client), preferences.Preferences(school="Lower School"))
    text = client.get("/report").text
    assert re.search(
        r"<h1><bdi>Lower School</bdi>: 10 runs, \d+ \w+ 2025 to \d+ \w+ 2025</h1>", text
    )
    assert re.search(r'<span class="when">\d+ Nov 2025</span> <span class="when">\d\d:\d\d<', text)
    assert not re.search(r"\d{4}-\d\d-\d\d", text)


def test_a_run_given_up_before_the_pour_is_said_in_the_report(folder: DeskSettings) -> None:
    """It says how it ended, and in the place of its developing time that there was none."""
    with Writer(folder.journal, "sink-1") as writer:
        tell(writer, Story(abandon_in="develop"))
    with closing(sqlite3.connect(folder.journal)) as connection, connection:
        connection.execute(
            "UPDATE run SET planned_develop_ms = NULL, actual_develop_ms = NULL, poured_mc = NULL"
        )
    text = local(folder).get("/report").text
    assert 'data-name="Ended">Given up</td>' in text
    assert 'data-name="Develop">not developed</td>' in text
    assert f"{words.NOTHING} of" not in text


def test_the_printed_run_has_outcome_and_note(client: TestClient) -> None:
    """They stand as text too, for paper, where the form is left out."""
    run = ids_of(client)[0]
    text = client.get(f"/runs/{run}").text
    assert '<p class="print-only"><strong>Not judged yet</strong></p>' in text
    notes.write(database_of(client), run, "thin", "Edge <pale>", 0)
    text = client.get(f"/runs/{run}").text
    assert '<p class="print-only"><strong>Thin (too little density)</strong></p>' in text
    assert '<p class="print-only written" dir="auto">Edge &lt;pale&gt;</p>' in text


def ticked(text: str) -> list[str]:
    """Runs whose boxes are ticked on a list page."""
    return re.findall(r'name="run" value="(\w{26})"[^>]* checked', text)


def buttons(text: str, name: str) -> dict[str, str]:
    """What the list's form sends with one of its buttons, ticks aside."""
    form = text.partition('id="list">')[2].partition("</form>")[0]
    found = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form))
    button = re.search(rf'name="{name}" value="([^"]*)"', form)
    assert button is not None
    return {**found, name: button[1]}


def test_pages_of_the_list_lead_both_ways_with_what_was_ticked(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ticks of one page stand on the next, and later runs are reached again from earlier ones."""
    monkeypatch.setattr(run_pages, "PAGE_RUNS", 4)
    runs = ids_of(client)
    sheet = {"state": "finished"}
    first = client.get("/", params=sheet)
    assert "Later runs" not in first.text
    first_ids = shown(first.text)
    choice = [first_ids[0], first_ids[2]]
    second = client.get("/", params={**buttons(first.text, "earlier"), "run": choice})
    assert choice == ticked(second.text)
    assert first_ids[:1] != shown(second.text)[:1]
    assert 'name="state" value="finished"' in second.text
    third = client.get("/", params={**buttons(second.text, "earlier"), "run": choice})
    back = client.get("/", params=buttons(third.text, "later"))
    assert shown(second.text) == shown(back.text)
    top = client.get("/", params={**buttons(back.text, "later"), "run": choice})
    assert (first_ids, choice) == (shown(top.text), ticked(top.text))
    assert set(first_ids) <= set(runs)


@pytest.mark.parametrize("number", [0, 1, 5])
def test_a_choice_that_cannot_be_laid_over_each_other_stays(
    client: TestClient, number: int
) -> None:
    """The list comes again with the ticks, and says beside the button how many it takes."""
    runs = ids_of(client)[:number]
    answer = client.get("/compare", params={"run": runs, "sheet": "one reel 20"})
    assert 422 == answer.status_code
    assert f"Choose 2 to 4 runs to lay over each other, not {number}." in answer.text
    assert sorted(runs) == sorted(ticked(answer.text))
    assert '<option value="one reel 20" selected>' in answer.text


def test_texts_of_any_script_do_not_turn_what_stands_beside_them(client: TestClient) -> None:
    """Labels and periods that run from right to left are isolated on slips, lists and reports."""
    run = ids_of(client)[0]
    label, period = "محمد12", "الفصل 3"
    labels.give(database_of(client), run, labels.checked(label))
    periods.write(database_of(client), run, period)
    for page in ("/", "/slips", "/report"):
        text = client.get(page).text
        assert f"<bdi>{period}</bdi>" in text, page
        assert f"<bdi>{labels.checked(label).label}</bdi>" in text, page


@pytest.mark.parametrize(
    ("flag", "said"),
    [
        ("late-develop", "too long in the developer"),
        ("late-stop", "too long in the stop bath"),
        ("late-fix", "too long in the fixer"),
        ("ended-early-fix", "fix ended early"),
        ("held", "was on hold"),
        ("something-new", "something new"),
    ],
)
def test_a_late_step_names_the_bath_that_film_stayed_in(flag: str, said: str) -> None:
    """The journal flags the step that was over; the bath after it is the one that came late."""
    assert said == words.flag(flag)
