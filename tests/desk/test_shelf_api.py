"""The shelf over the API: answers, changes, refusals."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside.development.shelf import Use
from wetside_desk import schooltime
from wetside_desk.shelf import acts
from wetside_desk.store import accounts, preferences, uses
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from tests.desk import stocked
    from tests.desk.asking import desk_of
    from tests.desk.invented import distant, local

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_asking import desk_of
    from desk_invented import distant, local

TOML = {"Content-Type": "application/toml"}


@pytest.fixture
def shelf(school: DeskSettings, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A desk on this machine over ten runs and a stocked shelf."""
    stocked.put(school)
    monkeypatch.setattr(schooltime, "now", lambda: stocked.NOW)
    with local(school) as client:
        yield client


def tag(client: TestClient) -> dict[str, str]:
    """The header that a change of the shelf file needs."""
    return {"If-Match": client.get("/v1/shelf/file").headers["etag"], **TOML}


def bottle(client: TestClient, label: str) -> dict[str, object]:
    """One bottle of the answer."""
    found = client.get("/v1/shelf").json()["bottles"]
    return next(one for one in found if one["label"] == label)


def test_a_bottle_tells_what_is_left(shelf: TestClient) -> None:
    """1 L at 20 rolls a litre, 6 before and 11 counted leave 3; silver is collected."""
    fixer = bottle(shelf, "Fixer 1")
    assert (17.0, 3.0) == (fixer["rolls"], fixer["left_rolls"])
    assert fixer["collect"] is True
    assert "silver" in str(fixer["disposal"])
    assert ["test due"] == [one["trouble"] for one in fixer["notices"]]  # type: ignore[attr-defined]


def test_the_shelf_carries_a_tag(shelf: TestClient) -> None:
    """Asked again with its ETag the answer is 304 without a body."""
    answer = shelf.get("/v1/shelf")
    again = shelf.get("/v1/shelf", headers={"If-None-Match": answer.headers["etag"]})
    assert (304, b"") == (again.status_code, again.content)


def test_a_clearing_test_is_written_into_the_file(shelf: TestClient) -> None:
    """The test stands in the TOML with the day and the rolls so far, and fixing doubles it."""
    answer = shelf.post("/v1/shelf/bottles/Fixer 1/tests", json={"clearing_seconds": 61.0})
    assert 201 == answer.status_code
    test = answer.json()["tests"][-1]
    assert (122.0, False, "2025-11-17") == (test["fix_seconds"], test["discard"], test["on"])
    written = tomllib.loads(shelf.get("/v1/shelf/file").text)["bottle"][2]["check"][-1]
    assert (61.0, 17.0) == (written["clearing_seconds"], written["rolls"])
    assert [] == answer.json()["notices"]


def test_twice_the_fresh_time_means_discard(shelf: TestClient) -> None:
    """Fresh 40 s: at 80 s the bottle may not be used (US Navy NAVEDTRA 14209)."""
    answer = shelf.post("/v1/shelf/bottles/Fixer 1/tests", json={"clearing_seconds": 80})
    assert answer.json()["tests"][-1]["discard"] is True
    assert answer.json()["usable"] is False
    assert shelf.post("/v1/shelf/bottles/Fixer 2/tests", json={"clearing_seconds": 75}).json()[
        "usable"
    ]


def test_a_fresh_test_becomes_the_measure(shelf: TestClient) -> None:
    """A test of fresh fixer is what later ones are compared with, and no test of its own."""
    path = "/v1/shelf/bottles/Fixer 2/tests"
    shelf.post(path, json={"clearing_seconds": 30, "fresh": True})
    found = shelf.post(path, json={"clearing_seconds": 45}).json()["tests"]
    assert [1.5] == [one["ratio"] for one in found]


def test_a_test_that_does_not_belong_is_refused(shelf: TestClient) -> None:
    """A colour for fixer is refused at its key, and the file stays as it was."""
    before = shelf.get("/v1/shelf/file").text
    answer = shelf.post("/v1/shelf/bottles/Fixer 1/tests", json={"colour": "yellow"})
    assert 422 == answer.status_code
    assert "bottle[3].check[2].colour" == answer.json()["errors"][0]["place"]
    assert before == shelf.get("/v1/shelf/file").text


