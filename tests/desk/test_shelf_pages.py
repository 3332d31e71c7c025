"""The pages of the shelf, as forms: what is kept, what is refused, what is said."""

from __future__ import annotations

import html
import re
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside.development.figures import (
    ACID_FIXER_ROLLS,
    FIXER_PART_FULL_DAYS,
    REUSE_TIME,
    STOCK_DAYS,
)
from wetside_desk import schooltime
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from tests.desk import stocked
    from tests.desk.asking import hidden, send, shelf_file

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_asking import hidden, send, shelf_file


def test_the_first_bottle(folder: DeskSettings, bare: TestClient) -> None:
    """The form makes the file; volumes may come in litres or fluid ounces."""
    fields = {
        "label": "Fixer 1",
        "holds": "fixer",
        "strength": "1+4",
        "millilitres": "2 L",
        "mixed_on": "2025-11-17",
        "use": "reused",
        "rolls_per_litre": "20",
    }
    assert 303 == send(bare, "/shelf/new", "/shelf/new", **fields).status_code
    fields |= {"label": "Fixer 2", "millilitres": "32 fl oz"}
    assert 303 == send(bare, "/shelf/new", "/shelf/new", **fields).status_code
    assert [2000, 946.4] == [one["millilitres"] for one in shelf_file(folder)["bottle"]]
    assert "40 of 40 rolls left" in bare.get("/shelf").text


def test_wrong_fields_come_back_as_they_were(pages: TestClient, school: DeskSettings) -> None:
    """Every wrong field is named as it is labelled, what was typed stays, nothing is kept."""
    before = shelf_file(school)
    fields = {"label": "New", "holds": "fixer", "strength": "1:4", "millilitres": "1 L"}
    fields |= {"mixed_on": "2025-11-17", "use": "reused"}
    answer = send(pages, "/shelf/new", "/shelf/new", **fields)
    assert 422 == answer.status_code
    assert "<strong>Strength</strong>: &#39;1:4&#39;: a colon" in answer.text
    assert "bottle[" not in answer.text
    assert 'value="1:4"' in answer.text
    assert before == shelf_file(school)


def test_the_form_shows_what_the_trade_says(bare: TestClient) -> None:
    """Beside capacity, ages and longer time stand the figures for a label that says nothing."""
    page = html.unescape(bare.get("/shelf/new").text)
    for figure in (ACID_FIXER_ROLLS, FIXER_PART_FULL_DAYS, STOCK_DAYS, REUSE_TIME):
        assert figure.text in page


def test_stock_from_powder_is_counted_in_rolls_and_a_concentrate_is_not(bare: TestClient) -> None:
    """A litre at 1+1 holds stock for two rolls, whatever is washed below; 1+50 is a liquid's."""
    page = "/shelf/mixing?holds=developer&total=1+L&rolls=4&strength="
    assert "500 mL of it are enough for 2 rolls" in bare.get(f"{page}1%2B1").text
    thin = bare.get(f"{page}1%2B50").text
    assert "made from powder" not in thin
    assert "longer time" not in thin


def test_a_nought_that_was_written_stands_in_the_form(
    folder: DeskSettings, bare: TestClient
) -> None:
    """A reused developer is doubted without a longer time; 0 is an answer, and is shown as one."""
    fields = {"label": "Dev", "holds": "developer", "strength": "stock", "millilitres": "1 L"}
    fields |= {"mixed_on": "2025-11-17", "use": "reused", "rolls_per_litre": "4"}
    fields |= {"keeps_full_days": "180"}
    send(bare, "/shelf/new", "/shelf/new", **fields)
    assert "Reused without a longer time" in bare.get("/shelf").text
    page = "/shelf/bottles/Dev"
    assert 303 == send(bare, page, f"{page}/change", **fields, longer_per_roll="0").status_code
    assert 0 == shelf_file(folder)["bottle"][0]["longer_per_roll"]
    assert "Reused without a longer time" not in bare.get("/shelf").text
    assert 'name="longer_per_roll" inputmode="decimal" value="0"' in bare.get(page).text


