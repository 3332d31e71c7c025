"""A form sent after its session ended: nothing typed is lost, and nothing is forged."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING

import pytest

from wetside_desk.store import accounts, notes

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import PAGE, PASSPHRASE, database_of, form_of, hidden, ids_of
else:
    from desk_asking import PAGE, PASSPHRASE, database_of, form_of, hidden, ids_of

NOTE = 'Edge "numbers" <pale>\n\tand über'


@pytest.fixture
def browser(teacher: TestClient) -> TestClient:
    """The same as a browser, which says where its forms come from."""
    teacher.headers.update({**PAGE, "Origin": str(teacher.base_url).rstrip("/")})
    return teacher


def fields_of(text: str) -> dict[str, str]:
    """The hidden fields of a page, but for the footer's."""
    main = text.partition('<main id="main"')[2].partition("</main>")[0]
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', main)
    return {name: html.unescape(value) for name, value in found}


def end(browser: TestClient) -> None:
    """End every session, as eight idle hours do."""
    for one in accounts.sessions(database_of(browser)):
        accounts.revoke(database_of(browser), one.digest)


def typed_after_the_end(browser: TestClient) -> tuple[str, str]:
    """A note is sent after the session ended: the run, and the page that answers."""
    run = ids_of(browser)[0]
    sent = {"form": form_of(browser), "version": "0", "outcome": "thin", "note": NOTE}
    end(browser)
    answer = browser.post(f"/runs/{run}/note", data=sent)
    assert 401 == answer.status_code
    assert "The sign-in has ended" in answer.text
    return run, answer.text


def test_what_was_typed_goes_through_the_sign_in(browser: TestClient) -> None:
    """Also past a wrong passphrase; it is shown, and one press keeps it."""
    run, text = typed_after_the_end(browser)
    again = browser.post("/sign-in", data={**fields_of(text), "passphrase": "not the one"})
    assert 403 == again.status_code
    there = browser.post("/sign-in", data={**fields_of(again.text), "passphrase": PASSPHRASE})
    assert 200 == there.status_code
    assert "Edge &#34;numbers&#34; &lt;pale&gt;" in there.text
    assert not notes.of_run(database_of(browser), run).note
    assert f'action="/runs/{run}/note"' in there.text
    kept = browser.post(f"/runs/{run}/note", data=fields_of(there.text), follow_redirects=False)
    assert 303 == kept.status_code
    found = notes.of_run(database_of(browser), run)
    assert ("thin", NOTE) == (found.outcome, found.note)


def test_signed_in_elsewhere_the_form_is_sent_again(browser: TestClient) -> None:
    """A form that is older than the sign-in changes nothing, and is shown to be sent anew."""
    page = "/bells/text"
    old = browser.get(page).text
    text = "format = 1\n# " + "".join(f"line {n}\n# " for n in range(2000))
    end(browser)
    browser.post("/sign-in", data={"passphrase": PASSPHRASE})
    sent = {"form": hidden(old, "form"), "seen": hidden(old, "seen"), "text": text}
    answer = browser.post(page, data=sent)
    assert 403 == answer.status_code
    again = fields_of(answer.text)
    assert (text, sent["seen"]) == (again["text"], again["seen"])
    assert form_of(browser) == again["form"]


def test_no_passphrase_is_carried(browser: TestClient) -> None:
    """Nor a tick before something final: both are asked for again."""
    sent = {"form": form_of(browser), "old": "secret-1", "passphrase": "secret-2"}
    sent |= {"again": "secret-3", "sure": "on"}
    end(browser)
    text = browser.post("/settings/passphrase", data=sent).text
    assert "secret" not in text
    assert "typed." not in text


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null", ""])
def test_forms_of_other_sites_are_not_carried(browser: TestClient, origin: str) -> None:
    """Nothing of them stands in the sign-in or waits behind it."""
    run = ids_of(browser)[0]
    stale = {"version": "0", "note": "planted", "form": "guessed"}
    headers = {"Origin": origin} if origin else {}
    if not origin:
        del browser.headers["Origin"]
    assert "planted" not in browser.post(f"/runs/{run}/note", data=stale, headers=headers).text
    end(browser)
    assert "planted" not in browser.post(f"/runs/{run}/note", data=stale, headers=headers).text


def test_what_is_long_is_not_carried(browser: TestClient) -> None:
    """A text that is longer than any form is refused before it is read, as ever."""
    sent = {"form": form_of(browser), "text": 70_000 * "x"}
    end(browser)
    answer = browser.post("/shelf/text", data=sent)
    assert 401 == answer.status_code
    assert "xxxx" not in answer.text


def test_after_the_sign_in_the_page_comes_back(browser: TestClient) -> None:
    """Where nothing was typed the sign-in leads to the page on which the button was."""
    end(browser)
    referer = {"Referer": f"{browser.base_url}/compare?run=a&run=b"}
    text = browser.post("/settings/revoke", data={"form": "old"}, headers=referer).text
    back = fields_of(text)["back"]
    assert "/compare?run=a&run=b" == back
    answer = browser.post(
        "/sign-in", data={"back": back, "passphrase": PASSPHRASE}, follow_redirects=False
    )
    assert back == answer.headers["location"]
