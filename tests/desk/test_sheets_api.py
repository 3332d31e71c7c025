"""Sheets over the API: look, replace, copy, versions, differences."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING
from urllib.parse import quote

import pytest
from starlette.testclient import TestClient

from wetside.journal.reader import Reader
from wetside.session import sheetbook
from wetside_desk.files import papers, sheet_acts

if TYPE_CHECKING:
    from tests.desk import asking, stocked
    from tests.desk.invented import local

    from wetside_desk.settings import DeskSettings
else:
    import desk_asking as asking
    import desk_stocked as stocked
    from desk_invented import local

TOML = {"Content-Type": "application/toml"}
NEW = {**TOML, "If-None-Match": "*"}
LONGER = ("seconds = 310 ", "seconds = 370 ", 1)
OURS = stocked.shipped().replace('name = "one reel 20"', 'name = "our reel"')


@pytest.fixture
def sheets(folder: DeskSettings) -> Iterator[TestClient]:
    """A desk with nothing but the sheets that ship."""
    with local(folder) as client:
        yield client


def test_the_list_is_what_the_station_finds(folder: DeskSettings, sheets: TestClient) -> None:
    """The names are those that the station's own loading gives for the same folder."""
    sheets.put("/v1/sheets/our-reel.toml/file", content=OURS, headers=NEW)
    book = sheetbook.read(stocked.folder_of(folder))
    good = [one.sheet for one in book.offers]
    found = sheets.get("/v1/sheets").json()["sheets"]
    assert [sheet.name for sheet in good] == [one["name"] for one in found]
    assert "our reel" in {sheet.name for sheet in good}
    assert [] == book.left_out


def test_a_byte_order_mark_is_no_part_of_a_sheet(sheets: TestClient) -> None:
    """What an editor saved with a mark is taken as it is without."""
    marked = b"\xef\xbb\xbf" + OURS.encode()
    assert [] == sheets.post("/v1/sheets/check", content=marked, headers=TOML).json()["problems"]
    assert 204 == sheets.put("/v1/sheets/our.toml/file", content=marked, headers=NEW).status_code
    assert OURS == sheets.get("/v1/sheets/our.toml/file").text


def test_a_sheet_tells_its_cues(sheets: TestClient) -> None:
    """The first cue is the full tank ten seconds after pouring; the last ends the wetting bath."""
    found = sheets.get("/v1/sheets/one-reel-20.toml").json()
    cues = found["cues"]
    assert (10.0, 2, "filled") == (cues[0]["seconds"], cues[0]["step"], cues[0]["kind"])
    assert (found["seconds"], "end-due") == (cues[-1]["seconds"], cues[-1]["kind"])
    assert sorted(cue["seconds"] for cue in cues) == [cue["seconds"] for cue in cues]


def test_a_shipped_sheet_is_hidden_and_comes_back(sheets: TestClient) -> None:
    """The school's file of that name takes its place; taken away, the shipped one is seen."""
    path = "/v1/sheets/one-reel-20.toml"
    before = sheets.get(path).json()["fingerprint"]
    text = stocked.shipped().replace(*LONGER)
    answer = sheets.put(f"{path}/file", content=text, headers=NEW)
    assert 204 == answer.status_code
    found = sheets.get(path).json()
    assert (True, True) == (found["own"], found["hides_shipped"])
    assert before != found["fingerprint"]
    tag = {"If-Match": answer.headers["etag"]}
    assert 204 == sheets.delete(f"{path}/file", headers=tag).status_code
    assert before == sheets.get(path).json()["fingerprint"]
    assert 404 == sheets.delete(f"{path}/file", headers=tag).status_code


def test_versions_and_what_differs(sheets: TestClient) -> None:
    """Each change is a version; the difference is one key, with both values."""
    path = "/v1/sheets/my.toml"
    first = sheets.put(f"{path}/file", content=OURS, headers=NEW)
    sheets.put(
        f"{path}/file",
        content=OURS.replace(*LONGER),
        headers={**TOML, "If-Match": first.headers["etag"]},
    )
    versions = sheets.get(f"{path}/versions").json()["versions"]
    assert [2, 1] == [one["number"] for one in versions]
    asked = {"before": 1, "after": 2}
    changes = sheets.get(f"{path}/changes", params=asked).json()["changes"]
    assert [{"key": "step[4].seconds", "before": 310.0, "after": 370.0}] == changes
    assert OURS == sheets.get(f"{path}/versions/1").text
    assert 404 == sheets.get(f"{path}/versions/3").status_code
    for address in (f"{path}/versions", f"{path}/changes?before=1&after=2"):
        known = {"If-None-Match": sheets.get(address).headers["etag"]}
        assert 304 == sheets.get(address, headers=known).status_code


