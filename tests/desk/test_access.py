"""Who may see and change what; every way around it is tried here."""

from __future__ import annotations

import json
import re
import stat
import time
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk.access import limits
from wetside_desk.access.headers import POLICY
from wetside_desk.access.limits import Limiter
from wetside_desk.app import create_app
from wetside_desk.problems import ProblemError
from wetside_desk.store import accounts, audit, labels, periods, preferences
from wetside_desk.store.database import Database
from wetside_desk.store.periods import RunPeriod

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.desk.invented import distant, local, write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import distant, local, write_live

PASSPHRASE = "four words in a row"

#: Everything that answers without being signed in.
OPEN = {
    "/v1/station",
    "/v1/live",
    "/v1/health",
    "/live",
    "/live/words",
    "/problems",
    "/problems/{name}",
    "/api",
    "/theme",
    "/first-start",
    "/sign-in",
    "/L/{token}",
    "/library/chart.js",
    "/openapi.json",
}


@pytest.fixture
def claimed(school: DeskSettings) -> DeskSettings:
    """A desk whose passphrase is set."""
    database = Database(school.data / "desk.sqlite3")
    accounts.set_passphrase(database, PASSPHRASE)
    database.close()
    return school


@pytest.fixture
def teacher(claimed: DeskSettings) -> Iterator[TestClient]:
    """A browser on the network, signed in."""
    with distant(claimed) as client:
        answer = client.post("/sign-in", data={"passphrase": PASSPHRASE}, follow_redirects=False)
        assert 303 == answer.status_code
        yield client


def form_of(client: TestClient, address: str = "/settings") -> str:
    """The token that the forms of a page carry."""
    found = re.search(r'name="form" value="([^"]+)"', client.get(address).text)
    assert found is not None
    return found[1]


def a_run(client: TestClient) -> str:
    """Some run's id."""
    run: str = client.get("/v1/runs?limit=1").json()["runs"][0]["id"]
    return run


def routes_of(folder: DeskSettings) -> set[tuple[str, str]]:
    """Every (method, path) that the application has, HEAD and static files aside."""
    found: set[tuple[str, str]] = set()

    def walk(routes: object) -> None:
        for route in routes:  # type: ignore[attr-defined]  # a list of any routes
            if getattr(route, "methods", None):
                found.update((method, route.path) for method in route.methods if method != "HEAD")
            else:
                inner = getattr(route, "original_router", None)
                if inner is not None:
                    walk(inner.routes)

    walk(create_app(folder).routes)
    return found


@pytest.mark.parametrize("set_up", [True, False])
def test_strangers_get_nothing(school: DeskSettings, *, set_up: bool) -> None:
    """Every route but the open ones refuses somebody without a session, before and after set-up."""
    client = distant(school)
    if set_up:
        accounts.set_passphrase(client.app.state.desk.database, PASSPHRASE)  # type: ignore[attr-defined]  # the desk inside
    run = client.app.state.desk.reader.runs().rows[0].id  # type: ignore[attr-defined]  # the desk inside
    closed = sorted((method, path) for method, path in routes_of(school) if path not in OPEN)
    assert len(closed) > 25
    filled = {"run": run, "which": "trace"}
    answers = {
        (method, path): client.request(
            method, re.sub(r"\{(\w+)\}", lambda part: filled.get(part[1], "any"), path)
        )
        for method, path in closed
    }
    assert dict.fromkeys(closed, 401) == {of: it.status_code for of, it in answers.items()}
    for answer in answers.values():
        assert "application/problem+json" == answer.headers["content-type"]
        assert "Bearer" in answer.headers["www-authenticate"]


def test_people_are_led_to_the_door(claimed: DeskSettings) -> None:
    """A browser without a session comes to the sign-in page, with the way back."""
    client = distant(claimed)
    answer = client.get(
        "/summary?day=2026-01-01", headers={"accept": "text/html"}, follow_redirects=False
    )
    assert "/sign-in?back=%2Fsummary%3Fday%3D2026-01-01" == answer.headers["location"]


