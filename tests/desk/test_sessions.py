"""Sessions: kept from scripts, ended, never forged, never guessed."""

from __future__ import annotations

import stat
import time
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk.access import browsers, limits
from wetside_desk.access.limits import Limiter
from wetside_desk.app import create_app
from wetside_desk.problems import ProblemError
from wetside_desk.store import accounts

if TYPE_CHECKING:
    from collections.abc import Iterable

    from tests.desk.asking import PASSPHRASE, database_of, desk_of, form_of
    from tests.desk.invented import distant

    from wetside_desk.settings import DeskSettings
else:
    from desk_asking import PASSPHRASE, database_of, desk_of, form_of
    from desk_invented import distant


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
    database = database_of(teacher)
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


@pytest.mark.parametrize("after", [accounts.IDLE_SECONDS + 1, accounts.SESSION_SECONDS + 1])
@pytest.mark.parametrize("by", ["use", "round"])
def test_sessions_of_a_clock_that_was_ahead_end(
    teacher: TestClient, monkeypatch: pytest.MonkeyPatch, after: float, by: str
) -> None:
    """Once the clock is right they last as long as any other, used by then or not."""
    database, now = database_of(teacher), time.time()
    with database.transaction() as connection:
        connection.execute("UPDATE session SET seen = seen + 3e8, expires = expires + 3e8")
    if by == "use":
        assert 200 == teacher.get("/v1/runs").status_code
    else:
        accounts.prune(database, now)
    with database.read() as connection:
        (ends,) = connection.execute("SELECT expires FROM session").fetchone()
    assert ends < now + accounts.SESSION_SECONDS + 60.0
    monkeypatch.setattr("wetside_desk.store.accounts.time.time", lambda: now + after + 60.0)
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


def test_a_session_that_idled_out_is_not_in_the_list(teacher: TestClient) -> None:
    """The list shows what opens something; what is over is removed, with its browser's name."""
    database, now = database_of(teacher), time.time()
    accounts.open_session(database, "left alone")
    accounts.open_session(database, "program", "key")
    with database.transaction() as connection:
        connection.execute(
            "UPDATE session SET seen = ? WHERE name <> 'testclient'",
            (now - accounts.IDLE_SECONDS - 60.0,),
        )
    assert {"program", "testclient"} == {one.name for one in accounts.sessions(database)}
    accounts.prune(database, now)
    accounts.prune(database, now + accounts.SESSION_SECONDS + 1)
    with database.read() as connection:
        assert [("program",)] == connection.execute("SELECT name FROM session").fetchall()
    accounts.prune(database, now + accounts.KEY_SECONDS + 1)
    with database.read() as connection:
        assert [] == connection.execute("SELECT name FROM session").fetchall()


def elsewhere(teacher: TestClient, address: str) -> TestClient:
    """Another client of the same desk."""
    return TestClient(teacher.app, base_url="http://192.168.1.20:8470", client=(address, 50000))


def guess(teacher: TestClient, addresses: Iterable[str]) -> list[int]:
    """A wrong passphrase from each of these addresses; gives the answers."""
    return [
        elsewhere(teacher, address).post("/sign-in", data={"passphrase": "wrong"}).status_code
        for address in addresses
    ]


def test_a_flood_does_not_keep_out_who_signed_in_before(teacher: TestClient) -> None:
    """Many addresses use up what new browsers have together; the teacher's own comes in."""
    desk_of(teacher).gate.limiter = Limiter(lambda: 0.0)
    codes = guess(teacher, [f"192.168.2.{number}" for number in range(24)])
    assert [403] * 20 + [429] * 4 == codes
    right = {"passphrase": PASSPHRASE}
    assert 429 == elsewhere(teacher, "192.168.3.3").post("/sign-in", data=right).status_code
    teacher.cookies.delete("desk")
    answer = teacher.post("/sign-in", data=right, follow_redirects=False)
    assert 303 == answer.status_code


def test_a_known_browser_has_no_more_tries_than_any(teacher: TestClient) -> None:
    """With the cookie the sixth wrong passphrase is refused all the same."""
    desk_of(teacher).gate.limiter = Limiter(lambda: 0.0)
    wrong = {"passphrase": "wrong"}
    codes = [teacher.post("/sign-in", data=wrong).status_code for _ in range(6)]
    assert [403] * 5 + [429] == codes


def test_a_known_browser_cannot_be_made_up(teacher: TestClient) -> None:
    """Its seal is checked, and another passphrase voids it; the desk keeps nothing of it."""
    database = database_of(teacher)
    cookie = browsers.made(database)
    assert browsers.known(database, cookie)
    for forged in ("", ".", "a.b", cookie[:-1], f"0{cookie}", cookie.replace(".", ".é")):
        assert "" == browsers.known(database, forged)
    accounts.set_passphrase(database, "quite another one")
    assert "" == browsers.known(database, cookie)


def test_addresses_of_one_laptop_count_as_one(teacher: TestClient) -> None:
    """IPv6 addresses of one /64 share five tries, and leave others theirs."""
    desk_of(teacher).gate.limiter = Limiter(lambda: 0.0)
    codes = guess(teacher, [f"fd00::1:{number:x}" for number in range(30)])
    assert [403] * 5 + [429] * 25 == codes
    assert [403] == guess(teacher, ["192.168.2.9"])


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("192.168.1.7", "192.168.1.7"),
        ("::ffff:192.168.1.7", "192.168.1.7"),
        ("fd00:1:2:3:4:5:6:7", "fd00:1:2:3::/64"),
        ("fe80::1%wlan0", "fe80::/64"),
        ("unknown", "unknown"),
    ],
)
def test_what_tries_are_counted_by(address: str, network: str) -> None:
    """An IPv4 address, or the half of an IPv6 address that its owner cannot choose."""
    assert network == limits.network_of(address)


def test_right_passphrases_are_no_reason_to_wait(teacher: TestClient) -> None:
    """Thirty teachers sign in one after the other."""
    desk_of(teacher).gate.limiter = Limiter(lambda: 0.0)
    for number in range(30):
        answer = elsewhere(teacher, f"192.168.2.{number}").post(
            "/sign-in", data={"passphrase": PASSPHRASE}, follow_redirects=False
        )
        assert 303 == answer.status_code


def test_guessing_links_from_many_addresses_is_slowed(teacher: TestClient) -> None:
    """After a hundred and twenty links all have to wait."""
    desk_of(teacher).gate.limiter = Limiter(lambda: 0.0)
    codes = [
        elsewhere(teacher, f"192.168.2.{number // 20}").get("/L/GUESS").status_code
        for number in range(125)
    ]
    assert [403] * 120 + [429] * 5 == codes