@pytest.mark.parametrize("body", [{}, {"clearing_seconds": 50, "colour": "yellow"}])
def test_a_test_is_one_or_the_other(shelf: TestClient, body: dict[str, object]) -> None:
    """Neither nothing nor both."""
    assert 422 == shelf.post("/v1/shelf/bottles/Fixer 1/tests", json=body).status_code


def test_an_unknown_bottle(shelf: TestClient) -> None:
    """No bottle of that label is 404."""
    answer = shelf.post("/v1/shelf/bottles/Nobody/tests", json={"clearing_seconds": 50})
    assert (404, "/problems/bottle-not-found") == (answer.status_code, answer.json()["type"])


def test_mixed_anew(shelf: TestClient) -> None:
    """Uses, tests and rolls from before are gone from the count; comments stay in the file."""
    answer = shelf.post("/v1/shelf/bottles/Fixer 1/fillings", json={"mixed_on": "2025-11-17"})
    assert (201, 0.0, 20.0) == (
        answer.status_code,
        answer.json()["rolls"],
        answer.json()["left_rolls"],
    )
    assert [] == answer.json()["tests"]
    assert "# poured away after use" in shelf.get("/v1/shelf/file").text
    assert 11.0 == bottle(shelf, "Stop 1")["rolls"]


def test_replacing_the_file_needs_its_tag(shelf: TestClient) -> None:
    """Without If-Match 428, with an old one 412, with the present one it is replaced."""
    text = stocked.SHELF.replace('label = "Stop 1"', 'label = "Stop A"')
    old = tag(shelf)
    assert 428 == shelf.put("/v1/shelf/file", content=text, headers=TOML).status_code
    answer = shelf.put("/v1/shelf/file", content=text, headers=old)
    assert 204 == answer.status_code
    assert text == shelf.get("/v1/shelf/file").text
    assert answer.headers["etag"] == shelf.get("/v1/shelf/file").headers["etag"]
    assert 412 == shelf.put("/v1/shelf/file", content=text, headers=old).status_code


def test_a_new_file_is_made_only_where_there_is_none(
    folder: DeskSettings, shelf: TestClient
) -> None:
    """If-None-Match: * makes the first file and never replaces one."""
    never = {**TOML, "If-None-Match": "*"}
    assert 412 == shelf.put("/v1/shelf/file", content="format = 1\n", headers=never).status_code
    (folder.files_folder / "shelf.toml").unlink()
    assert 404 == shelf.get("/v1/shelf/file").status_code
    assert 204 == shelf.put("/v1/shelf/file", content="format = 1\n", headers=never).status_code


def test_a_wrong_file_names_file_key_and_reason(shelf: TestClient) -> None:
    """Every problem at once; nothing is replaced."""
    wrong = stocked.SHELF.replace('"1+19"', '"1:19"').replace('use = "once"', 'use = "twice"', 1)
    answer = shelf.put("/v1/shelf/file", content=wrong, headers=tag(shelf))
    found = {(one["file"], one["place"]) for one in answer.json()["errors"]}
    assert {("shelf.toml", "bottle[1].use"), ("shelf.toml", "bottle[2].strength")} == found
    assert stocked.SHELF == shelf.get("/v1/shelf/file").text


def test_a_day_of_another_age_is_refused(shelf: TestClient) -> None:
    """Sums of days would leave what a date can hold; the file is refused at its key instead."""
    wrong = stocked.SHELF.replace("mixed_on = 2025-09-01", "mixed_on = 9999-12-31")
    answer = shelf.put("/v1/shelf/file", content=wrong, headers=tag(shelf))
    assert "bottle[6].mixed_on" == answer.json()["errors"][0]["place"]


def test_a_broken_file_on_the_disk_is_told(folder: DeskSettings, shelf: TestClient) -> None:
    """Somebody wrote nonsense by hand: the answer says what, and is no error itself."""
    (folder.files_folder / "shelf.toml").write_text("format = 2\n[[bottle]]\n", encoding="utf-8")
    answer = shelf.get("/v1/shelf")
    assert 200 == answer.status_code
    assert "format" in {one["place"] for one in answer.json()["file"]["problems"]}
    assert [] == answer.json()["bottles"]