def test_board_is_open_and_carries_no_label(claimed: DeskSettings) -> None:
    """The class sees the station without signing in; no label is in it."""
    client = distant(claimed)
    write_live(claimed.live_file)
    assert 200 == client.get("/live").status_code
    body = client.get("/v1/station").json()
    assert "label" not in json.dumps(body)


def test_board_can_be_kept_to_the_teacher(claimed: DeskSettings) -> None:
    """With the board set to the teacher, strangers get neither page nor stream."""
    client = distant(claimed)
    database = client.app.state.desk.database  # type: ignore[attr-defined]  # the desk inside
    preferences.save(database, preferences.Preferences(board="teacher"))
    for path in ("/live", "/live/words", "/v1/station", "/v1/live"):
        assert 401 == client.get(path).status_code


def test_health_tells_strangers_the_status_alone(claimed: DeskSettings) -> None:
    """No path or figure of the device leaves it for somebody who is not signed in."""
    body = distant(claimed).get("/v1/health").json()
    assert {} == body["checks"]
    assert str(claimed.journal) not in json.dumps(body)


@pytest.mark.parametrize(
    "headers",
    [
        {"X-Forwarded-For": "203.0.113.9"},
        {"Forwarded": "for=203.0.113.9"},
        {"Host": "sink-1.example"},
        {"Host": "127.0.0.1.example"},
    ],
)
def test_this_machine_means_this_machine(school: DeskSettings, headers: dict[str, str]) -> None:
    """A proxy on the device, or a foreign name that points to it, is not this machine."""
    assert 200 == local(school).get("/v1/runs").status_code
    assert 401 == local(school).get("/v1/runs", headers=headers).status_code


def test_this_machine_is_closed_once_a_passphrase_is_set(claimed: DeskSettings) -> None:
    """After set-up, being on the device itself opens nothing."""
    assert 401 == local(claimed).get("/v1/runs").status_code


# --- first start ----------------------------------------------------------------------------


def claim_of(folder: DeskSettings) -> dict[str, object]:
    """The note to the station, once it is there."""
    until = time.monotonic() + 10
    while not (folder.live / "claim.json").exists() and time.monotonic() < until:
        time.sleep(0.02)
    found: dict[str, object] = json.loads((folder.live / "claim.json").read_text())
    return found


def test_first_start_by_the_code_on_the_display(school: DeskSettings) -> None:
    """The code from the shared folder sets the passphrase once; then the note is gone."""
    with distant(school) as client:
        claim = claim_of(school)
        assert 0o640 == stat.S_IMODE((school.live / "claim.json").stat().st_mode)
        data = {"code": str(claim["code"]), "passphrase": PASSPHRASE, "again": PASSPHRASE}
        answer = client.post("/first-start", data=data, follow_redirects=False)
        assert 303 == answer.status_code
        assert 200 == client.get("/v1/runs").status_code
        assert not (school.live / "claim.json").exists()
        other = client.post("/first-start", data={**data, "passphrase": "another long one"})
        assert "/sign-in" == other.url.path
        assert accounts.passphrase_fits(client.app.state.desk.database, PASSPHRASE)  # type: ignore[attr-defined]  # the desk inside


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"code": "0000-0000"}, "not the code"),
        ({"again": "something else"}, "differ"),
        ({"passphrase": "short", "again": "short"}, "10 to 200"),
    ],
)
def test_first_start_refuses(school: DeskSettings, change: dict[str, str], says: str) -> None:
    """A wrong code, two different passphrases or a short one set nothing and say why."""
    with distant(school) as client:
        claim = claim_of(school)
        data = {"code": str(claim["code"]), "passphrase": PASSPHRASE, "again": PASSPHRASE, **change}
        answer = client.post("/first-start", data=data)
        assert 422 == answer.status_code
        assert says in answer.text
        assert not accounts.claimed(client.app.state.desk.database)  # type: ignore[attr-defined]  # the desk inside