def test_renaming_a_bottle_keeps_its_rolls(pages: TestClient) -> None:
    """The runs go with the bottle, not with the words on it."""
    page = "/shelf/bottles/Stop%201"
    text = pages.get(page).text
    fields = dict(re.findall(r'<input id="[^"]+" name="(\w+)"[^>]* value="([^"]*)"', text))
    fields |= {"holds": "stop bath", "use": "reused", "label": "Stop A"}
    assert 303 == send(pages, page, f"{page}/change", **fields).status_code
    found = pages.get("/v1/shelf").json()["bottles"][1]
    assert ("Stop A", 11.0) == (found["label"], found["rolls"])


def test_a_date_still_to_come_is_pointed_at(pages: TestClient) -> None:
    """A bottle mixed in 2099 is no bottle of minus so many days."""
    fields = {"label": "New", "holds": "developer", "use": "once", "millilitres": "1000"}
    send(pages, "/shelf/new", "/shelf/new", mixed_on="2099-01-01", **fields)
    page = pages.get("/shelf").text
    assert "still to come" in page
    assert " days ago" not in page.split("still to come")[1][:80]
    assert "-26" not in page


def test_the_timers_time_is_judged(pages: TestClient) -> None:
    """80 s against 40 s fresh: the page says to collect it and mix new."""
    page = "/shelf/bottles/Fixer%201"
    answer = send(pages, page, f"{page}/test", clearing_seconds="80.2")
    assert "collect it and mix new" in pages.get(answer.headers["location"]).text
    assert "Not to be used" in pages.get("/shelf").text


def test_a_clearing_time_is_taken_as_pages_write_it(pages: TestClient) -> None:
    """1:10 is seventy seconds; what is no time stays in its field with the reason."""
    page = "/shelf/bottles/Fixer%201"
    assert 303 == send(pages, page, f"{page}/test", clearing_seconds="1:10").status_code
    assert "clears in 1:10" in pages.get(page).text
    answer = send(pages, page, f"{page}/test", clearing_seconds="1:75")
    assert 422 == answer.status_code
    assert re.search(r'name="clearing_seconds"[^>]* value="1:75" aria-invalid', answer.text)


@pytest.mark.parametrize("fields", [{}, {"clearing_seconds": "soon"}, {"colour": "green"}])
def test_no_test_is_refused(pages: TestClient, fields: dict[str, str]) -> None:
    """Neither a time nor a colour."""
    page = "/shelf/bottles/Fixer%201"
    assert 422 == send(pages, page, f"{page}/test", **fields).status_code


def test_a_count_is_put_right(pages: TestClient) -> None:
    """A run that took the other fixer is moved there, and may be taken off altogether."""
    use = next(
        use for use in pages.get("/v1/shelf/uses").json()["uses"] if use["bottle"] == "Fixer 1"
    )
    fields = {"run": use["run"], "old": "Fixer 1", "new": "Fixer 2"}
    send(pages, "/shelf/runs", "/shelf/runs/move", **fields)
    rolls = {one["label"]: one["rolls"] for one in pages.get("/v1/shelf").json()["bottles"]}
    assert (17.0 - use["rolls"], use["rolls"]) == (rolls["Fixer 1"], rolls["Fixer 2"])
    fields = {"run": use["run"], "old": "Fixer 2", "new": ""}
    send(pages, "/shelf/runs", "/shelf/runs/move", **fields)
    assert 0.0 == pages.get("/v1/shelf").json()["bottles"][3]["rolls"]
    assert 422 == send(pages, "/shelf/runs", "/shelf/runs/move", **fields).status_code


def test_mixed_anew_by_the_form(pages: TestClient) -> None:
    """The card is full again, once the tick says that it was meant."""
    page = "/shelf/bottles/Stop%201"
    assert 422 == send(pages, page, f"{page}/renew", mixed_on="2025-11-17").status_code
    assert "12 of 12 rolls left" not in pages.get("/shelf").text
    assert 303 == send(pages, page, f"{page}/renew", mixed_on="2025-11-17", sure="on").status_code
    assert "12 of 12 rolls left" in pages.get("/shelf").text


def test_a_bottle_is_taken_away_once(pages: TestClient) -> None:
    """Nor does one without its tick; a page that is older than the file takes nothing away."""
    page = "/shelf/bottles/Wetting"
    seen = hidden(pages.get(page).text, "seen")
    assert 422 == send(pages, page, f"{page}/take").status_code
    assert 303 == send(pages, page, f"{page}/take", sure="on").status_code
    other = "/shelf/bottles/Clearing"
    token = hidden(pages.get(other).text, "form")
    sent = {"form": token, "seen": seen, "sure": "on"}
    answer = pages.post(f"{other}/take", data=sent, follow_redirects=False)
    assert 422 == answer.status_code
    assert 5 == len(pages.get("/v1/shelf").json()["bottles"])


