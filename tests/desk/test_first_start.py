"""The first start: a code on the display lets one passphrase be set."""

from __future__ import annotations

import json
import stat
import time
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk.store import accounts

if TYPE_CHECKING:
    from tests.desk.asking import PASSPHRASE
    from tests.desk.invented import distant

    from wetside_desk.settings import DeskSettings
else:
    from desk_asking import PASSPHRASE
    from desk_invented import distant


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
    """Guessing from one address ends after five tries, and does not keep out another."""
    with distant(school) as client:
        codes = [
            client.post("/first-start", data={"code": f"AAAA-000{n}"}).status_code for n in range(6)
        ]
        other = TestClient(client.app, base_url=str(client.base_url), client=("192.168.1.78", 1))
        sent = {
            "code": str(claim_of(school)["code"]),
            "passphrase": PASSPHRASE,
            "again": PASSPHRASE,
        }
        assert 303 == other.post("/first-start", data=sent, follow_redirects=False).status_code
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
