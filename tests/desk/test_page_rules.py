"""What every page keeps to: no inline script, errors as pages, a look that leads back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.testclient import TestClient

if TYPE_CHECKING:
    pass

else:
    pass


def test_pages_carry_no_inline_script_or_style(client: TestClient) -> None:
    """Scripts and styles come from files of this device only, so a strict policy can hold."""
    for address in ("/", "/live", "/api", "/problems", "/nowhere"):
        text = client.get(address, headers={"accept": "text/html"}).text
        assert " style=" not in text
        assert "<style" not in text
        assert " onclick" not in text
        assert text.count("<script") == text.count("<script src=")
        assert "http://" not in text.replace("http://www.w3.org/", "")
        assert "https://" not in text


def test_browsers_get_errors_as_pages(client: TestClient) -> None:
    """A person who mistypes gets a page, a program gets problem details."""
    page = client.get("/nowhere", headers={"accept": "text/html"})
    assert 404 == page.status_code
    assert "text/html; charset=utf-8" == page.headers["content-type"]
    assert "problem+json" in client.get("/nowhere").headers["content-type"]


def test_theme_is_remembered_and_leads_back(client: TestClient) -> None:
    """The look is kept in a cookie; a foreign way back is not followed."""
    answer = client.post(
        "/theme", data={"theme": "safelight", "back": "/live"}, follow_redirects=False
    )
    assert "/live" == answer.headers["location"]
    assert 'data-theme="safelight"' in client.get("/live").text
    for foreign in (
        "//elsewhere.example/",
        "///elsewhere.example/",
        "https://elsewhere.example/",
        "/\\elsewhere",
    ):
        away = client.post(
            "/theme", data={"theme": "dark", "back": foreign}, follow_redirects=False
        )
        assert "/" == away.headers["location"]