def test_check_gives_lines(shelf: TestClient) -> None:
    """A look at a text names the line of each problem and keeps nothing."""
    wrong = stocked.SHELF.replace('"1+19"', '"1:19"')
    line = wrong.splitlines().index('strength = "1:19"') + 1
    answer = shelf.post("/v1/shelf/check", content=wrong, headers=TOML).json()
    assert [(line, "bottle[2].strength")] == [
        (one["line"], one["place"]) for one in answer["problems"]
    ]
    assert stocked.SHELF == shelf.get("/v1/shelf/file").text


def test_before_a_class(shelf: TestClient) -> None:
    """Nine tanks: the stop bath serves one of them, said before the class and not in it."""
    found = shelf.get("/v1/shelf/class", params={"tanks": 9}).json()["notices"]
    assert "stop bath: serves 1 of 9 tanks; mix before class" == found[0]["text"]


def test_mixing_keeps_acid_for_the_water(shelf: TestClient) -> None:
    """1+19 to 1 L is 50 mL and 950 mL; water is poured first, acid slowly into it."""
    asked = {"total": "1L", "strength": "1+19", "holds": "stop bath"}
    found = shelf.get("/v1/shelf/mixing", params=asked).json()
    assert ([50.0], 950.0) == (found["concentrate_millilitres"], found["water_millilitres"])
    steps = found["steps"]
    water = next(at for at, text in enumerate(steps) if text.startswith("Pour"))
    acid = next(at for at, text in enumerate(steps) if text.startswith("Add"))
    assert water < acid
    assert any("never water into acid" in text for text in steps[:water])


def test_mixing_takes_fluid_ounces(shelf: TestClient) -> None:
    """32 fl oz at 1+4: a fifth of 946.35 mL (NIST Handbook 44)."""
    asked = {"total": "32floz", "strength": "1+4", "holds": "fixer"}
    found = shelf.get("/v1/shelf/mixing", params=asked).json()
    assert pytest.approx(189.27, abs=0.01) == found["concentrate_millilitres"][0]


def test_texts_speak_in_the_teachers_unit(shelf: TestClient, school: DeskSettings) -> None:
    """A teacher of fluid ounces reads steps and warnings in them; the numbers stay millilitres."""
    preferences.save(
        Database(school.data / "desk.sqlite3"), preferences.Preferences(volume="fl oz")
    )
    asked = {"total": "32floz", "strength": "1+3", "holds": "fixer"}
    found = shelf.get("/v1/shelf/mixing", params=asked).json()
    assert pytest.approx(946.35, abs=0.01) == found["total_millilitres"]
    assert "Add 8 fl oz of the concentrate to it." in found["steps"]
    notices = shelf.get("/v1/shelf/class", params={"tanks": 30}).json()["notices"]
    told = [one["text"] for one in notices if "at hand" in one["text"]]
    assert told
    assert all("fl oz" in text and "mL" not in text for text in told)


@pytest.mark.parametrize(
    "asked",
    [
        {"total": "1L", "strength": "1:4", "holds": "fixer"},
        {"total": "some", "strength": "1+4", "holds": "fixer"},
        {"total": "1L", "strength": "1+4", "holds": "soup"},
    ],
)
def test_mixing_refuses_what_it_cannot_read(shelf: TestClient, asked: dict[str, str]) -> None:
    """A colon, no volume, no solution."""
    assert 422 == shelf.get("/v1/shelf/mixing", params=asked).status_code


def test_a_week_spares_a_tenth_without_a_bottle_too(
    shelf: TestClient, school: DeskSettings
) -> None:
    """A kind that the shelf does not keep is counted as one that is used once."""
    file = school.files_folder / "shelf.toml"
    head, _, *others = file.read_text(encoding="utf-8").split("[[bottle]]")
    file.write_text("[[bottle]]".join([head, *others]), encoding="utf-8")
    found = shelf.get("/v1/shelf/week", params={"day": "2025-11-19"}).json()["stock"]
    without = [one for one in found if one["bottle"] is None]
    assert without
    for one in without:
        assert pytest.approx(1.1 * one["fillings_millilitres"]) == one["millilitres"]
        assert [] == one["concentrate_millilitres"]