def test_the_last_test_of_a_day_is_the_one_that_is_told(pages: TestClient) -> None:
    """Fresh 40 s: 50 s in the morning, 90 s at noon; shelf and bottle say that it is done."""
    page = "/shelf/bottles/Fixer%201"
    for seconds in ("50", "90"):
        assert 303 == send(pages, page, f"{page}/test", clearing_seconds=seconds).status_code
    assert (
        "Tested on 17 Nov 2025: clears in 1:30, fresh 0:40: twice as long"
        in pages.get("/shelf").text
    )
    rows = re.findall(r"<td[^>]*>(clears in [\d:]+)", pages.get(page).text)
    assert ["clears in 1:30", "clears in 0:50", "clears in 0:55"] == rows


@pytest.mark.parametrize(
    ("bottle", "fields", "says"),
    [
        ("Fixer 1", {"clearing_seconds": "61"}, "Written down: clears in 1:01, fresh 0:40: fix"),
        ("Fixer 1", {"clearing_seconds": "42", "fresh": "yes"}, "Written down: clears in 0:42"),
        ("Stop 1", {"colour": "purple"}, "Written down: Purple in the bottle: spent, mix new."),
    ],
)
def test_reloading_the_answer_writes_no_second_test(
    pages: TestClient, school: DeskSettings, bottle: str, fields: dict[str, str], says: str
) -> None:
    """The answer to a test leads to a page that says what it came to; that page may be loaded."""
    page = f"/shelf/bottles/{bottle.replace(' ', '%20')}"
    answer = send(pages, page, f"{page}/test", **fields)
    assert 303 == answer.status_code
    written = shelf_file(school)
    for _ in range(2):
        assert says in pages.get(answer.headers["location"]).text
    assert written == shelf_file(school)


def test_bath_2_takes_the_place_of_bath_1_by_a_form(
    pages: TestClient, school: DeskSettings
) -> None:
    """The page of bath 1 offers it; a day that is still to come is refused with the reason."""
    text = stocked.SHELF.replace(
        'use = "reused"\nrolls_per_litre = 20', 'use = "two-bath"\nbath = 1'
    )
    text = text.replace("bath = 1", "rolls_per_litre = 20\nbath = 1", 1)
    text = text.replace("\nbath = 1\nfresh", "\nrolls_per_litre = 20\nbath = 2\nfresh", 1)
    (school.files_folder / "shelf.toml").write_text(text, encoding="utf-8")
    page = "/shelf/bottles/Fixer%201"
    assert "Bath 2 becomes bath 1" in pages.get(page).text
    assert "Bath 2 becomes bath 1" not in pages.get("/shelf/bottles/Fixer%202").text
    fields = {"bath_2": "Fixer 2", "sure": "on"}
    late = send(pages, page, f"{page}/move-up", **fields, mixed_on="2025-11-18")
    assert 422 == late.status_code
    assert "2025-11-18 is still to come: by this device" in late.text
    good = send(pages, page, f"{page}/move-up", **fields, mixed_on="2025-11-17")
    assert 303 == good.status_code
    assert [2, 1] == [one.get("bath") for one in shelf_file(school)["bottle"][2:4]]
    for shown in ("/shelf", page, "/shelf/bottles/Fixer%202", "/shelf/week"):
        assert 200 == pages.get(shown).status_code


@pytest.mark.parametrize("field", ["millilitres", "rolls_per_litre"])
def test_a_number_that_is_read_in_two_ways_is_refused(
    pages: TestClient, school: DeskSettings, field: str
) -> None:
    """1,000 mL is no bottle of one millilitre: the form says what to write."""
    before = shelf_file(school)
    fields = {"label": "New", "holds": "fixer", "use": "reused", "mixed_on": "2025-11-17"}
    fields |= {"millilitres": "1 L", "rolls_per_litre": "20", field: "1,000"}
    answer = send(pages, "/shelf/new", "/shelf/new", **fields)
    assert 422 == answer.status_code
    assert "write 1000 or 1.0" in answer.text
    assert before == shelf_file(school)