def test_a_change_by_hand_becomes_a_version(folder: DeskSettings, sheets: TestClient) -> None:
    """What somebody wrote into the folder is kept before the desk replaces it."""
    stocked.folder_of(folder).mkdir(parents=True)
    by_hand = OURS.replace(*LONGER)
    (stocked.folder_of(folder) / "my.toml").write_text(by_hand, encoding="utf-8")
    tag = sheets.get("/v1/sheets/my.toml/file").headers["etag"]
    headers = {**TOML, "If-Match": tag}
    sheets.put("/v1/sheets/my.toml/file", content=OURS, headers=headers)
    versions = sheets.get("/v1/sheets/my.toml/versions").json()["versions"]
    assert ["this machine", "found in the folder"] == [one["who"] for one in versions]
    assert by_hand == sheets.get("/v1/sheets/my.toml/versions/1").text


def test_a_copy_keeps_the_comments(sheets: TestClient) -> None:
    """Only name and title differ, line by line."""
    copy = {"file": "copied.toml", "name": "copied", "title": "Another title"}
    answer = sheets.post("/v1/sheets/one-reel-20.toml/copies", json=copy)
    assert (201, "copied") == (answer.status_code, answer.json()["name"])
    text = sheets.get("/v1/sheets/copied.toml/file").text
    differing = [
        (old, new)
        for old, new in zip(stocked.shipped().splitlines(), text.splitlines(), strict=True)
        if old != new
    ]
    assert ['name = "copied"', 'title = "Another title"'] == [new for _, new in differing]
    assert 409 == sheets.post("/v1/sheets/one-reel-20.toml/copies", json=copy).status_code


def _by_hand(folder: DeskSettings, file: str, text: str) -> None:
    stocked.folder_of(folder).mkdir(parents=True, exist_ok=True)
    (stocked.folder_of(folder) / file).write_text(text, encoding="utf-8")


def test_two_sheets_of_one_name_are_told(folder: DeskSettings, sheets: TestClient) -> None:
    """On the display nobody could tell them apart, so the list says it of both."""
    _by_hand(folder, "twin.toml", stocked.shipped())
    found = {one["file"]: one["doubts"] for one in sheets.get("/v1/sheets").json()["sheets"]}
    assert len(found["twin.toml"]) == len(found["one-reel-20.toml"]) == 1


def test_a_sheet_without_a_wash_is_doubted(folder: DeskSettings, sheets: TestClient) -> None:
    """The sheet is used, and the list says what it leaves out; what a new one begins as has all."""
    head, wash = sheet_acts.NEW.split('[[step]]\nkind = "wash"')
    _by_hand(folder, "dry.toml", head + wash[wash.index("[[step]]") :])
    _by_hand(folder, "new.toml", sheet_acts.NEW.replace('"my sheet"', '"new"'))
    found = {one["file"]: one["doubts"] for one in sheets.get("/v1/sheets").json()["sheets"]}
    assert [] == found["new.toml"]
    (doubt,) = found["dry.toml"]
    assert "no wash after fixer" in doubt


def test_a_name_that_another_sheet_has_is_refused(sheets: TestClient) -> None:
    """As a text, as a copy and at a look, in whatever case; the answer says who has it."""
    taken = stocked.shipped().replace('"one reel 20"', '"One Reel 20"')
    place = [{"line": taken.splitlines().index('name = "One Reel 20"') + 1, "place": "name",
              "reason": "one-reel-20.toml has this name already"}]  # fmt: skip
    refused = sheets.put("/v1/sheets/twin.toml/file", content=taken, headers=NEW)
    assert (422, True) == (refused.status_code, "has this name already" in refused.text)
    copy = {"file": "twin.toml", "name": "ONE reel 20"}
    refused = sheets.post("/v1/sheets/two-reels-20.toml/copies", json=copy)
    assert (422, True) == (refused.status_code, "has this name already" in refused.text)
    assert 404 == sheets.get("/v1/sheets/twin.toml").status_code
    look = "/v1/sheets/check"
    assert place == sheets.post(look, content=taken, headers=TOML).json()["problems"]
    asked = {"file": "one-reel-20.toml"}
    assert sheets.post(look, content=taken, headers=TOML, params=asked).json()["good"]