def test_first_start_cannot_be_guessed(school: DeskSettings) -> None:
    """Guessing ends after five tries, from however many addresses."""
    with distant(school) as client:
        codes = [
            client.post("/first-start", data={"code": f"AAAA-000{n}"}).status_code for n in range(6)
        ]
    assert [422] * 5 + [429] == codes


def test_qr_of_the_claim_is_the_address(school: DeskSettings) -> None:
    """The rows of modules are a square QR code with its three finder patterns (ISO/IEC 18004)."""
    with distant(school):
        rows = claim_of(school)["qr"]
    assert isinstance(rows, list)
    assert {len(rows)} == {len(row) for row in rows}
    assert len(rows) <= 33
    finder = "1111111", "1000001", "1011101", "1011101", "1011101", "1000001", "1111111"
    for top, left in ((0, 0), (0, len(rows) - 7), (len(rows) - 7, 0)):
        assert list(finder) == [row[left : left + 7] for row in rows[top : top + 7]]


# --- sessions -------------------------------------------------------------------------------


def test_session_cookie_is_kept_from_scripts_and_other_sites(claimed: DeskSettings) -> None:
    """The cookie is HttpOnly and SameSite=Strict, and Secure where the connection is."""
    client = distant(claimed)
    cookie = client.post(
        "/sign-in", data={"passphrase": PASSPHRASE}, follow_redirects=False
    ).headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    secure = TestClient(create_app(claimed), base_url="https://sink-1.example")
    assert (
        "Secure"
        in secure.post("/sign-in", data={"passphrase": PASSPHRASE}, follow_redirects=False).headers[
            "set-cookie"
        ]
    )


def test_token_is_not_kept(teacher: TestClient, claimed: DeskSettings) -> None:
    """Neither the session token nor the passphrase stands in the database."""
    token = teacher.cookies["desk"]
    kept = b"".join(path.read_bytes() for path in claimed.data.glob("desk.sqlite3*"))
    assert token.encode() not in kept
    assert PASSPHRASE.encode() not in kept
    assert b"$argon2id$" in kept
    assert 0o600 == stat.S_IMODE((claimed.data / "desk.sqlite3").stat().st_mode)


@pytest.mark.parametrize("token", ["", "x", "0" * 43, "../../etc/passwd", "' OR 1=1 --"])
def test_forged_sessions_are_refused(claimed: DeskSettings, token: str) -> None:
    """A cookie that was made up opens nothing."""
    client = distant(claimed)
    client.cookies.set("desk", token)
    assert 401 == client.get("/v1/runs").status_code


def test_sign_out_ends_the_session_everywhere(teacher: TestClient, claimed: DeskSettings) -> None:
    """A cookie that was copied before signing out opens nothing afterwards."""
    token = teacher.cookies["desk"]
    teacher.post("/sign-out", data={"form": form_of(teacher)})
    thief = distant(claimed)
    thief.cookies.set("desk", token)
    assert 401 == thief.get("/v1/runs").status_code


def test_a_session_can_be_revoked_from_another(teacher: TestClient, claimed: DeskSettings) -> None:
    """The list of sessions ends any of them at once."""
    other = distant(claimed)
    other.post("/sign-in", data={"passphrase": PASSPHRASE})
    database = teacher.app.state.desk.database  # type: ignore[attr-defined]  # the desk inside
    mine = accounts.session_of(database, teacher.cookies["desk"])
    assert mine is not None
    digest = next(s.digest for s in accounts.sessions(database) if s.digest != mine.digest)
    teacher.post("/settings/revoke", data={"form": form_of(teacher), "digest": digest})
    assert 401 == other.get("/v1/runs").status_code
    assert 200 == teacher.get("/v1/runs").status_code


def test_changing_the_passphrase_ends_all_sessions(
    teacher: TestClient, claimed: DeskSettings
) -> None:
    """Old sessions and the old passphrase open nothing; the new one does."""
    data = {"old": PASSPHRASE, "passphrase": "quite another one", "again": "quite another one"}
    teacher.post("/settings/passphrase", data={**data, "form": form_of(teacher)})
    assert 401 == teacher.get("/v1/runs").status_code
    again = distant(claimed)
    assert 403 == again.post("/sign-in", data={"passphrase": PASSPHRASE}).status_code
    assert 200 == again.post("/sign-in", data={"passphrase": "quite another one"}).status_code


