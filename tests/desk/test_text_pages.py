"""Files edited as text on a page: what is refused, kept, put back, too large or no text at all."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk.files import papers

if TYPE_CHECKING:
    from tests.desk import stocked
    from tests.desk.asking import hidden, send

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_asking import hidden, send


def test_the_editor_shows_problems_and_keeps_the_text(pages: TestClient) -> None:
    """A wrong text comes back whole, with each problem at its line."""
    page = "/sheets/short-wash.toml/text"
    wrong = stocked.shipped().replace("seconds = 45 ", "seconds = 2 ")
    answer = send(pages, page, page, text=wrong)
    assert 422 == answer.status_code
    line = wrong.splitlines().index(next(x for x in wrong.splitlines() if "seconds = 2 " in x)) + 1
    assert f'data-line="{line}"' in answer.text
    assert "step[3].seconds" in answer.text


def test_two_editors_at_once(pages: TestClient) -> None:
    """The second is shown what the first wrote, and can keep theirs over it."""
    page = "/bells/text"
    seen, token = (hidden(pages.get(page).text, name) for name in ("seen", "form"))
    first = stocked.BELLS.replace("Photo 1", "Photo X")
    second = stocked.BELLS.replace("Studio", "Studio Y")
    keep = {"form": token, "seen": seen}
    assert 303 == pages.post(page, data={**keep, "text": first}, follow_redirects=False).status_code
    answer = pages.post(page, data={**keep, "text": second}, follow_redirects=False)
    assert 412 == answer.status_code
    assert "Photo X" in answer.text
    keep["seen"] = hidden(answer.text, "seen")
    assert (
        303 == pages.post(page, data={**keep, "text": second}, follow_redirects=False).status_code
    )
    groups = {one["group"] for one in pages.get("/v1/bells").json()["periods"]}
    assert "Studio Y" in groups


def test_copy_edit_and_put_back(pages: TestClient) -> None:
    """A copy is named after its sheet; an earlier version comes back as the newest."""
    page = "/sheets/one-reel-20.toml"
    answer = send(pages, page, f"{page}/copy", name="Ours 20")
    assert "/sheets/ours-20.toml/text" == answer.headers["location"]
    page = "/sheets/ours-20.toml"
    text = pages.get("/v1/sheets/ours-20.toml/file").text
    longer = text.replace("seconds = 310 ", "seconds = 370 ", 1)
    assert 303 == send(pages, f"{page}/text", f"{page}/text", text=longer).status_code
    assert "step[4].seconds" in pages.get(f"{page}/compare?before=1").text
    assert 303 == send(pages, page, f"{page}/back", number="1").status_code
    assert text == pages.get("/v1/sheets/ours-20.toml/file").text
    assert 3 == pages.get("/v1/sheets/ours-20.toml").json()["versions"]
    text = pages.get(page).text
    token, seen = hidden(text, "form"), hidden(text, "seen")
    sent = {"form": token, "seen": seen}
    assert 422 == pages.post(f"{page}/take", data=sent, follow_redirects=False).status_code
    answer = pages.post(f"{page}/take", data={**sent, "sure": "on"}, follow_redirects=False)
    assert 303 == answer.status_code
    assert 404 == pages.get(page).status_code


def test_a_sheet_that_was_taken_away_is_put_back(pages: TestClient) -> None:
    """The list names it with its latest text, and only as long as no file has its name."""
    send(pages, "/sheets/short-wash.toml", "/sheets/short-wash.toml/copy", name="Ours 20")
    text = pages.get("/v1/sheets/ours-20.toml/file").text
    assert "Taken away" not in pages.get("/sheets").text
    page = "/sheets/ours-20.toml"
    seen = hidden(pages.get(page).text, "seen")
    send(pages, page, f"{page}/take", sure="on", seen=seen)
    assert "ours-20.toml: version 1 of" in pages.get("/sheets").text
    answer = send(pages, "/sheets", f"{page}/back", number="1")
    assert page == answer.headers["location"]
    assert text == pages.get("/v1/sheets/ours-20.toml/file").text
    assert "Taken away" not in pages.get("/sheets").text


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


def test_numbers_that_no_version_has_are_refused(pages: TestClient) -> None:
    """However long they are."""
    sheet = "/sheets/short-wash.toml"
    for asked in ("before=1" + 30 * "0", "before=-1", "after=1" + 30 * "0"):
        assert 422 == pages.get(f"{sheet}/compare?{asked}").status_code
    for number in ("1" + 30 * "0", 5000 * "9"):
        answer = send(pages, "/sheets/short-wash.toml", f"{sheet}/back", number=number)
        assert 422 == answer.status_code


def test_the_longest_sheet_is_kept_by_the_page(pages: TestClient, school: DeskSettings) -> None:
    """A form makes a text up to six times as long; what the API takes, the page takes too."""
    text = stocked.own("long")
    text += (papers.LARGEST_BYTES - len(text.encode())) // 4 * "#==\n"
    sent = {"text": text.replace("\n", "\r\n"), "seen": papers.tag_of("")}
    answer = send(pages, "/sheets/short-wash.toml/text", "/sheets/long.toml/text", **sent)
    assert 303 == answer.status_code
    assert text == (school.files_folder / "sheets" / "long.toml").read_text(encoding="utf-8")


def test_what_is_too_large_is_told_on_a_page(pages: TestClient) -> None:
    """A browser gets words for people, not JSON."""
    answer = pages.post("/shelf/text", content=b"x" * 400_000)
    assert 413 == answer.status_code
    assert "text/html" in answer.headers["content-type"]
    assert "The request is too large" in answer.text


@pytest.mark.parametrize(("page", "name"), [("/shelf/text", "shelf"), ("/bells/text", "bells")])
def test_an_earlier_version_opens_in_the_editor(
    pages: TestClient, school: DeskSettings, page: str, name: str
) -> None:
    """It is listed there, and kept anew it stands in the file again."""
    file = school.files_folder / f"{name}.toml"
    before = file.read_text(encoding="utf-8")
    assert 303 == send(pages, page, page, text=before + "# more\n").status_code
    text = pages.get(page).text
    assert f'href="{page}?version=1"' in text
    old = pages.get(f"{page}?version=1").text
    assert "# more" not in old
    assert 303 == send(pages, f"{page}?version=1", page, text=before).status_code
    assert before == file.read_text(encoding="utf-8")
    assert 404 == pages.get(f"{page}?version=99").status_code
