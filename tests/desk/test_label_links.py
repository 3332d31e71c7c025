"""The link that gives a label: when it is offered, what it opens, when it ends."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from wetside.journal.reader import Reader
from wetside.journal.schema import RunFilter
from wetside.journal.writer import Writer
from wetside_desk import formats
from wetside_desk.pages import slip
from wetside_desk.settings import DeskSettings
from wetside_desk.store import labels, periods
from wetside_desk.store.periods import RunPeriod

if TYPE_CHECKING:
    from tests.desk.asking import caretaker_of, desk_of
    from tests.desk.invented import SCHOOL_DAY, Story, distant, local, tell, tell_alone
else:
    from desk_asking import caretaker_of, desk_of
    from desk_invented import SCHOOL_DAY, Story, distant, local, tell, tell_alone


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
