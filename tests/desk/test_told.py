"""What a form is answered with: kept, or the same form with what is wrong."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING, Any

import pytest

from wetside_desk import schooltime
from wetside_desk.access.once import Once

if TYPE_CHECKING:
    from collections.abc import Iterator

    from starlette.testclient import TestClient
    from tests.desk import stocked
    from tests.desk.asking import ids_of
    from tests.desk.invented import distant, local

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_asking import ids_of
    from desk_invented import distant, local


@pytest.fixture
def desk(school: DeskSettings, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A desk on this machine over ten runs and a stocked shelf, on a Monday at 10:06."""
    stocked.put(school)
    monkeypatch.setattr(schooltime, "now", lambda: stocked.NOW)
    with local(school) as client:
        client.headers.update({"Accept": "text/html"})
        yield client


def words(text: str) -> str:
    """The words of a page's main part."""
    main = text.partition('<main id="main"')[2].partition("</main>")[0]
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", main)))


def send(client: TestClient, page: str, to: str, **fields: Any) -> Any:  # noqa: ANN401  # the client's own types
    """Fill a form of a page and send it; gives what a browser then shows."""
    text = client.get(page).text
    found = {
        name: match[1]
        for name in ("form", "seen", "version", "seen_label", "seen_period")
        if (match := re.search(rf'name="{name}" value="([^"]*)"', text))
    }
    return client.post(to, data={**found, **fields})


KEPT = '<p class="done told" role="status">Kept at 10:06.</p>'


def test_what_was_kept_is_said_once(desk: TestClient) -> None:
    """Each form's page says that it was kept and when; loaded again it says nothing."""
    run = ids_of(desk)[0]
    sent = {
        f"/runs/{run}/note": (f"/runs/{run}", {"outcome": "good", "note": ""}),
        f"/runs/{run}/label": (f"/runs/{run}", {"label": "K7", "period": "2"}),
        "/settings/preferences": ("/settings", {"school": "North"}),
        "/settings/tolerance": ("/settings", {"file": "one-reel-20.toml", "tolerance": "0.4"}),
        "/settings/sink": ("/settings", {"pitch": "low"}),
        "/bells/room": ("/bells", {"stations": "2"}),
        "/shelf/text": ("/shelf/text", {"text": stocked.SHELF}),
    }
    for to, (page, fields) in sent.items():
        answer = send(desk, page, to, **fields)
        assert 1 == answer.text.count(KEPT), to
        assert KEPT not in desk.get(answer.url.path).text


def test_nobody_else_is_told() -> None:
    """What waits for one session's page is for no other session and no other page."""
    once = Once()
    once.keep("a", "told /bells", "Kept.")
    assert "" == once.take("b", "told /bells")
    assert "" == once.take("a", "told /")
    assert "Kept." == once.take("a", "told /bells")
    assert "" == once.take("a", "told /bells")


def test_what_nobody_fetches_goes() -> None:
    """Texts that wait are counted, so that they never fill the memory."""
    once = Once()
    for number in range(300):
        once.keep("a", str(number), "Kept.")
    assert "" == once.take("a", "0")
    assert "Kept." == once.take("a", "299")


def test_an_empty_text_is_not_kept(desk: TestClient) -> None:
    """The editor says so, that the file stands as it was, and leads back to it."""
    answer = send(desk, "/shelf/text", "/shelf/text", text=" \n")
    assert 422 == answer.status_code
    assert "The text is empty, so it was not kept: shelf.toml stands as it was." in words(
        answer.text
    )
    assert "Nothing written yet" not in answer.text
    assert '<a href="/shelf/text">Load it again</a>' in answer.text


@pytest.mark.parametrize("label", ["Maria Lopez", "K 7", "K-7"])
def test_a_label_that_cannot_be_stays_in_its_field(desk: TestClient, label: str) -> None:
    """The run's page comes again with what was typed and the reason beside it."""
    run = ids_of(desk)[0]
    answer = send(desk, f"/runs/{run}", f"/runs/{run}/label", label=label, period="3")
    assert 422 == answer.status_code
    assert f'name="label" value="{label}"' in answer.text
    assert 'name="period" value="3"' in answer.text
    assert "Not kept: a label is 1 to 8 letters or digits, without spaces." in words(answer.text)
    assert "request" not in words(answer.text)


def test_a_note_that_was_overtaken_stays_in_its_field(desk: TestClient) -> None:
    """It is shown with what stands there by now, and can be kept over it."""
    run = ids_of(desk)[0]
    stale = desk.get(f"/runs/{run}").text
    token = re.search(r'name="form" value="([^"]*)"', stale)
    assert token is not None
    send(desk, f"/runs/{run}", f"/runs/{run}/note", outcome="good", note="first")
    mine = {"form": token[1], "version": "0", "outcome": "thin", "note": "second"}
    answer = desk.post(f"/runs/{run}/note", data=mine)
    assert 409 == answer.status_code
    assert "to “good”, note “first”." in words(answer.text)
    assert ">second</textarea>" in answer.text
    version = re.search(r'name="version" value="(\d+)"', answer.text)
    assert version is not None
    again = desk.post(f"/runs/{run}/note", data={**mine, "version": version[1]})
    assert KEPT in again.text
    assert ">second</textarea>" in again.text


@pytest.mark.parametrize("file", ["a/b.toml", ".hidden", "one-reel-20"])
def test_a_file_that_cannot_be_stays_in_its_field(desk: TestClient, file: str) -> None:
    """The list of sheets comes again with the name that was typed, and why it cannot be."""
    answer = desk.get("/sheets/new", params={"file": file})
    assert 422 == answer.status_code
    assert f'name="file" value="{file}"' in answer.text
    assert re.search(r"no slash and no dot in front|There is a sheet in", words(answer.text))


def test_a_room_that_cannot_be_stays_in_its_fields(desk: TestClient) -> None:
    """The message calls the field as the label beside it, and what was typed stays."""
    answer = send(desk, "/bells", "/bells/room", stations="many", tanks_per_station="3")
    assert 422 == answer.status_code
    assert "“Sinks with a device” is a whole number from 1 to 30, not 'many'" in words(answer.text)
    assert 'name="stations" inputmode="numeric" maxlength="2" value="many"' in answer.text
    assert 'maxlength="2" value="3"' in answer.text


def test_pages_of_problems_are_for_people(desk: TestClient) -> None:
    """An address that is none, a run that is none: no word of headers, methods or JSON."""
    for path, says in (
        ("/nowhere", "mistyped"),
        ("/runs/01KB0A7QJ8M3T5W9XYZ2C4D6EF", "in the list"),
    ):
        text = words(desk.get(path).text)
        assert says in text
        assert not re.search(r"header|JSON|json|/v1|id\b", text), text


def test_people_are_told_once_how_long_to_wait(claimed: DeskSettings) -> None:
    """After too many tries the page names one waiting time."""
    with distant(claimed) as client:
        client.headers.update({"Accept": "text/html"})
        for _ in range(6):
            answer = client.post("/sign-in", data={"passphrase": "wrong"})
    assert 429 == answer.status_code
    text = words(answer.text)
    assert re.search(r"Wait \d+ seconds, then try again\.", text)
    assert 1 == text.count("Wait")
    assert "header" not in text
