"""Labels: the link that gives one, how long they stay, one student forgotten."""

from __future__ import annotations

import asyncio
import json
import re
import shutil
import sqlite3
import time
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wetside.journal.reader import Reader
from wetside.journal.schema import RunFilter
from wetside.journal.writer import Writer
from wetside_desk import formats
from wetside_desk.bells.periods import PeriodKeeper
from wetside_desk.caretaker import Caretaker
from wetside_desk.context import Desk
from wetside_desk.pages import slip
from wetside_desk.settings import DeskSettings
from wetside_desk.shelf.counting import Counter
from wetside_desk.store import audit, labels, notes, periods
from wetside_desk.store.periods import RunPeriod
from wetside_desk.whereabouts import address_of, for_phones

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import database_of, desk_of, form_of, ids_of
    from tests.desk.invented import SCHOOL_DAY, Story, distant, local, tell, tell_alone, write_live
else:
    from desk_asking import database_of, desk_of, form_of, ids_of
    from desk_invented import SCHOOL_DAY, Story, distant, local, tell, tell_alone, write_live


def caretaker_of(desk: Desk) -> Caretaker:
    """A caretaker whose looks a test asks for."""
    files = desk.settings.files_folder
    return Caretaker(
        desk.settings,
        desk.reader,
        desk.database,
        desk.gate.claim,
        Counter(desk.reader, desk.database, files / "shelf.toml"),
        PeriodKeeper(desk.reader, desk.database, files / "bells.toml"),
        None,
    )


def test_old_labels_are_removed_and_runs_stay(client: TestClient) -> None:
    """After the chosen number of days a label goes; the run and its note stay."""
    runs = ids_of(client)
    desk = desk_of(client)
    for run in runs[:2]:
        labels.give(desk.database, run, labels.checked("AB7"))
    notes.write(desk.database, runs[0], "good", "fine", 0)
    keeper = caretaker_of(desk)
    day = 86400.0
    assert 0 == keeper.clean(SCHOOL_DAY + 364 * day)
    assert 2 == keeper.clean(SCHOOL_DAY + 376 * day)
    assert {} == labels.of_runs(desk.database, runs)
    assert "fine" == notes.of_run(desk.database, runs[0]).note
    assert runs == ids_of(client)


def test_a_label_is_as_old_as_its_run(client: TestClient) -> None:
    """Given while the clock stood years behind or ahead, it stays as long as any other."""
    runs, desk = ids_of(client), desk_of(client)
    for run, wrong in zip(runs, (0.0, SCHOOL_DAY + 4000 * 86400.0), strict=False):
        labels.give(desk.database, run, replace(labels.checked("AB7"), given=wrong))
    keeper = caretaker_of(desk)
    assert 0 == keeper.clean(SCHOOL_DAY + 364 * 86400.0)
    assert 2 == keeper.clean(SCHOOL_DAY + 376 * 86400.0)


def test_without_a_journal_a_label_is_as_old_as_it_was_given(client: TestClient) -> None:
    """Somebody deleted the journal: the labels of its runs go all the same."""
    run, desk = ids_of(client)[0], desk_of(client)
    labels.give(desk.database, run, labels.checked("AB7"))
    keeper = caretaker_of(desk)
    desk.reader.close()
    desk.settings.journal.unlink()
    assert 0 == keeper.clean(time.time() + 364 * 86400.0)
    assert 1 == keeper.clean(time.time() + 366 * 86400.0)


