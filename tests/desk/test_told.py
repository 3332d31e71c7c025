"""What a form is answered with: kept, or the same form with what is wrong."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING, Any

import pytest

from wetside.development.spec import Development
from wetside.session.agitation import Agitation
from wetside.session.sheet import Sheet, Step
from wetside_desk.access.once import Once
from wetside_desk.pages import sheet_keys
from wetside_desk.store import accounts, notes

if TYPE_CHECKING:
    from pydantic import BaseModel
    from starlette.testclient import TestClient
    from tests.desk import stocked
    from tests.desk.asking import PASSPHRASE, database_of, desk_of, form_of, ids_of, send
    from tests.desk.invented import distant

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_asking import PASSPHRASE, database_of, desk_of, form_of, ids_of, send
    from desk_invented import distant


def words(text: str) -> str:
    """The words of a page's main part."""
    main = text.partition('<main id="main"')[2].partition("</main>")[0]
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", main)))


def fill(client: TestClient, page: str, to: str, **fields: Any) -> Any:  # noqa: ANN401  # the client's own types
    """Fill a form of a page and send it; gives what a browser then shows."""
    answer = send(client, page, to, **fields)
    return client.get(answer.headers["location"]) if answer.status_code == 303 else answer


KEPT = '<p class="done told" role="status">Kept at 10:06.</p>'


def test_what_was_kept_is_said_once(pages: TestClient) -> None:
    """Each form's page says that it was kept and when; loaded again it says nothing."""
    run = ids_of(pages)[0]
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
        answer = fill(pages, page, to, **fields)
        assert 1 == answer.text.count(KEPT), to
        assert KEPT not in pages.get(answer.url.path).text


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


def test_an_empty_text_is_not_kept(pages: TestClient) -> None:
    """The editor says so, that the file stands as it was, and leads back to it."""
    answer = fill(pages, "/shelf/text", "/shelf/text", text=" \n")
    assert 422 == answer.status_code
    assert "The text is empty, so it was not kept: shelf.toml stands as it was." in words(
        answer.text
    )
    assert "Nothing written yet" not in answer.text
    assert '<a href="/shelf/text">Load it again</a>' in answer.text


@pytest.mark.parametrize("label", ["Maria Lopez", "K 7", "K-7"])
def test_a_label_that_cannot_be_stays_in_its_field(pages: TestClient, label: str) -> None:
    """The run's page comes again with what was typed and the reason beside it."""
    run = ids_of(pages)[0]
    answer = fill(pages, f"/runs/{run}", f"/runs/{run}/label", label=label, period="3")
    assert 422 == answer.status_code
    assert f'name="label" value="{label}"' in answer.text
    assert 'name="period" value="3"' in answer.text
    assert "Not kept: Label : a label is 1 to 8 letters or digits, without spaces." in words(
        answer.text
    )
    assert "request" not in words(answer.text)


def test_a_note_that_was_overtaken_stays_in_its_field(pages: TestClient) -> None:
    """It is shown with what stands there by now, and can be kept over it."""
    run = ids_of(pages)[0]
    stale = pages.get(f"/runs/{run}").text
    token = re.search(r'name="form" value="([^"]*)"', stale)
    assert token is not None
    fill(pages, f"/runs/{run}", f"/runs/{run}/note", outcome="good", note="first")
    mine = {"form": token[1], "version": "0", "outcome": "thin", "note": "second"}
    answer = pages.post(f"/runs/{run}/note", data=mine)
    assert 409 == answer.status_code
    assert "to “good”, note “first”." in words(answer.text)
    assert ">second</textarea>" in answer.text
    version = re.search(r'name="version" value="(\d+)"', answer.text)
    assert version is not None
    again = pages.post(f"/runs/{run}/note", data={**mine, "version": version[1]})
    assert KEPT in again.text
    assert ">second</textarea>" in again.text


@pytest.mark.parametrize("file", ["a/b.toml", ".hidden", "one-reel-20"])
def test_a_file_that_cannot_be_stays_in_its_field(pages: TestClient, file: str) -> None:
    """The list of sheets comes again with the name that was typed, and why it cannot be."""
    answer = pages.get("/sheets/new", params={"file": file})
    assert 422 == answer.status_code
    assert f'name="file" value="{file}"' in answer.text
    assert re.search(r"no slash and no dot in front|There is a sheet in", words(answer.text))