@pytest.mark.parametrize("after", [accounts.IDLE_SECONDS + 1, accounts.SESSION_SECONDS + 1])
def test_sessions_end_by_themselves(
    teacher: TestClient, monkeypatch: pytest.MonkeyPatch, after: float
) -> None:
    """A session that nobody used for eight hours is over."""
    now = time.time()
    monkeypatch.setattr("wetside_desk.store.accounts.time.time", lambda: now + after)
    assert 401 == teacher.get("/v1/runs").status_code


def test_guessing_the_passphrase_is_slowed(claimed: DeskSettings) -> None:
    """After five wrong passphrases the sixth try is not even looked at, right or wrong."""
    client = distant(claimed)
    codes = [client.post("/sign-in", data={"passphrase": f"w{n}"}).status_code for n in range(5)]
    last = client.post("/sign-in", data={"passphrase": PASSPHRASE})
    assert [403] * 5 == codes
    assert 429 == last.status_code
    assert int(last.headers["retry-after"]) > 0


def test_limits_refill_evenly() -> None:
    """A spent limit gives one more try after its interval, and only one."""
    now = 0.0
    limiter = Limiter(lambda: now)
    limit = limits.Limit("test", 2, 10.0)
    limiter.take(limit, "a")
    limiter.take(limit, "a")
    with pytest.raises(ProblemError):
        limiter.take(limit, "a")
    limiter.take(limit, "b")
    now = 10.0
    limiter.take(limit, "a")
    with pytest.raises(ProblemError):
        limiter.take(limit, "a")


# --- forms ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
    ],
)
def test_forms_of_other_sites_are_refused(teacher: TestClient, headers: dict[str, str]) -> None:
    """Even with the right token, a form that another site sends changes nothing."""
    data = {"form": form_of(teacher), "school": "elsewhere"}
    assert 403 == teacher.post("/settings/preferences", data=data, headers=headers).status_code
    assert "elsewhere" not in teacher.get("/settings").text


@pytest.mark.parametrize("token", ["", "made up", "é"])
def test_forms_without_our_token_are_refused(teacher: TestClient, token: str) -> None:
    """A form that carries no token of this session changes nothing."""
    run = a_run(teacher)
    for path, data in (
        ("/settings/preferences", {"school": "elsewhere"}),
        (f"/runs/{run}/note", {"version": "0", "note": "elsewhere"}),
        (f"/runs/{run}/label", {"label": "XX1"}),
    ):
        assert 403 == teacher.post(path, data={**data, "form": token}).status_code
    assert "elsewhere" not in teacher.get(f"/runs/{run}").text


def test_keys_read_and_do_not_change(teacher: TestClient, claimed: DeskSettings) -> None:
    """A key opens the API for reading only, and ends when it is revoked."""
    text = teacher.post(
        "/settings/key", data={"form": form_of(teacher), "name": "spreadsheet"}
    ).text
    found = re.search(r"<code>([\w-]{43})</code>", text)
    assert found is not None
    program = distant(claimed)
    bearer = {"Authorization": f"Bearer {found[1]}"}
    assert 200 == program.get("/v1/runs", headers=bearer).status_code
    assert 200 == program.get("/metrics", headers=bearer).status_code
    assert 401 == program.get("/settings", headers=bearer).status_code
    assert 401 == program.post("/settings/key", headers=bearer).status_code
    program.cookies.set("desk", found[1])
    assert 401 == program.get("/v1/runs").status_code


def test_headers_of_every_answer(teacher: TestClient) -> None:
    """The policy lets a page run and load nothing but this device's own files."""
    for path in ("/", "/live", "/v1/runs", "/nowhere", "/static/desk.css", "/library/chart.js"):
        headers = teacher.get(path).headers
        assert POLICY == headers["content-security-policy"]
        assert "nosniff" == headers["x-content-type-options"]
    assert "unsafe" not in POLICY