def test_a_week_of_stock(shelf: TestClient) -> None:
    """By hand: week A has 12*3 + 9*2 + 16*2 = 86 tanks of 300 mL developer, 1+1, a tenth spare."""
    found = shelf.get("/v1/shelf/week", params={"day": "2025-11-19"}).json()
    assert ("2025-11-17", 7) == (found["monday"], found["classes"])
    developer = next(one for one in found["stock"] if one["holds"] == "developer")
    assert 86 == developer["tanks"]
    assert pytest.approx(86 * 300 * 1.1 / 2) == developer["concentrate_millilitres"][0]


def test_washing_by_changes(shelf: TestClient) -> None:
    """500 mL: two changes leave 0.24 of 0.72 mg (Torzynski 2004), one more is planned."""
    found = shelf.get("/v1/shelf/wash", params={"tank": "500mL", "water": "50F"}).json()
    assert (3, 2.0) == (found["changes"], found["times_longer_cold"])


READING = [
    "/v1/shelf",
    "/v1/shelf/file",
    "/v1/shelf/uses",
    "/v1/shelf/class?tanks=3",
    "/v1/shelf/week",
    "/v1/bells",
    "/v1/bells/file",
    "/v1/bells/day",
    "/v1/bells/starts",
    "/v1/sheets",
    "/v1/sheets/one-reel-20.toml",
    "/v1/sheets/one-reel-20.toml/file",
    "/v1/sheets/one-reel-20.toml/versions",
]
CHANGING = [
    ("PUT", "/v1/shelf/file"),
    ("POST", "/v1/shelf/check"),
    ("POST", "/v1/shelf/bottles/Stop 1/tests"),
    ("POST", "/v1/shelf/bottles/Stop 1/fillings"),
    ("PUT", "/v1/bells/file"),
    ("POST", "/v1/bells/check"),
    ("PUT", "/v1/sheets/one-reel-20.toml/file"),
    ("DELETE", "/v1/sheets/one-reel-20.toml/file"),
    ("POST", "/v1/sheets/one-reel-20.toml/copies"),
    ("POST", "/shelf/new"),
    ("POST", "/shelf/bottles/Stop 1/change"),
    ("POST", "/shelf/bottles/Stop 1/take"),
    ("POST", "/shelf/bottles/Stop 1/renew"),
    ("POST", "/shelf/bottles/Stop 1/test"),
    ("POST", "/shelf/runs/move"),
    ("POST", "/shelf/text"),
    ("POST", "/bells/room"),
    ("POST", "/bells/table"),
    ("POST", "/bells/text"),
    ("POST", "/bells/periods/1"),
    ("POST", "/sheets/one-reel-20.toml/text"),
    ("POST", "/sheets/one-reel-20.toml/copy"),
    ("POST", "/sheets/one-reel-20.toml/take"),
    ("POST", "/sheets/one-reel-20.toml/back"),
]


@pytest.fixture(scope="module")
def stranger(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str]]:
    """Somebody on the school's network without a session, and a key that may only read."""
    from wetside_desk.settings import DeskSettings  # noqa: PLC0415  # one fixture needs it

    place = tmp_path_factory.mktemp("stranger")
    (place / "live").mkdir()
    settings = DeskSettings(place / "journal.sqlite3", place / "live", place / "desk")
    stocked.put(settings)
    database = Database(settings.data / "desk.sqlite3")
    accounts.set_passphrase(database, "four words in a row")
    key = accounts.open_session(database, "a program", "key")
    database.close()
    with distant(settings) as client:
        yield client, key


@pytest.mark.parametrize("path", READING)
def test_nobody_reads_without_a_session(stranger: tuple[TestClient, str], path: str) -> None:
    """Shelf, bells and sheets are the teacher's; a key may read them."""
    client, key = stranger
    assert 401 == client.get(path).status_code
    assert 200 == client.get(path, headers={"Authorization": f"Bearer {key}"}).status_code