def test_a_room_that_cannot_be_stays_in_its_fields(pages: TestClient) -> None:
    """The message calls the field as the label beside it, and what was typed stays."""
    answer = fill(pages, "/bells", "/bells/room", stations="many", tanks_per_station="3")
    assert 422 == answer.status_code
    assert "“Sinks with a device” is a whole number from 1 to 30, not 'many'" in words(answer.text)
    assert 'name="stations" inputmode="numeric" maxlength="2" value="many"' in answer.text
    assert 'maxlength="2" value="3"' in answer.text


def test_pages_of_problems_are_for_people(pages: TestClient) -> None:
    """An address that is none, a run that is none: no word of headers, methods or JSON."""
    for path, says in (
        ("/nowhere", "mistyped"),
        ("/runs/01KB0A7QJ8M3T5W9XYZ2C4D6EF", "in the list"),
    ):
        text = words(pages.get(path).text)
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


def test_a_restore_is_asked_for_and_told(pages: TestClient) -> None:
    """Without the tick nothing is replaced; with it the sign-in page says what came back."""
    run = ids_of(pages)[0]
    accounts.set_passphrase(database_of(pages), PASSPHRASE)
    pages.post("/sign-in", data={"passphrase": PASSPHRASE})
    content = pages.get("/settings/backup").content
    fill(pages, f"/runs/{run}", f"/runs/{run}/note", outcome="good", note="newer")
    file = {"file": ("backup.zip", content, "application/zip")}
    data = {"form": form_of(pages)}
    refused = pages.post("/settings/restore", data=data, files=file)
    assert 422 == refused.status_code
    assert "Nothing was restored" in words(refused.text)
    assert "newer" == notes.of_run(database_of(pages), run).note
    done = pages.post("/settings/restore", data={**data, "sure": "on"}, files=file)
    assert "/sign-in" == done.url.path
    assert "Restored: notes, labels, settings, sheets, bells and shelf." in words(done.text)
    assert "the passphrase of the backup" in words(done.text)
    assert "" == notes.of_run(database_of(pages), run).note


def test_a_backup_without_passphrase_leads_to_the_first_start(pages: TestClient) -> None:
    """The page that asks for one says that the rest is restored."""
    content = pages.get("/settings/backup").content
    file = {"file": ("backup.zip", content, "application/zip")}
    data = {"form": form_of(pages), "sure": "on"}
    done = pages.post("/settings/restore", data=data, files=file)
    assert "/first-start" == done.url.path
    assert "Restored. The backup holds no passphrase: set one here." in words(done.text)


def test_only_known_words_are_shown_after_a_restore(pages: TestClient) -> None:
    """What an address says is never shown."""
    accounts.set_passphrase(database_of(pages), PASSPHRASE)
    assert "made up" not in pages.get("/sign-in?after=made+up").text


def test_a_student_is_forgotten_and_told_once(pages: TestClient) -> None:
    """The page says what went, without the label; loading it again sends nothing twice."""
    run = ids_of(pages)[0]
    fill(pages, f"/runs/{run}", f"/runs/{run}/label", label="ZZ9")
    answer = fill(pages, "/settings", "/settings/forget", label="ZZ9", sure="on")
    assert "/settings" == answer.url.path
    assert "removed from 1 run, notes and outcomes with it, at 10:06." in words(answer.text)
    assert "ZZ9" not in answer.text


def test_a_label_that_nobody_carries_is_no_success(pages: TestClient) -> None:
    """It is said, and what was typed stays in the field."""
    answer = fill(pages, "/settings", "/settings/forget", label="ZZ9", sure="on")
    assert 422 == answer.status_code
    assert "No run carries this label." in words(answer.text)
    assert 'name="label" value="ZZ9"' in answer.text


def test_a_wide_tolerance_is_refused_with_what_it_does(pages: TestClient) -> None:
    """Nine degrees are not taken; in a sheet that has them the list says what they do."""
    fields = {"file": "one-reel-20.toml", "tolerance": "9"}
    answer = fill(pages, "/settings", "/settings/tolerance", **fields)
    assert 422 == answer.status_code
    assert "at most 1.5 °C." in words(answer.text)
    assert "about 11 to 18 % too much, or as much too little." in words(answer.text)
    text = stocked.shipped("one-reel-20.toml").replace("celsius = 0.3 ", "celsius = 9.0 ", 1)
    page = "/sheets/one-reel-20.toml/text"
    assert KEPT in fill(pages, page, page, text=text).text
    assert "Its tolerance is 9.0 °C. A roll poured 9.0 °C off" in words(pages.get("/sheets").text)


