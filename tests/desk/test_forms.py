"""Forms, keys and headers: nothing is changed but by a page of this device."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from wetside_desk.access.headers import POLICY
from wetside_desk.pages import forms
from wetside_desk.store import audit

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import PASSPHRASE, database_of, form_of
    from tests.desk.invented import distant

    from wetside_desk.settings import DeskSettings
else:
    from desk_asking import PASSPHRASE, database_of, form_of
    from desk_invented import distant


def a_run(client: TestClient) -> str:
    """Some run's id."""
    run: str = client.get("/v1/runs?limit=1").json()["runs"][0]["id"]
    return run


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


@pytest.mark.parametrize("site", ["same-origin", "none"])
def test_our_own_form_says_where_it_comes_from(teacher: TestClient, site: str) -> None:
    """A browser names the desk itself as the origin, and what was typed is kept."""
    data = {"form": form_of(teacher), "school": "our school"}
    headers = {"Origin": str(teacher.base_url).rstrip("/"), "Sec-Fetch-Site": site}
    answer = teacher.post("/settings/preferences", data=data, headers=headers)
    assert answer.status_code in {200, 303}
    assert "our school" in teacher.get("/settings").text


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


def test_loading_the_answer_again_makes_no_second_key(teacher: TestClient) -> None:
    """The form leads to a page that shows the key once; loaded again it shows and makes none."""
    data = {"form": form_of(teacher), "name": "spreadsheet"}
    answer = teacher.post("/settings/key", data=data, follow_redirects=False)
    assert (303, "/settings") == (answer.status_code, answer.headers["location"])
    shown = [teacher.get("/settings").text for _ in range(2)]
    assert ["shown this once" in text for text in shown] == [True, False]
    assert 1 == shown[1].count("Key <bdi>spreadsheet</bdi>")


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


@pytest.mark.parametrize("path", ["/sign-in", "/theme", "/L/X"])
def test_large_bodies_without_a_length_are_refused_alike(teacher: TestClient, path: str) -> None:
    """A form sent in pieces is told to be too large, not to be no form."""
    answer = teacher.post(
        path,
        content=iter([b"name=", *[b"x" * 10_000] * 7]),
        headers={"content-type": "application/x-www-form-urlencoded", "accept": "text/html"},
    )
    assert 413 == answer.status_code
    assert "The request is too large" in answer.text
    assert POLICY == answer.headers["content-security-policy"]


def test_what_was_done_is_listed(teacher: TestClient, claimed: DeskSettings) -> None:
    """Sign-ins, wrong passphrases and changes stand in the audit list, without labels."""
    distant(claimed).post("/sign-in", data={"passphrase": "wrong"})
    run = a_run(teacher)
    teacher.post(f"/runs/{run}/label", data={"form": form_of(teacher), "label": "AB7"})
    database = database_of(teacher)
    entries = audit.latest(database)
    assert ["label given", "wrong passphrase", "signed in"] == [e.action for e in entries[:3]]
    assert "AB7" not in repr(entries)


@pytest.mark.parametrize(
    ("place", "reason", "field", "says"),
    [
        ("bottle[2].bath", "bath 1 or 2", "Bath", "bath 1 or 2"),
        ("bottle[3].bath", "is missing", "Bath of bottle 3", "is missing"),
        ("bottle[2].check[4].on", "needs fresh_time", "Test, number 4", "needs “Fresh”"),
        ("bottle[2].check[4]", "is wrong", "Test, number 4", "is wrong"),
        ("closed[2]", "1960-01-01 is outside", "Closed, number 2", "1960-01-01 is outside"),
        ("weeks.names", "are bottle[1] again", "Names", "are bottle 1 again"),
        ("bottle", "one is other_key", "bottle", "one is other_key"),
        ("", "cannot be written", "", "cannot be written"),
    ],
)
def test_keys_are_told_as_labels(place: str, reason: str, field: str, says: str) -> None:
    """As beside the field; the table where it is another one, the number in a list."""
    labels = {"bath": "Bath", "check": "Test", "fresh_time": "Fresh", "closed": "Closed"}
    labels |= {"weeks": "Only in weeks", "names": "Names"}
    found = forms.worded([(place, reason)], labels, "bottle[2]")
    assert [(field, says)] == [(one.label, one.reason) for one in found]


def test_a_refused_choice_stays_in_its_field(teacher: TestClient) -> None:
    """Beside the form is said what is wrong with which field, and nothing typed is lost."""
    typed = {"school": "New School", "retention_days": "soon", "temperature": "F"}
    data = {"form": form_of(teacher), **typed}
    answer = teacher.post("/settings/preferences", data=data)
    assert 422 == answer.status_code
    assert 'value="New School"' in answer.text
    assert re.search(r'name="retention_days"[^>]* value="soon" aria-invalid="true"', answer.text)
    assert '<option value="F" selected>' in answer.text
    assert "New School" not in teacher.get("/settings").text


def test_passphrases_that_differ_are_told_at_their_form(teacher: TestClient) -> None:
    """The reason stands between the heading and the fields, and at the field."""
    data = {"form": form_of(teacher), "old": PASSPHRASE, "passphrase": 12 * "a", "again": 12 * "b"}
    text = teacher.post("/settings/passphrase", data=data).text
    assert "differ" in text.partition("<h2>Passphrase</h2>")[2].partition("<form")[0]
    assert re.search(r'name="again"[^>]* aria-invalid="true" aria-describedby="wrong-again"', text)
