"""The pages of shelf, bells and sheets, as forms: what is kept, what is refused, what is said."""

from __future__ import annotations

import html
import re
import tomllib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest
from starlette.testclient import TestClient

from wetside_desk import schooltime
from wetside_desk.files import papers

if TYPE_CHECKING:
    from tests.desk import stocked
    from tests.desk.invented import local, write_live

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_invented import local, write_live

PAGE = {"Accept": "text/html"}


@pytest.fixture
def desk(school: DeskSettings, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A desk on this machine over ten runs, a stocked shelf and a bell table."""
    stocked.put(school)
    monkeypatch.setattr(schooltime, "now", lambda: stocked.NOW)
    with local(school) as client:
        client.headers.update(PAGE)
        yield client


@pytest.fixture
def bare(folder: DeskSettings, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A desk that has nothing yet."""
    monkeypatch.setattr(schooltime, "now", lambda: stocked.NOW)
    with local(folder) as client:
        client.headers.update(PAGE)
        yield client


def hidden(text: str, name: str) -> str:
    """A hidden field of a page."""
    found = re.search(rf'name="{name}" value="([^"]*)"', text)
    assert found is not None
    return found[1]


def send(client: TestClient, page: str, to: str, **fields: Any) -> Any:  # noqa: ANN401  # the client's own types
    """Fill a form on one page and send it to where it posts."""
    text = client.get(page).text
    found = {name: hidden(text, name) for name in ("form", "seen") if f'name="{name}"' in text}
    return client.post(to, data={**found, **fields}, follow_redirects=False)


def shelf_file(settings: DeskSettings) -> dict[str, Any]:
    return tomllib.loads((settings.files_folder / "shelf.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", stocked.PAGES.values(), ids=stocked.PAGES)
def test_every_page_is_there(desk: TestClient, path: str) -> None:
    """Each page answers; none has a style or script of its own, which the policy would stop."""
    answer = desk.get(path)
    assert 200 == answer.status_code
    assert "style=" not in answer.text
    assert "<script>" not in answer.text


@pytest.mark.parametrize("path", ["/shelf", "/bells", "/sheets", "/shelf/week", "/shelf/runs"])
def test_pages_of_a_new_desk(bare: TestClient, path: str) -> None:
    """Before anything was written each page says what to do first."""
    assert 200 == bare.get(path).status_code


def test_every_page_needs_the_teacher(folder: DeskSettings) -> None:
    """Somebody else is led to the door."""
    from desk_invented import distant  # type: ignore[import-not-found]  # noqa: PLC0415

    with distant(folder) as client:
        for path in stocked.PAGES.values():
            answer = client.get(path, headers=PAGE, follow_redirects=False)
            assert (path, 303) == (path, answer.status_code)


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


def test_wrong_fields_come_back_as_they_were(desk: TestClient, school: DeskSettings) -> None:
    """Every wrong field is named as it is labelled, what was typed stays, nothing is kept."""
    before = shelf_file(school)
    fields = {"label": "New", "holds": "fixer", "strength": "1:4", "millilitres": "1 L"}
    fields |= {"mixed_on": "2025-11-17", "use": "reused"}
    answer = send(desk, "/shelf/new", "/shelf/new", **fields)
    assert 422 == answer.status_code
    assert "<strong>Strength</strong>: &#39;1:4&#39;: a colon" in answer.text
    assert "bottle[" not in answer.text
    assert 'value="1:4"' in answer.text
    assert before == shelf_file(school)


def test_renaming_a_bottle_keeps_its_rolls(desk: TestClient) -> None:
    """The runs go with the bottle, not with the words on it."""
    page = "/shelf/bottles/Stop%201"
    text = desk.get(page).text
    fields = dict(re.findall(r'<input id="[^"]+" name="(\w+)"[^>]* value="([^"]*)"', text))
    fields |= {"holds": "stop bath", "use": "reused", "label": "Stop A"}
    assert 303 == send(desk, page, f"{page}/change", **fields).status_code
    found = desk.get("/v1/shelf").json()["bottles"][1]
    assert ("Stop A", 11.0) == (found["label"], found["rolls"])


def test_volumes_in_the_teachers_unit(desk: TestClient, school: DeskSettings) -> None:
    """In fl oz a bare number is fl oz, and pages write fl oz, steps of mixing as well."""
    token = hidden(desk.get("/settings").text, "form")
    desk.post("/settings/preferences", data={"form": token, "volume": "fl oz"})
    assert "101 fl oz left" in desk.get("/shelf").text
    mixing = desk.get("/shelf/mixing?holds=developer&strength=1%2B1").text
    assert "Fill up with water to 32 fl oz and stir." in mixing
    assert "mL" not in mixing
    fields = {"label": "New", "holds": "developer", "use": "once", "millilitres": "10"}
    send(desk, "/shelf/new", "/shelf/new", mixed_on="2025-11-17", **fields)
    assert 295.7 == shelf_file(school)["bottle"][-1]["millilitres"]


def test_a_powder_is_mixed_by_its_packet(desk: TestClient) -> None:
    """No concentrate is measured, and the dust is warned of."""
    page = desk.get("/shelf/mixing?holds=fixer&powder=true&total=1+L").text
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
def test_a_wash_that_cannot_be_is_refused(desk: TestClient, asked: str, reason: str) -> None:
    """Nothing is answered to a question that was not asked."""
    answer = desk.get(f"/shelf/mixing?tank=500+mL&{asked}")
    assert 422 == answer.status_code
    assert reason in answer.text


def test_a_date_still_to_come_is_pointed_at(desk: TestClient) -> None:
    """A bottle mixed in 2099 is no bottle of minus so many days."""
    fields = {"label": "New", "holds": "developer", "use": "once", "millilitres": "1000"}
    send(desk, "/shelf/new", "/shelf/new", mixed_on="2099-01-01", **fields)
    page = desk.get("/shelf").text
    assert "still to come" in page
    assert " days ago" not in page.split("still to come")[1][:80]
    assert "-26" not in page


def test_the_timers_time_is_judged(desk: TestClient) -> None:
    """80 s against 40 s fresh: the page says to collect it and mix new."""
    page = "/shelf/bottles/Fixer%201"
    answer = send(desk, page, f"{page}/test", clearing_seconds="80.2")
    assert "collect it and mix new" in desk.get(answer.headers["location"]).text
    assert "Not to be used" in desk.get("/shelf").text


@pytest.mark.parametrize("fields", [{}, {"clearing_seconds": "soon"}, {"colour": "green"}])
def test_no_test_is_refused(desk: TestClient, fields: dict[str, str]) -> None:
    """Neither a time nor a colour."""
    page = "/shelf/bottles/Fixer%201"
    assert 422 == send(desk, page, f"{page}/test", **fields).status_code


def test_a_count_is_put_right(desk: TestClient) -> None:
    """A run that took the other fixer is moved there, and may be taken off altogether."""
    use = next(
        use for use in desk.get("/v1/shelf/uses").json()["uses"] if use["bottle"] == "Fixer 1"
    )
    fields = {"run": use["run"], "old": "Fixer 1", "new": "Fixer 2"}
    send(desk, "/shelf/runs", "/shelf/runs/move", **fields)
    rolls = {one["label"]: one["rolls"] for one in desk.get("/v1/shelf").json()["bottles"]}
    assert (17.0 - use["rolls"], use["rolls"]) == (rolls["Fixer 1"], rolls["Fixer 2"])
    fields = {"run": use["run"], "old": "Fixer 2", "new": ""}
    send(desk, "/shelf/runs", "/shelf/runs/move", **fields)
    assert 0.0 == desk.get("/v1/shelf").json()["bottles"][3]["rolls"]
    assert 422 == send(desk, "/shelf/runs", "/shelf/runs/move", **fields).status_code


def test_mixed_anew_by_the_form(desk: TestClient) -> None:
    """The card is full again."""
    page = "/shelf/bottles/Stop%201"
    assert 303 == send(desk, page, f"{page}/renew", mixed_on="2025-11-17").status_code
    assert "12 of 12 rolls left" in desk.get("/shelf").text


def test_a_bottle_is_taken_away_once(desk: TestClient) -> None:
    """A page that is older than the file takes nothing away."""
    page = "/shelf/bottles/Wetting"
    seen = hidden(desk.get(page).text, "seen")
    assert 303 == send(desk, page, f"{page}/take").status_code
    other = "/shelf/bottles/Clearing"
    token = hidden(desk.get(other).text, "form")
    answer = desk.post(f"{other}/take", data={"form": token, "seen": seen}, follow_redirects=False)
    assert 422 == answer.status_code
    assert 5 == len(desk.get("/v1/shelf").json()["bottles"])


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


def test_a_period_is_changed_and_taken_away(desk: TestClient) -> None:
    """Times come from the form; the last button takes the period out of every week."""
    page = "/bells/periods/3"
    fields = {"name": "3", "days": ["monday"], "starts": "10:00", "ends": "10:55"}
    assert 303 == send(desk, page, page, **fields, weeks=["A", "B"]).status_code
    third = desk.get("/v1/bells").json()["periods"][2]
    assert ("10:55", ["A", "B"]) == (third["ends"], third["weeks"])
    assert 303 == send(desk, page, page, take="yes").status_code
    assert ["1", "2", "3-4"] == [one["name"] for one in desk.get("/v1/bells").json()["periods"]]


def test_the_bells_page_says_when_to_begin(desk: TestClient, school: DeskSettings) -> None:
    """Now, the latest start of each sheet, and what the run at the sink looks like."""
    write_live(school.live_file, -600.0)  # a slow machine must not make it old
    text = desk.get("/bells").text
    assert "period 3, Photo 2, 9 students" in text
    assert "At the sink now, one reel 20:" in text
    assert "learnt from 9 runs" in text


def test_days_without_a_period_are_told_apart(desk: TestClient, school: DeskSettings) -> None:
    """They are left out of the list of days that a phone shows; today stands out there."""
    (school.files_folder / "bells.toml").write_text(
        'format = 1\n[[period]]\nname = "3"\ndays = ["monday", "friday"]\n'
        "starts = 10:00:00\nends = 10:50:00\n"
    )
    days = re.findall(r'<td role="cell" data-day="(\w+)"([^>]*)>', desk.get("/bells").text)
    assert [("Monday", " data-today"), ("Friday", "")] == [d for d in days if "free" not in d[1]]
    assert ["Tuesday", "Wednesday", "Thursday"] == [d for d, rest in days if "free" in rest]


def test_what_may_be_left_at_the_bell(desk: TestClient) -> None:
    """Begun at 10:40 with the bell at 10:50 it is in the fixer and may not be left."""
    text = re.sub(r"<[^>]+>|\s+", " ", desk.get("/bells?begin=10:40&sheet=one+reel+20").text)
    assert re.search(r"finds it in\s+Fix\s*:\s+it may not be left", text)


def test_the_room_counts(desk: TestClient) -> None:
    """Two students to a tank need half the tanks; a number that cannot be is refused."""
    send(desk, "/bells", "/bells/room", stations="2", students_per_tank="3")
    assert "9 students, 3 tanks" in desk.get("/shelf").text
    assert 422 == send(desk, "/bells", "/bells/room", stations="0").status_code


def test_the_editor_shows_problems_and_keeps_the_text(desk: TestClient) -> None:
    """A wrong text comes back whole, with each problem at its line."""
    page = "/sheets/short-wash.toml/text"
    wrong = stocked.shipped().replace("seconds = 45 ", "seconds = 2 ")
    answer = send(desk, page, page, text=wrong)
    assert 422 == answer.status_code
    line = wrong.splitlines().index(next(x for x in wrong.splitlines() if "seconds = 2 " in x)) + 1
    assert f'data-line="{line}"' in answer.text
    assert "step[3].seconds" in answer.text


def test_two_editors_at_once(desk: TestClient) -> None:
    """The second is shown what the first wrote, and can keep theirs over it."""
    page = "/bells/text"
    seen, token = (hidden(desk.get(page).text, name) for name in ("seen", "form"))
    first = stocked.BELLS.replace("Photo 1", "Photo X")
    second = stocked.BELLS.replace("Studio", "Studio Y")
    keep = {"form": token, "seen": seen}
    assert 303 == desk.post(page, data={**keep, "text": first}, follow_redirects=False).status_code
    answer = desk.post(page, data={**keep, "text": second}, follow_redirects=False)
    assert 412 == answer.status_code
    assert "Photo X" in answer.text
    keep["seen"] = hidden(answer.text, "seen")
    assert 303 == desk.post(page, data={**keep, "text": second}, follow_redirects=False).status_code
    groups = {one["group"] for one in desk.get("/v1/bells").json()["periods"]}
    assert "Studio Y" in groups


def test_copy_edit_and_put_back(desk: TestClient) -> None:
    """A copy is named after its sheet; an earlier version comes back as the newest."""
    page = "/sheets/one-reel-20.toml"
    answer = send(desk, page, f"{page}/copy", name="Ours 20")
    assert "/sheets/ours-20.toml/text" == answer.headers["location"]
    page = "/sheets/ours-20.toml"
    text = desk.get("/v1/sheets/ours-20.toml/file").text
    longer = text.replace("seconds = 310 ", "seconds = 370 ", 1)
    assert 303 == send(desk, f"{page}/text", f"{page}/text", text=longer).status_code
    assert "step[4].seconds" in desk.get(f"{page}/compare?before=1").text
    assert 303 == send(desk, page, f"{page}/back", number="1").status_code
    assert text == desk.get("/v1/sheets/ours-20.toml/file").text
    assert 3 == desk.get("/v1/sheets/ours-20.toml").json()["versions"]
    text = desk.get(page).text
    token, seen = hidden(text, "form"), hidden(text, "seen")
    answer = desk.post(f"{page}/take", data={"form": token, "seen": seen}, follow_redirects=False)
    assert 303 == answer.status_code
    assert 404 == desk.get(page).status_code


def test_a_form_needs_its_token(desk: TestClient) -> None:
    """A form without the session's token changes nothing."""
    for path in ("/shelf/new", "/shelf/text", "/bells/room", "/bells/periods/1"):
        assert (path, 403) == (path, desk.post(path, data={"form": "guessed"}).status_code)


def test_what_is_typed_is_shown_as_text(desk: TestClient) -> None:
    """Brackets in a file are letters on the page, not markup."""
    page = "/sheets/short-wash.toml/text"
    answer = send(desk, page, page, text='title = "<script>alert(1)</script>"\n')
    assert "<script>alert" not in answer.text


@pytest.mark.parametrize(
    ("name", "address"),
    [
        ("shelf.toml", "/shelf/text"),
        ("bells.toml", "/bells/text"),
        ("sheets/own.toml", "/sheets/own.toml/text"),
    ],
)
def test_a_file_that_is_no_text_can_be_mended(
    folder: DeskSettings, bare: TestClient, name: str, address: str
) -> None:
    """It is shown with marks and the reason, and replaced only by somebody who was shown it."""
    file = folder.files_folder / name
    file.parent.mkdir(parents=True, exist_ok=True)
    good = {"shelf": stocked.SHELF, "bells": stocked.BELLS}.get(file.stem, stocked.own("own"))
    file.write_bytes(b"# gr\xf6\xdfe\n" + good.encode())
    answer = bare.get(address)
    assert 200 == answer.status_code
    assert f"{file.name} is not UTF-8" in answer.text
    assert "# gr\N{REPLACEMENT CHARACTER}" in answer.text
    form = {"form": hidden(answer.text, "form"), "text": good}
    blind = bare.post(address, data={**form, "seen": papers.tag_of("")}, follow_redirects=False)
    assert 422 == blind.status_code
    assert "is not UTF-8" in blind.text
    assert file.read_bytes().startswith(b"# gr\xf6")
    kept = bare.post(
        address, data={**form, "seen": hidden(answer.text, "seen")}, follow_redirects=False
    )
    assert 303 == kept.status_code
    assert good == file.read_text(encoding="utf-8")
    assert "is not UTF-8" not in bare.get(address).text


def test_a_file_that_cannot_be_read_is_told(folder: DeskSettings, bare: TestClient) -> None:
    """A folder in its place, say: the page names the file and the reason."""
    (folder.files_folder / "shelf.toml").mkdir(parents=True)
    answer = bare.get("/shelf/text")
    assert 422 == answer.status_code
    assert "shelf.toml: cannot be read: Is a directory" in answer.text


def test_numbers_that_no_version_has_are_refused(desk: TestClient) -> None:
    """However long they are."""
    sheet = "/sheets/short-wash.toml"
    for asked in ("before=1" + 30 * "0", "before=-1", "after=1" + 30 * "0"):
        assert 422 == desk.get(f"{sheet}/compare?{asked}").status_code
    for number in ("1" + 30 * "0", 5000 * "9"):
        answer = send(desk, "/sheets/short-wash.toml", f"{sheet}/back", number=number)
        assert 422 == answer.status_code


def test_the_longest_sheet_is_kept_by_the_page(desk: TestClient, school: DeskSettings) -> None:
    """A form makes a text up to six times as long; what the API takes, the page takes too."""
    text = stocked.own("long")
    text += (papers.LARGEST_BYTES - len(text.encode())) // 4 * "#==\n"
    sent = {"text": text.replace("\n", "\r\n"), "seen": papers.tag_of("")}
    answer = send(desk, "/sheets/short-wash.toml/text", "/sheets/long.toml/text", **sent)
    assert 303 == answer.status_code
    assert text == (school.files_folder / "sheets" / "long.toml").read_text(encoding="utf-8")


def test_what_is_too_large_is_told_on_a_page(desk: TestClient) -> None:
    """A browser gets words for people, not JSON."""
    answer = desk.post("/shelf/text", content=b"x" * 400_000)
    assert 413 == answer.status_code
    assert "text/html" in answer.headers["content-type"]
    assert "The request is too large" in answer.text


def test_the_last_test_of_a_day_is_the_one_that_is_told(desk: TestClient) -> None:
    """Fresh 40 s: 50 s in the morning, 90 s at noon; shelf and bottle say that it is done."""
    page = "/shelf/bottles/Fixer%201"
    for seconds in ("50", "90"):
        assert 303 == send(desk, page, f"{page}/test", clearing_seconds=seconds).status_code
    assert (
        "Tested on 2025-11-17: clears in 1:30, fresh 0:40: twice as long" in desk.get("/shelf").text
    )
    rows = re.findall(r"<td[^>]*>(clears in [\d:]+)", desk.get(page).text)
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
    desk: TestClient, school: DeskSettings, bottle: str, fields: dict[str, str], says: str
) -> None:
    """The answer to a test leads to a page that says what it came to; that page may be loaded."""
    page = f"/shelf/bottles/{bottle.replace(' ', '%20')}"
    answer = send(desk, page, f"{page}/test", **fields)
    assert 303 == answer.status_code
    written = shelf_file(school)
    for _ in range(2):
        assert says in desk.get(answer.headers["location"]).text
    assert written == shelf_file(school)


def test_bath_2_takes_the_place_of_bath_1_by_a_form(desk: TestClient, school: DeskSettings) -> None:
    """The page of bath 1 offers it; a day that is still to come is refused with the reason."""
    text = stocked.SHELF.replace(
        'use = "reused"\nrolls_per_litre = 20', 'use = "two-bath"\nbath = 1'
    )
    text = text.replace("bath = 1", "rolls_per_litre = 20\nbath = 1", 1)
    text = text.replace("\nbath = 1\nfresh", "\nrolls_per_litre = 20\nbath = 2\nfresh", 1)
    (school.files_folder / "shelf.toml").write_text(text, encoding="utf-8")
    page = "/shelf/bottles/Fixer%201"
    assert "Bath 2 becomes bath 1" in desk.get(page).text
    assert "Bath 2 becomes bath 1" not in desk.get("/shelf/bottles/Fixer%202").text
    late = send(desk, page, f"{page}/move-up", bath_2="Fixer 2", mixed_on="2025-11-18")
    assert 422 == late.status_code
    assert "2025-11-18 is still to come: by this device" in late.text
    good = send(desk, page, f"{page}/move-up", bath_2="Fixer 2", mixed_on="2025-11-17")
    assert 303 == good.status_code
    assert [2, 1] == [one.get("bath") for one in shelf_file(school)["bottle"][2:4]]
    for shown in ("/shelf", page, "/shelf/bottles/Fixer%202", "/shelf/week"):
        assert 200 == desk.get(shown).status_code


@pytest.mark.parametrize("field", ["millilitres", "rolls_per_litre"])
def test_a_number_that_is_read_in_two_ways_is_refused(
    desk: TestClient, school: DeskSettings, field: str
) -> None:
    """1,000 mL is no bottle of one millilitre: the form says what to write."""
    before = shelf_file(school)
    fields = {"label": "New", "holds": "fixer", "use": "reused", "mixed_on": "2025-11-17"}
    fields |= {"millilitres": "1 L", "rolls_per_litre": "20", field: "1,000"}
    answer = send(desk, "/shelf/new", "/shelf/new", **fields)
    assert 422 == answer.status_code
    assert "write 1000 or 1.0" in answer.text
    assert before == shelf_file(school)


@pytest.mark.parametrize("unit", ["mL", "fl oz"])
def test_saving_a_form_unchanged_changes_nothing(
    desk: TestClient, school: DeskSettings, unit: str
) -> None:
    """1234 mL are shown rounded and stay 1234 mL, and no key is written that was not there."""
    file = school.files_folder / "shelf.toml"
    text = stocked.SHELF.replace("millilitres = 1000", "millilitres = 1234.5", 1)
    text = text.replace("rolls_before = 6", "rolls_before = 1234.567", 1)
    file.write_text(text, encoding="utf-8")
    token = hidden(desk.get("/settings").text, "form")
    desk.post("/settings/preferences", data={"form": token, "volume": unit})
    for label in ("Stop 1", "Fixer 1", "Wetting"):
        page = f"/shelf/bottles/{label.replace(' ', '%20')}"
        shown = html.unescape(desk.get(page).text)
        shown = shown[shown.index(f"{page}/change") :]
        fields = dict(re.findall(r'<input id="[^"]+" name="(\w+)"[^>]* value="([^"]*)"', shown))
        for name, inside in re.findall(r'<select id="\w+" name="(\w+)">(.*?)</select>', shown):
            chosen = re.search(r"<option selected>([^<]*)", inside)
            fields[name] = chosen[1] if chosen is not None else ""
        assert 303 == send(desk, page, f"{page}/change", **fields).status_code
    assert text == file.read_text(encoding="utf-8")


def test_a_message_speaks_of_labels_and_not_of_keys(desk: TestClient) -> None:
    """Without the fresh time the test that is there has nothing to be compared with."""
    page = "/shelf/bottles/Fixer%201"
    text = desk.get(page).text
    fields = dict(re.findall(r'<input id="[^"]+" name="(\w+)"[^>]* value="([^"]*)"', text))
    fields |= {"holds": "fixer", "use": "reused", "fresh_clearing_seconds": ""}
    answer = send(desk, page, f"{page}/change", **fields)
    assert 422 == answer.status_code
    assert "<strong>Test, number 1</strong>: needs “Fixer: clearing time when" in answer.text


def test_another_period_in_the_way_is_named(desk: TestClient) -> None:
    """The overlap is told at the period that has it, which need not be that of the form."""
    fields = {"name": "1", "starts": "08:10", "ends": "09:20", "days": ["monday"]}
    answer = send(desk, "/bells/periods/1", "/bells/periods/1", **fields)
    assert 422 == answer.status_code
    assert "<strong>Begins of period 2</strong>: overlaps period 1 on monday" in answer.text