def test_a_long_name_of_a_copy_is_refused(pages: TestClient) -> None:
    """It is not cut to what the display holds, and stays in its field."""
    name = "a name that is too long"
    page = "/sheets/one-reel-20.toml"
    answer = fill(pages, page, f"{page}/copy", name=name, title="T")
    assert 422 == answer.status_code
    assert "Not copied: Name on the display : must be 1 to 16 letters" in words(answer.text)
    assert f'name="name" value="{name}"' in answer.text


def test_the_usual_sheet_is_named(pages: TestClient) -> None:
    """Where none is chosen the field says which one is the first."""
    assert "the first one, one reel 20 now" in words(pages.get("/bells").text)


def test_tanks_that_are_no_number_are_told(pages: TestClient) -> None:
    """The word stays in the field, with the reason above it."""
    answer = pages.get("/shelf?tanks=many")
    assert "Tanks are a whole number from 1 to 999, not 'many'." in words(answer.text)
    assert 'value="many"' in answer.text


def test_tanks_without_a_class_are_played_through(pages: TestClient) -> None:
    """Without a bell table the page speaks of the tanks that were asked for."""
    (desk_of(pages).settings.files_folder / "bells.toml").unlink()
    assert "For 8 tanks today." in words(pages.get("/shelf?tanks=8").text)
    assert "No class is known: " not in words(pages.get("/shelf?tanks=8").text)


def test_students_that_are_no_number_are_told(pages: TestClient) -> None:
    """As tanks are; the answer for the class that comes stands there anyway."""
    text = words(pages.get("/bells?students=many").text)
    assert "Students are a whole number from 0 to 999, not 'many'." in text


@pytest.mark.parametrize(
    ("place", "model"), [*enumerate((Sheet, Step, Agitation, Development))], ids=str
)
def test_every_key_of_a_sheet_is_explained(place: int, model: type[BaseModel]) -> None:
    """Under the editor, each key that a sheet may have and no other."""
    assert sorted(model.model_fields) == sorted(key for key, _ in sheet_keys.GROUPS[place][1])


def test_another_developing_time_names_the_row(pages: TestClient) -> None:
    """The editor points to the line and says what to write in it, or in the table."""
    page = "/sheets/one-reel-20.toml/text"
    text = stocked.shipped("one-reel-20.toml").replace("seconds = 430", 'seconds = "7:30"', 1)
    answer = fill(pages, page, page, text=text)
    assert 422 == answer.status_code
    said = words(answer.text)
    assert "Write seconds = 430 here" in said
    assert '["20C", "7:20"] in place of ["20C", "7:00"]' in said
    mended = text.replace('["20C", "7:00"]', '["20C", "7:20"]')
    assert KEPT in fill(pages, page, page, text=mended).text


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ('"one reel 20"', '"one reel 20', 'name = "one reel 20', "a text is not closed"),
        ("seconds = 430", "seconds = 7:30", "seconds = 7:30", 'such as "7:30" needs quotation'),
        ("seconds = 45 ", "seconds 45 ", "seconds 45", "an = is missing after the key"),
    ],
)
def test_what_is_no_toml_says_what_to_look_for(
    pages: TestClient, old: str, new: str, line: str, says: str
) -> None:
    """Beside the line on which it stands."""
    page = "/sheets/one-reel-20.toml/text"
    answer = fill(pages, page, page, text=stocked.shipped("one-reel-20.toml").replace(old, new, 1))
    assert re.search(rf"line \d+ {line}.*not valid TOML: .*{says}", words(answer.text))


@pytest.mark.parametrize(
    ("referer", "back"),
    [("http://127.0.0.1:8470/bells?sheet=x", "/bells?sheet=x"), ("", "/"), ("http://[", "/")],
)
def test_a_look_chosen_on_a_refusal_leads_back(pages: TestClient, referer: str, back: str) -> None:
    """To the page with the form; the address that the form was sent to shows nothing by itself."""
    pages.headers.update({"Referer": referer})
    answer = fill(pages, "/bells", "/bells/room", stations="many")
    assert f'name="back" value="{back}"' in answer.text
