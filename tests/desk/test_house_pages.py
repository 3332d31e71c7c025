"""The pages of shelf, bells and sheets, as forms: what is kept, what is refused, what is said."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

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
    """Every wrong key is named, what was typed stays, nothing is kept."""
    before = shelf_file(school)
    fields = {"label": "New", "holds": "fixer", "strength": "1:4", "millilitres": "1 L"}
    fields |= {"mixed_on": "2025-11-17", "use": "reused"}
    answer = send(desk, "/shelf/new", "/shelf/new", **fields)
    assert 422 == answer.status_code
    assert "bottle[7].strength" in answer.text
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
    assert "collect it and mix new" in answer.text
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
    assert "overlaps period[1] on monday" in answer.text
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
    longer = text.replace("seconds = 310 ", "seconds = 370 ")
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