@pytest.mark.parametrize("path", ["/sign-in", "/theme", "/L/X"])
def test_large_bodies_are_refused(teacher: TestClient, path: str) -> None:
    """More than a form can hold is refused before it is read."""
    answer = teacher.post(path, content=b"x" * 70_000)
    assert 413 == answer.status_code
    assert "/problems/too-large" == answer.json()["type"]


def test_what_was_done_is_listed(teacher: TestClient, claimed: DeskSettings) -> None:
    """Sign-ins, wrong passphrases and changes stand in the audit list, without labels."""
    distant(claimed).post("/sign-in", data={"passphrase": "wrong"})
    run = a_run(teacher)
    teacher.post(f"/runs/{run}/label", data={"form": form_of(teacher), "label": "AB7"})
    database = teacher.app.state.desk.database  # type: ignore[attr-defined]  # the desk inside
    entries = audit.latest(database)
    assert ["label given", "wrong passphrase", "signed in"] == [e.action for e in entries[:3]]
    assert "AB7" not in repr(entries)


# --- label links ----------------------------------------------------------------------------


def test_label_link_works_once(claimed: DeskSettings) -> None:
    """A link gives its run the label; replayed, it is refused and changes nothing."""
    client = distant(claimed)
    desk = client.app.state.desk  # type: ignore[attr-defined]  # the desk inside
    run = desk.reader.runs().rows[0].id
    token, _ = labels.new_link(desk.database, run)
    assert 200 == client.get(f"/L/{token}").status_code
    assert 200 == client.post(f"/L/{token}", data={"label": "ab7", "period": "3"}).status_code
    given = labels.of_run(desk.database, run)
    assert given is not None
    assert "AB7" == given.label
    assert {run: RunPeriod("3", by_hand=True)} == periods.of_runs(desk.database, [run])
    assert 403 == client.post(f"/L/{token}", data={"label": "other"}).status_code
    assert 403 == client.get(f"/L/{token}").status_code
    assert given == labels.of_run(desk.database, run)


def test_label_page_shows_nothing_of_the_run(claimed: DeskSettings) -> None:
    """The capability is for giving a label, not for looking."""
    client = distant(claimed)
    desk = client.app.state.desk  # type: ignore[attr-defined]  # the desk inside
    row = desk.reader.runs().rows[0]
    token, _ = labels.new_link(desk.database, row.id)
    text = client.get(f"/L/{token}").text
    assert row.id not in text
    assert row.sheet_title not in text


def test_label_link_expires(claimed: DeskSettings) -> None:
    """After half an hour a link gives nothing any more."""
    client = distant(claimed)
    desk = client.app.state.desk  # type: ignore[attr-defined]  # the desk inside
    run = desk.reader.runs().rows[0].id
    token, _ = labels.new_link(desk.database, run, now=time.time() - labels.LINK_SECONDS - 1)
    assert 403 == client.post(f"/L/{token}", data={"label": "AB7"}).status_code


@pytest.mark.parametrize("label", ["", "nine chars", "A B", "<script>", "=1+1", "Müller-Lüd"])
def test_labels_are_short_letters_and_digits(claimed: DeskSettings, label: str) -> None:
    """Anything but a short word of letters and digits is refused and the link stays good."""
    client = distant(claimed)
    desk = client.app.state.desk  # type: ignore[attr-defined]  # the desk inside
    token, _ = labels.new_link(desk.database, desk.reader.runs().rows[0].id)
    assert 422 == client.post(f"/L/{token}", data={"label": label}).status_code
    assert 200 == client.get(f"/L/{token}").status_code


def test_guessing_links_is_slowed(claimed: DeskSettings) -> None:
    """After twenty links a client has to wait."""
    client = distant(claimed)
    codes = [client.get(f"/L/GUESS{n:07d}").status_code for n in range(21)]
    assert [403] * 20 + [429] == codes