@pytest.mark.parametrize(("method", "path"), CHANGING)
def test_nobody_changes_without_a_session(
    stranger: tuple[TestClient, str], method: str, path: str
) -> None:
    """Neither a stranger nor a key that reads can change anything."""
    client, key = stranger
    body = {"content": "format = 1\n", "headers": {**TOML, "If-Match": "*"}}
    assert 401 == client.request(method, path, **body).status_code  # type: ignore[arg-type]
    body["headers"] = {**TOML, "If-Match": "*", "Authorization": f"Bearer {key}"}
    assert 401 == client.request(method, path, **body).status_code  # type: ignore[arg-type]


def test_another_sites_page_changes_nothing(shelf: TestClient) -> None:
    """The browser says where a request comes from; one from elsewhere is refused."""
    headers = {**TOML, "If-Match": "*", "Sec-Fetch-Site": "cross-site"}
    for method, path in CHANGING:
        answer = shelf.request(method, path, content="format = 1\n", headers=headers)
        assert (path, 403) == (path, answer.status_code)
    assert stocked.SHELF == shelf.get("/v1/shelf/file").text


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", ""])
def test_what_a_form_could_send_is_not_taken(shelf: TestClient, kind: str) -> None:
    """A form of another site can post these types without being asked; the API takes none."""
    headers = {"Content-Type": kind} if kind else {}
    answer = shelf.post("/v1/shelf/check", content="format = 1\n", headers=headers)
    assert 400 == answer.status_code


TWO_BATHS = """\
format = 1

[[bottle]]
label = "Fixer 1"
holds = "fixer"
strength = "1+4"
millilitres = 1000
mixed_on = 2025-11-03
use = "two-bath"
bath = 1
rolls_per_litre = 20
rolls_before = 20
fresh_clearing_seconds = 40
  [[bottle.check]]
  on = 2025-11-10
  clearing_seconds = 70

[[bottle]]
label = "Fixer 2"              # on the upper board
holds = "fixer"
strength = "1+4"
millilitres = 1000
mixed_on = 2025-11-03
use = "two-bath"
bath = 2
rolls_per_litre = 20
rolls_before = 20
"""


@pytest.fixture
def two_baths(shelf: TestClient) -> TestClient:
    """A shelf with a two-bath fixer alone, bath 1 exhausted."""
    assert 204 == shelf.put("/v1/shelf/file", content=TWO_BATHS, headers=tag(shelf)).status_code
    return shelf


def test_bath_2_becomes_bath_1(two_baths: TestClient) -> None:
    """The bottle of bath 1 begins anew as bath 2; bath 2 is bath 1 with its whole capacity."""
    moved = {"bath_2": "Fixer 2", "mixed_on": "2025-11-17"}
    answer = two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved)
    assert 201 == answer.status_code
    first, second = answer.json()["bath_1"], answer.json()["bath_2"]
    assert ("Fixer 2", 1, 20.0, 20.0) == tuple(
        first[key] for key in ("label", "bath", "rolls", "left_rolls")
    )
    assert ("Fixer 1", 2, 0.0, None, []) == tuple(
        second[key] for key in ("label", "bath", "rolls", "left_rolls", "tests")
    )
    assert ("2025-11-17", "2025-11-03") == (second["mixed_on"], first["mixed_on"])
    assert "# on the upper board" in two_baths.get("/v1/shelf/file").text
    again = two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved)
    assert (422, "'Fixer 1' is not bath 1 of a two-bath fixer.") == (
        again.status_code,
        again.json()["detail"],
    )


def test_a_mixed_anew_bath_forgets_that_it_was_bath_2(two_baths: TestClient) -> None:
    """The rolls from its time as bath 2 go with the filling that they went through."""
    moved = {"bath_2": "Fixer 2", "mixed_on": "2025-11-17"}
    two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved)
    assert "rolls_as_second_bath = 20" in two_baths.get("/v1/shelf/file").text
    two_baths.post("/v1/shelf/bottles/Fixer 2/fillings", json={"mixed_on": "2025-11-17"})
    assert "rolls_as_second_bath" not in two_baths.get("/v1/shelf/file").text