@pytest.mark.parametrize("unit", ["mL", "fl oz"])
def test_saving_a_form_unchanged_changes_nothing(
    pages: TestClient, school: DeskSettings, unit: str
) -> None:
    """1234 mL are shown rounded and stay 1234 mL, and no key is written that was not there."""
    file = school.files_folder / "shelf.toml"
    text = stocked.SHELF.replace("millilitres = 1000", "millilitres = 1234.5", 1)
    text = text.replace("rolls_before = 6", "rolls_before = 1234.567", 1)
    file.write_text(text, encoding="utf-8")
    token = hidden(pages.get("/settings").text, "form")
    pages.post("/settings/preferences", data={"form": token, "volume": unit})
    for label in ("Stop 1", "Fixer 1", "Wetting"):
        page = f"/shelf/bottles/{label.replace(' ', '%20')}"
        shown = html.unescape(pages.get(page).text)
        shown = shown[shown.index(f"{page}/change") :]
        fields = dict(re.findall(r'<input id="[^"]+" name="(\w+)"[^>]* value="([^"]*)"', shown))
        for name, inside in re.findall(r'<select id="\w+" name="(\w+)">(.*?)</select>', shown):
            chosen = re.search(r"<option selected>([^<]*)", inside)
            fields[name] = chosen[1] if chosen is not None else ""
        assert 303 == send(pages, page, f"{page}/change", **fields).status_code
    assert text == file.read_text(encoding="utf-8")


def test_a_message_speaks_of_labels_and_not_of_keys(pages: TestClient) -> None:
    """Without the fresh time the test that is there has nothing to be compared with."""
    page = "/shelf/bottles/Fixer%201"
    text = pages.get(page).text
    fields = dict(re.findall(r'<input id="[^"]+" name="(\w+)"[^>]* value="([^"]*)"', text))
    fields |= {"holds": "fixer", "use": "reused", "fresh_clearing_seconds": ""}
    answer = send(pages, page, f"{page}/change", **fields)
    assert 422 == answer.status_code
    assert "<strong>Test, number 1</strong>: needs “Fixer: clearing time when" in answer.text


def test_a_powder_is_mixed_by_its_packet(pages: TestClient) -> None:
    """No concentrate is measured, and the dust is warned of."""
    page = pages.get("/shelf/mixing?holds=fixer&powder=true&total=1+L").text
    assert "mask and fan on" in page
    assert "whole packet" in page
    assert "<dt>Concentrate</dt>" not in page


@pytest.mark.parametrize(
    ("asked", "reason"),
    [
        ("rolls=12", "1 to 8 rolls"),
        ("rolls=-1", "1 to 8 rolls"),
        ("water=68", "no film is washed in water of 68"),
    ],
)
def test_a_wash_that_cannot_be_is_refused(pages: TestClient, asked: str, reason: str) -> None:
    """Nothing is answered to a question that was not asked."""
    answer = pages.get(f"/shelf/mixing?tank=500+mL&{asked}")
    assert 422 == answer.status_code
    assert reason in answer.text


def test_a_two_bath_fixer_without_its_bath_is_asked_which_it_is(pages: TestClient) -> None:
    """Label and reason make one sentence."""
    fields = {"label": "F1", "holds": "fixer", "millilitres": "1 L", "mixed_on": "2025-11-03"}
    answer = send(pages, "/shelf/new", "/shelf/new", **fields, use="two-bath", rolls_per_litre="20")
    assert 422 == answer.status_code
    says = "<strong>Two baths: which of them</strong>: is missing, bath 1 or bath 2 of the two"
    assert says in answer.text


def test_a_run_to_look_at_leaves_the_page_of_the_shelf_after_four_weeks(
    pages: TestClient, school: DeskSettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It stands under runs and their bottles from then on."""
    pages.get("/shelf")  # counts what ended
    database = Database(school.data / "desk.sqlite3")
    with database.transaction() as connection:
        connection.execute("UPDATE ended_run SET missing = 'no bottle of fixer serves'")
    database.close()
    for days, there in ((0, True), (40, False)):
        later = stocked.NOW + timedelta(days=days)
        monkeypatch.setattr(schooltime, "now", lambda later=later: later)
        assert there is ("no bottle of fixer serves" in pages.get("/shelf").text)
    assert "no bottle of fixer serves" in pages.get("/shelf/runs").text