def test_a_label_of_a_run_without_a_clock_is_as_old_as_it_was_given(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sink that never learnt the time puts its run 500 days back; the label given today stays."""
    run, desk = ids_of(client)[0], desk_of(client)
    row = desk.reader.run(run)
    assert row is not None
    now = time.time()
    back = replace(
        row,
        began=replace(row.began, trusted=False),
        listed_wall_seconds=now - 500 * 86400.0,
    )
    monkeypatch.setattr(desk.reader, "run", lambda _: back)
    labels.give(desk.database, run, labels.checked("AB7"))
    keeper = caretaker_of(desk)
    assert 0 == keeper.clean(now + 3600.0)
    assert 1 == keeper.clean(now + 366 * 86400.0)


@pytest.mark.parametrize("clock", ["trusted", "wrong", "silent"])
def test_nothing_is_removed_by_a_clock_that_nobody_trusts(client: TestClient, clock: str) -> None:
    """Labels and entries wait until a station runs that trusts the clock."""
    run, desk = ids_of(client)[0], desk_of(client)
    labels.give(desk.database, run, labels.checked("AB7"))
    audit.add(desk.database, "teacher", "something")
    write_live(
        desk.settings.live_file,
        age_seconds=60.0 if clock == "silent" else 0.0,
        trusted=clock != "wrong",
    )
    keeper = caretaker_of(desk)
    keeper.look(time.time() + 800 * 86400.0)
    gone = clock == "trusted"
    assert gone == (labels.of_run(desk.database, run) is None)
    assert gone == ("something" not in [one.action for one in audit.latest(desk.database)])


def test_one_student_is_exported_and_forgotten(client: TestClient) -> None:
    """The export of a label holds exactly its runs; forgetting removes label and notes."""
    runs = ids_of(client)
    database = database_of(client)
    for run in runs[2:5]:
        labels.give(database, run, labels.checked("AB7"))
        notes.write(database, run, "good", "about AB7", 0)
    lines = client.get("/export/runs.jsonl?label=AB7").text.splitlines()
    assert runs[2:5] == [json.loads(line)["id"] for line in lines]
    form = {"form": form_of(client), "label": "ab7"}
    assert 422 == client.post("/settings/forget", data=form).status_code
    assert 3 == len(labels.runs_with(database, "AB7"))
    client.post("/settings/forget", data={**form, "sure": "on"})
    assert () == labels.runs_with(database, "AB7")
    assert notes.Note() == notes.of_run(database, runs[2])
    assert "AB7" not in repr(audit.latest(database))
    kept = [path.read_bytes() for path in database.path.parent.glob("*.sqlite3*")]
    assert kept
    assert not any(b"AB7" in content for content in kept)


def test_a_stale_page_takes_no_label_away(client: TestClient) -> None:
    """A student gives the label while the run's page stands open: its other field is kept alone."""
    run, database = ids_of(client)[0], database_of(client)
    form = {"form": form_of(client), "label": "", "seen_label": "", "seen_period": ""}
    labels.give(database, run, labels.checked("AB7"))
    saved = client.post(f"/runs/{run}/label", data={**form, "period": "5"})
    assert 200 == saved.status_code
    given = labels.of_run(database, run)
    assert given is not None
    assert "AB7" == given.label
    assert {run: RunPeriod("5", by_hand=True)} == periods.of_runs(database, [run])
    for late in ({"label": "CD8"}, {"period": "6"}):
        answer = client.post(f"/runs/{run}/label", data={**form, **late})
        assert 409 == answer.status_code
    assert given == labels.of_run(database, run)
    assert {run: RunPeriod("5", by_hand=True)} == periods.of_runs(database, [run])


def test_a_label_is_removed_by_somebody_who_saw_it(client: TestClient) -> None:
    """The form carries the label that it shows; emptied, it takes that one away."""
    run, database = ids_of(client)[0], database_of(client)
    labels.give(database, run, labels.checked("AB7"))
    assert 'name="seen_label" value="AB7"' in client.get(f"/runs/{run}").text
    client.post(
        f"/runs/{run}/label", data={"form": form_of(client), "label": "", "seen_label": "AB7"}
    )
    assert labels.of_run(database, run) is None


def test_a_label_outside_the_english_letters_is_found_as_typed(client: TestClient) -> None:
    """Given, looked for and forgotten in small letters; kept in capitals."""
    run, database = ids_of(client)[0], database_of(client)
    labels.give(database, run, labels.checked("märz"))
    assert (run,) == labels.runs_with(database, "märz")
    assert 1 == labels.forget(database, "märz")
    assert {} == labels.of_runs(database, [run])


def test_what_a_restore_set_aside_forgets_too(client: TestClient) -> None:
    """Forgetting a student and the end of the school year reach the copies; a broken one stays."""
    runs, database = ids_of(client), database_of(client)
    for run, label in zip(runs, ("AB7", "CD8", "EF9"), strict=False):
        labels.give(database, run, labels.checked(label))
        notes.write(database, run, "good", f"about {label}", 0)
    database.close()
    aside = database.path.with_name("desk.replaced-1.sqlite3")
    shutil.copy(database.path, aside)
    broken = database.path.with_name("desk.replaced-2.sqlite3")
    broken.write_bytes(b"no database")
    database.path.with_name("desk.replaced-3.sqlite3").mkdir()
    assert 1 == labels.forget(database, "AB7")
    content = aside.read_bytes()
    assert (False, True) == (b"AB7" in content, b"about CD8" in content)
    assert 2 == labels.expire(database, time.time() + 1.0, lambda _, given: given)
    with closing(sqlite3.connect(aside)) as connection:
        assert [] == connection.execute("SELECT label FROM label").fetchall()
    assert b"no database" == broken.read_bytes()


def test_a_label_that_stands_only_aside_is_counted(client: TestClient) -> None:
    """The page says of how many runs it was removed, wherever they were kept."""
    first, second, *_ = ids_of(client)
    database = database_of(client)
    labels.give(database, first, labels.checked("OLD1"))
    labels.give(database, second, labels.checked("OLD1"))
    database.close()
    shutil.copy(database.path, database.path.with_name("desk.replaced-1.sqlite3"))
    labels.give(database, first, None, "OLD1")
    assert 2 == labels.forget(database, "OLD1")
    assert 0 == labels.forget(database, "OLD1")


def test_the_label_of_the_run_that_ended_last_is_offered(folder: DeskSettings) -> None:
    """A run that a wrong clock put years ahead stands in lists above it, and is not meant."""
    journal = folder.journal
    with Writer(journal, "sink-1") as writer:
        ahead = SCHOOL_DAY + 15 * 365 * 86400.0
        tell(writer, Story(wall=ahead, trusted=False, sample_every=60.0), boot="wrong")
        run = tell(writer, Story(sample_every=60.0), boot="right")
    desk = desk_of(local(replace(folder, address="http://192.168.1.20:8470")))
    row = desk.reader.run(run)
    assert row is not None
    assert row.ended is not None
    assert run != desk.reader.runs(limit=1).rows[0].id
    keeper = caretaker_of(desk)
    keeper.look(row.ended.wall_seconds + 5)
    assert run == json.loads((folder.live / "label.json").read_text())["run"]


def test_label_is_offered_when_a_run_has_ended(folder: DeskSettings) -> None:
    """Within half an hour after the end, the note to the display has a link that works, once."""
    run = tell_alone(folder.journal, Story())
    client = local(replace(folder, address="http://192.168.1.20:8470"))
    desk = desk_of(client)
    with Reader(folder.journal) as reader:
        row = reader.run(run)
    assert row is not None
    assert row.ended is not None
    keeper = caretaker_of(desk)
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
    folder = Path("/nowhere")
    assert "http://127.0.0.1:8470" == address_of(DeskSettings(folder, folder, folder))
    named = DeskSettings(folder, folder, folder, address="http://sink-1.local:8470/")
    assert "http://sink-1.local:8470" == address_of(named)


@pytest.mark.parametrize(
    ("address", "open_to_phones"),
    [
        ("http://192.0.2.7:8470", True),
        ("https://sink-1.local", True),
        ("http://127.0.0.1:8470", False),
        ("http://localhost:8470", False),
        ("http://[::1]:8470", False),
    ],
)
def test_an_address_of_this_machine_alone_is_not_given_to_phones(
    address: str, open_to_phones: bool
) -> None:
    """Loopback, by name or number, cannot be opened from elsewhere."""
    assert open_to_phones == for_phones(address)


def test_the_station_page_offers_no_code_that_no_phone_can_open(client: TestClient) -> None:
    """On loopback it says how to let phones in instead."""
    page = client.get("/station").text
    assert "--host 0.0.0.0" in page
    assert "code-card" not in page


def test_the_station_page_speaks_of_this_place(client: TestClient) -> None:
    """Health is told in local time, in gigabytes and in sentences."""
    folder = desk_of(client).settings
    write_live(folder.live_file, troubles={"probe": "failed read"})
    page = client.get("/station").text
    when = formats.local(SCHOOL_DAY)
    assert f"It is {when:%A} {when.day} {when:%B %Y}, {when:%H:%M}." in page
    assert re.search(r"10 runs with [\d,]+ readings\.", page)
    assert re.search(r"[\d.]+ [GM]B free for the journal\.", page)
    assert "The probe could not be read." in page
    assert "probe: " not in page


def test_label_link_works_once(claimed: DeskSettings) -> None:
    """A link gives its run the label; replayed, it is refused and changes nothing."""
    client = distant(claimed)
    desk = desk_of(client)
    run = desk.reader.runs().rows[0].id
    token, _ = labels.new_link(desk.database, run)
    assert 200 == client.get(f"/L/{token}").status_code
    data = {"label": "ab7", "period": "3", "sure": "yes"}
    assert 200 == client.post(f"/L/{token}", data=data).status_code
    given = labels.of_run(desk.database, run)
    assert given is not None
    assert "AB7" == given.label
    assert {run: RunPeriod("3", by_hand=True)} == periods.of_runs(desk.database, [run])
    assert 403 == client.post(f"/L/{token}", data={**data, "label": "other"}).status_code
    assert 403 == client.get(f"/L/{token}").status_code
    assert given == labels.of_run(desk.database, run)


def test_a_link_puts_no_label_in_place_of_the_teachers(claimed: DeskSettings) -> None:
    """A label that the teacher gave meanwhile stays; without it the link is good again."""
    client = distant(claimed)
    desk = desk_of(client)
    run = desk.reader.runs().rows[0].id
    token, _ = labels.new_link(desk.database, run)
    assert 200 == client.get(f"/L/{token}").status_code
    labels.give(desk.database, run, labels.checked("K7"))
    data = {"label": "Z9", "sure": "yes"}
    assert 403 == client.post(f"/L/{token}", data=data).status_code
    assert labels.use_link(desk.database, token, labels.checked("Z9")) is None
    given = labels.of_run(desk.database, run)
    assert given is not None
    assert "K7" == given.label
    labels.give(desk.database, run, None, "K7")
    assert 200 == client.post(f"/L/{token}", data=data).status_code


def test_a_label_is_asked_for_once_more(claimed: DeskSettings) -> None:
    """Until whoever types it is sure, nothing is stored and the link stays good."""
    client = distant(claimed)
    desk = desk_of(client)
    run = desk.reader.runs().rows[0].id
    token, _ = labels.new_link(desk.database, run)
    data = {"label": "ab7", "period": "3"}
    asked = client.post(f"/L/{token}", data=data).text
    assert "Is this right?" in asked
    assert 'name="label" value="AB7"' in asked
    changed = client.post(f"/L/{token}", data={**data, "sure": "no"}).text
    assert "Whose film is this?" in changed
    assert 'name="label" value="AB7"' in changed
    assert labels.of_run(desk.database, run) is None
    assert {} == periods.of_runs(desk.database, [run])
    kept = client.post(f"/L/{token}", data={**data, "sure": "yes"}).text
    assert "AB7" in kept
    assert labels.of_run(desk.database, run) is not None


def test_the_label_page_says_which_roll(claimed: DeskSettings) -> None:
    """Two tanks hang side by side: the time and the sheet tell which one is meant."""
    client = distant(claimed)
    desk = desk_of(client)
    row = desk.reader.runs(RunFilter(state="finished")).rows[0]
    assert row.ended is not None
    when = f"{formats.local(row.ended.wall_seconds):%H:%M}"
    token, _ = labels.new_link(desk.database, row.id)
    said = f"Roll hung at {when}, {row.sheet_name}"
    assert said in client.get(f"/L/{token}").text
    assert said in client.post(f"/L/{token}", data={"label": "K3"}).text
    doubtful = replace(row, ended=replace(row.ended, trusted=False))
    assert f"at {when} by a clock that was not set" in slip.which(doubtful)
    assert slip.which(replace(row, state="abandoned")).startswith("Roll ended at ")
    assert f"Roll of {row.sheet_name}" == slip.which(replace(row, ended=None))


def test_label_page_shows_nothing_else_of_the_run(claimed: DeskSettings) -> None:
    """The capability is for giving a label, not for looking."""
    client = distant(claimed)
    desk = desk_of(client)
    row = desk.reader.runs().rows[0]
    token, _ = labels.new_link(desk.database, row.id)
    text = client.get(f"/L/{token}").text
    assert row.id not in text
    assert row.sheet_title not in text
    assert "°C" not in text


def test_label_link_expires(claimed: DeskSettings) -> None:
    """After half an hour a link gives nothing any more."""
    client = distant(claimed)
    desk = desk_of(client)
    run = desk.reader.runs().rows[0].id
    token, _ = labels.new_link(desk.database, run, now=time.time() - labels.LINK_SECONDS - 1)
    assert 403 == client.post(f"/L/{token}", data={"label": "AB7"}).status_code


def test_label_link_of_a_clock_that_was_ahead_ends(
    claimed: DeskSettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once the clock is right the link opens nothing, not even for its half hour."""
    now = time.time()
    desk = desk_of(distant(claimed))
    run = desk.reader.runs().rows[0].id
    token, _ = labels.new_link(desk.database, run, now + 86400.0)
    assert labels.run_of_link(desk.database, token) is None
    monkeypatch.setattr("wetside_desk.store.labels.time.time", lambda: now + 86400.0)
    assert run == labels.run_of_link(desk.database, token)


@pytest.mark.parametrize("label", ["", "nine chars", "A B", "<script>", "=1+1", "Müller-Lüd"])
def test_labels_are_short_letters_and_digits(claimed: DeskSettings, label: str) -> None:
    """Anything but a short word of letters and digits is refused and the link stays good."""
    client = distant(claimed)
    desk = desk_of(client)
    token, _ = labels.new_link(desk.database, desk.reader.runs().rows[0].id)
    assert 422 == client.post(f"/L/{token}", data={"label": label}).status_code
    assert 200 == client.get(f"/L/{token}").status_code


def test_guessing_links_is_slowed(claimed: DeskSettings) -> None:
    """After twenty links a client has to wait."""
    client = distant(claimed)
    codes = [client.get(f"/L/GUESS{n:07d}").status_code for n in range(21)]
    assert [403] * 20 + [429] == codes


def test_the_caretaker_goes_on_after_a_mistake(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """A look that breaks off is told in the log, and the next one removes old labels."""
    desk = desk_of(client)
    keeper = caretaker_of(desk)
    looks: list[int] = []

    def look() -> None:
        looks.append(len(looks))
        if len(looks) == 1:
            raise sqlite3.OperationalError("database is locked")

    async def some_looks() -> None:
        task = asyncio.create_task(keeper.run())
        while len(looks) < 3 and not task.done():
            await asyncio.sleep(0.01)
        task.cancel()

    monkeypatch.setattr(keeper, "look", look)
    monkeypatch.setattr("wetside_desk.caretaker.EVERY_SECONDS", 0.01)
    asyncio.run(some_looks())
    assert len(looks) >= 3
    assert "database is locked" in caplog.text


def test_a_database_that_somebody_holds_is_told_and_not_broken(client: TestClient) -> None:
    """Another program writes for long: the page says that it cannot be written now."""
    run, database = ids_of(client)[0], database_of(client)
    token = form_of(client)
    with closing(sqlite3.connect(database.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = client.post(f"/runs/{run}/note", data={"form": token, "version": "0"})
        other.execute("ROLLBACK")
    assert 503 == answer.status_code
    assert "desk.sqlite3 cannot be written now" in answer.text


def test_deleted_labels_are_overwritten(client: TestClient) -> None:
    """The desk's database is told so, and not left to how this machine's SQLite was built."""
    with database_of(client).read() as connection:
        assert (1,) == connection.execute("PRAGMA secure_delete").fetchone()