def test_a_bath_that_was_moved_days_ago_takes_the_rolls_since(two_baths: TestClient) -> None:
    """Told late with the right day: five rolls went through it before that day, seven since."""
    desk = desk_of(two_baths)
    for number, on in enumerate([date(2025, 11, 8)] * 5 + [date(2025, 11, 14)] * 7):
        use = Use(f"r{number}", "Fixer 2", on, 1.0, 0.0)
        uses.record(desk.database, uses.Ended(f"r{number}", 2.0), [use])
    moved = {"bath_2": "Fixer 2", "mixed_on": "2025-11-10"}
    first = two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved).json()["bath_1"]
    assert (32.0, 13.0) == (first["rolls"], first["left_rolls"])


def test_a_later_day_of_mixing_in_the_form_forgets_it_too(two_baths: TestClient) -> None:
    """However the new filling is told, nothing of it was taken as bath 2."""
    moved = {"bath_2": "Fixer 2", "mixed_on": "2025-11-10"}
    two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved)
    desk = desk_of(two_baths)
    assert "rolls_as_second_bath = 20" in two_baths.get("/v1/shelf/file").text
    seen = acts.find(desk, "Fixer 2")[0].written.tag
    acts.change(desk, "Fixer 2", {"mixed_on": date(2025, 11, 16)}, seen, "teacher")
    text = two_baths.get("/v1/shelf/file").text
    assert "rolls_as_second_bath" not in text
    assert "moved_up_on" not in text


def test_a_later_day_of_mixing_in_the_text_is_refused_beside_it(two_baths: TestClient) -> None:
    """A new filling written by hand cannot keep what went through the old one as bath 2."""
    moved = {"bath_2": "Fixer 2", "mixed_on": "2025-11-10"}
    two_baths.post("/v1/shelf/bottles/Fixer 1/moves", json=moved)
    text = two_baths.get("/v1/shelf/file").text
    assert "moved_up_on = 2025-11-10" in text
    text = text.replace("mixed_on = 2025-11-03", "mixed_on = 2025-11-16")
    answer = two_baths.put("/v1/shelf/file", content=text, headers=tag(two_baths))
    assert 422 == answer.status_code
    assert "2025-11-10 is before it was mixed, 2025-11-16" in answer.text


def test_a_week_takes_both_baths(two_baths: TestClient) -> None:
    """Each of them must fill the four tanks of 300 mL at once, and a tenth more."""
    found = two_baths.get("/v1/shelf/week?day=2025-11-17").json()["stock"]
    baths = [one for one in found if one["holds"] == "fixer"]
    assert [("Fixer 1", 1), ("Fixer 2", 2)] == [(one["bottle"], one["bath"]) for one in baths]
    assert pytest.approx(1.1 * 4 * 300) == baths[1]["millilitres"]
    assert baths[0]["millilitres"] > baths[1]["millilitres"]


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("tests", {"clearing_seconds": True}),
        ("tests", {"clearing_seconds": "50"}),
        ("tests", {"clearing_seconds": 50, "fresh": "yes"}),
        ("fillings", {"mixed_on": 0}),
        ("fillings", {"mixed_on": 1763337600}),
        ("fillings", {"mixed_on": "1763337600"}),
        ("fillings", {"mixed_on": "2025-11-17T10:00:00"}),
        ("fillings", {"mixed_on": "2025-11-18"}),
        ("fillings", {"mixed_on": "2200-12-31"}),
    ],
)
def test_nothing_is_taken_for_what_it_is_not(
    shelf: TestClient, path: str, body: dict[str, object]
) -> None:
    """No truth as a number, no number as a day, no day that is still to come; nothing is kept."""
    before = shelf.get("/v1/shelf/file").text
    assert 422 == shelf.post(f"/v1/shelf/bottles/Fixer 1/{path}", json=body).status_code
    assert before == shelf.get("/v1/shelf/file").text


def test_a_number_in_an_address_is_no_day(shelf: TestClient) -> None:
    """As seconds it would be one of 1970."""
    assert 422 == shelf.get("/v1/shelf?on=0").status_code