def test_a_namesake_of_old_can_be_changed_but_no_other_takes_its_name(
    folder: DeskSettings, sheets: TestClient
) -> None:
    """A time can be mended in it before it is renamed; once it is, its old name is refused."""
    _by_hand(folder, "twin.toml", stocked.shipped())
    path = "/v1/sheets/twin.toml/file"
    for text, status in (
        (stocked.shipped().replace(*LONGER), 204),
        (OURS, 204),
        (stocked.shipped(), 422),
    ):
        seen = {**TOML, "If-Match": sheets.get(path).headers["etag"]}
        assert status == sheets.put(path, content=text, headers=seen).status_code


@pytest.mark.parametrize("file", ["my sheet.toml", "Größe 5.toml", "50 % & more? #1.toml"])
def test_a_file_named_as_people_name_files_is_opened_kept_and_copied(
    folder: DeskSettings, sheets: TestClient, file: str
) -> None:
    """Spaces, capitals, umlauts and signs in a name: every page and its forms lead back to it."""
    _by_hand(folder, file, OURS)
    page = f"/sheets/{quote(file)}"
    listed = sheets.get("/sheets").text
    assert f'href="{page}"' in listed
    shown = sheets.get(page).text
    for more in ("/text", "/copy", "/take"):
        assert f'"{page}{more}"' in shown
    editor = sheets.get(f"{page}/text")
    assert (200, True) == (editor.status_code, f'action="{page}/text"' in editor.text)
    form = asking.form_of(sheets)
    seen = papers.tag_of(OURS)
    kept = sheets.post(
        f"{page}/text",
        data={"form": form, "seen": seen, "text": OURS.replace(*LONGER)},
        follow_redirects=False,
    )
    assert (303, page) == (kept.status_code, kept.headers["location"])
    assert OURS.replace(*LONGER) == sheets.get(f"/v1{page}/file").text
    assert 200 == sheets.get(f"{page}/compare?before=1").status_code


def test_a_wrong_sheet_names_line_key_and_reason(sheets: TestClient) -> None:
    """A misspelt key and a wrong number, each with the line where it stands."""
    wrong = stocked.shipped().replace("seconds = 45 ", "seconds = 2 ")
    wrong = wrong.replace("grace_seconds", "grase_seconds", 1)
    answer = sheets.post("/v1/sheets/check", content=wrong, headers=TOML).json()
    lines = wrong.splitlines()
    assert [
        ("step[2].grase_seconds", "grase_seconds = 10"),
        ("step[3].seconds", "seconds = 2"),
    ] == [
        (one["place"], lines[one["line"] - 1].split("#")[0].strip()) for one in answer["problems"]
    ]
    refused = sheets.put("/v1/sheets/wrong.toml/file", content=wrong, headers=NEW)
    assert 422 == refused.status_code
    assert 404 == sheets.get("/v1/sheets/wrong.toml").status_code


@pytest.mark.parametrize(
    "file",
    ["..%2Fescape.toml", "a%5Cb.toml", ".hidden.toml", "a%0Ab.toml", "a%00.toml", "no-ending",
     f"{'x' * 200}.toml", f"{'%C3%B6' * 100}.toml"],
)  # fmt: skip
def test_no_file_outside_the_folder(folder: DeskSettings, sheets: TestClient, file: str) -> None:
    """Names with folders, dots in front, control characters or too many bytes are no sheet's."""
    answer = sheets.put(f"/v1/sheets/{file}/file", content=stocked.shipped(), headers=NEW)
    assert answer.status_code in {404, 422}
    assert [] == list(folder.files_folder.rglob("*"))


@pytest.mark.parametrize(
    "content", [b"\xff\xfe", b"format = 1\nname = ", b"", b"[" * 5000, b"x = 1\n" * 20_000]
)
def test_what_is_no_sheet_is_refused(sheets: TestClient, content: bytes) -> None:
    """Not UTF-8, cut off, empty, nested without end, too large: refused, never an error."""
    answer = sheets.put("/v1/sheets/odd.toml/file", content=content, headers=NEW)
    assert answer.status_code in {400, 413, 422}
    assert answer.headers["content-type"].startswith("application/problem+json")


def test_a_run_keeps_the_sheet_it_used(school: DeskSettings) -> None:
    """After the sheet is changed the run's page still shows the old one, and what differs."""
    with local(school) as client:
        with Reader(school.journal) as reader:
            row = next(row for row in reader.runs().rows if row.sheet_name == "one reel 20")
        page = f"/runs/{row.id}/sheet"
        assert "is the same today" in client.get(page).text
        text = stocked.shipped().replace(*LONGER)
        client.put("/v1/sheets/one-reel-20.toml/file", content=text, headers=NEW)
        after = client.get(page).text
        assert "is another one today" in after
        assert "step[4].seconds" in after
