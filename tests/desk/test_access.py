"""Who may see what; every way around it is tried here."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import pytest

from wetside_desk.app import create_app
from wetside_desk.store import accounts, preferences

if TYPE_CHECKING:
    from tests.desk.asking import PASSPHRASE, database_of
    from tests.desk.invented import distant, local, write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_asking import PASSPHRASE, database_of
    from desk_invented import distant, local, write_live


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
    "/FIRST-START",
    "/first-start",
    "/sign-in",
    "/L/{token}",
    "/library/chart.js",
    "/openapi.json",
}


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
    database = database_of(client)
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
        {"X-Forwarded-Proto": "https"},
        {"X-Forwarded-Port": "443"},
        {"Forwarded": "for=203.0.113.9"},
        {"Host": "sink-1.example"},
        {"Host": "127.0.0.1.example"},
        {"Host": "["},
    ],
)
def test_this_machine_means_this_machine(school: DeskSettings, headers: dict[str, str]) -> None:
    """A proxy on the device, or a foreign name that points to it, is not this machine."""
    assert 200 == local(school).get("/v1/runs").status_code
    assert 401 == local(school).get("/v1/runs", headers=headers).status_code


def test_this_machine_is_closed_once_a_passphrase_is_set(claimed: DeskSettings) -> None:
    """After set-up, being on the device itself opens nothing."""
    assert 401 == local(claimed).get("/v1/runs").status_code


def test_what_is_no_address_is_answered_and_not_broken(claimed: DeskSettings) -> None:
    """Somebody who is not signed in sends half an address: it is refused, or ignored."""
    client = distant(claimed)
    sent = {"passphrase": PASSPHRASE, "back": "//["}
    assert 403 == client.post("/sign-in", data=sent, headers={"Origin": "http://["}).status_code
    answer = client.post("/sign-in", data=sent, follow_redirects=False)
    assert (303, "/") == (answer.status_code, answer.headers["location"])


@pytest.mark.parametrize("back", ["///elsewhere.example/x", "////elsewhere.example", "/\t//a.b"])
def test_the_sign_in_leads_to_no_other_host(claimed: DeskSettings, back: str) -> None:
    """Whatever a link to the sign-in asks for, one stays on this device."""
    sent = {"passphrase": PASSPHRASE, "back": back}
    answer = distant(claimed).post("/sign-in", data=sent, follow_redirects=False)
    assert (303, "/") == (answer.status_code, answer.headers["location"])
