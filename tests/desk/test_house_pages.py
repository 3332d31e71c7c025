"""Every page of shelf, bells and sheets: it answers, asks who is there, shows text as text."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk.store import class_plan

if TYPE_CHECKING:
    from tests.desk import stocked
    from tests.desk.asking import PAGE, database_of, hidden, send, shelf_file

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_asking import PAGE, database_of, hidden, send, shelf_file


@pytest.mark.parametrize("path", stocked.PAGES.values(), ids=stocked.PAGES)
def test_every_page_is_there(pages: TestClient, path: str) -> None:
    """Each page answers; none has a style or script of its own, which the policy would stop."""
    answer = pages.get(path)
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


def test_volumes_in_the_teachers_unit(pages: TestClient, school: DeskSettings) -> None:
    """In fl oz a bare number is fl oz, and pages write fl oz, steps of mixing as well."""
    token = hidden(pages.get("/settings").text, "form")
    pages.post("/settings/preferences", data={"form": token, "volume": "fl oz"})
    assert "101 fl oz left" in pages.get("/shelf").text
    mixing = pages.get("/shelf/mixing?holds=developer&strength=1%2B1").text
    assert "Fill up with water to 32 fl oz and stir." in mixing
    assert "mL" not in mixing
    fields = {"label": "New", "holds": "developer", "use": "once", "millilitres": "10"}
    send(pages, "/shelf/new", "/shelf/new", mixed_on="2025-11-17", **fields)
    assert 295.7 == shelf_file(school)["bottle"][-1]["millilitres"]


def test_two_forms_of_one_page_keep_what_stands_in_the_other(pages: TestClient) -> None:
    """Working out the wash leaves the recipe as it was asked for, and the other way round."""
    asked = {"holds": "stop bath", "strength": "1+19", "total": "2 L", "powder": "false"}
    wash = {"tank": "700 mL", "rolls": "2", "water": "12"}
    text = pages.get("/shelf/mixing", params={**asked, **wash}).text
    forms = re.findall(r'<form method="get".*?</form>', text, re.DOTALL)
    kept = [dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form)) for form in forms]
    assert [wash, asked] == kept


def test_a_form_needs_its_token(pages: TestClient) -> None:
    """A form without the session's token changes nothing."""
    for path in ("/shelf/new", "/shelf/text", "/bells/room", "/bells/periods/1"):
        assert (path, 403) == (path, pages.post(path, data={"form": "guessed"}).status_code)


def test_what_is_typed_is_shown_as_text(pages: TestClient) -> None:
    """Brackets in a file are letters on the page, not markup."""
    page = "/sheets/short-wash.toml/text"
    answer = send(pages, page, page, text='title = "<script>alert(1)</script>"\n')
    assert "<script>alert" not in answer.text


@pytest.mark.parametrize("path", [*stocked.PAGES.values(), "/", "/settings", "/report", "/rules"])
def test_every_table_has_a_name(pages: TestClient, path: str) -> None:
    """Who hears a page is told which table this is."""
    for table in re.findall(r"<table[^>]*>(?:<caption)?", pages.get(path).text):
        assert "aria-label" in table or "<caption" in table, table


@pytest.mark.parametrize("path", ["/compare?run=a&run=b", "/?flag=held", "/shelf/mixing?rolls=2"])
def test_a_look_leads_back_to_the_same_question(pages: TestClient, path: str) -> None:
    """The query goes along; the address of another site does not."""
    text = html.unescape(pages.get(path).text)
    assert f'name="back" value="{path}"' in text
    answer = pages.post("/theme", data={"theme": "dark", "back": path}, follow_redirects=False)
    assert path == answer.headers["location"]
    sent = {"theme": "dark", "back": f"//elsewhere.example{path}"}
    answer = pages.post("/theme", data=sent, follow_redirects=False)
    assert "/" == answer.headers["location"]


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("/shelf", "Only runs of this sink count themselves here."),
        ("/bells", "this desk counts the runs of its own sink only."),
        ("/station", "This desk knows the station of its own device."),
        ("/live", "device has a page of its own."),
    ],
)
def test_a_desk_says_that_it_knows_its_own_sink_only(
    pages: TestClient, path: str, said: str
) -> None:
    """Wherever a room with two sinks is spoken of stands what is of this one alone."""
    assert said in pages.get(path).text


def test_with_one_sink_bottles_are_not_doubted(pages: TestClient) -> None:
    """The shelf of a room with a single device says nothing of others."""
    class_plan.save(database_of(pages), class_plan.ClassPlan("one reel 20", stations=1))
    assert "Only runs of this sink" not in pages.get("/shelf").text
