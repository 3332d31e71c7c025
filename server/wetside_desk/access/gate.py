"""Who asks, and whether a form really comes from one of our pages.

Three can ask for what is the teacher's:

* a browser with the session cookie;
* a program with a key, in ``Authorization: Bearer``, to read under /v1 only;
* this machine itself, while no passphrase is set: that is how the bench and a newcomer look
  around. A request counts as local only when it comes from a loopback address, was not
  forwarded by a proxy, and names a loopback host (a page elsewhere that has its own name
  point to 127.0.0.1 is refused by that).
"""

from __future__ import annotations

import hmac
import ipaddress
import secrets
from collections.abc import AsyncIterator
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Annotated
from urllib.parse import SplitResult, urlsplit

from fastapi import Depends, Form, Request

from wetside.errors import JournalError
from wetside_desk.access.claim import Claim
from wetside_desk.access.crowd import Crowd
from wetside_desk.access.limits import Limiter
from wetside_desk.problems import ProblemError
from wetside_desk.store import accounts, preferences
from wetside_desk.store.database import Database

COOKIE = "desk"


class OlderForm(ProblemError):
    """A form that was made before the sign-in."""

    def __init__(self) -> None:
        super().__init__("forbidden", "The form is older than the sign-in. Load the page again.")


#: Headers that tell of a proxy, beside all that begin with X-Forwarded.
_FORWARDED = {"forwarded", "x-real-ip", "via"}
_READING = ("GET", "HEAD")


@dataclass(frozen=True, slots=True)
class Who:
    """Somebody who may see what is the teacher's; ``form`` is what their forms carry."""

    name: str
    form: str
    digest: str = ""


@dataclass(slots=True)
class Gate:
    """Decides; holds what it needs to decide with.

    ``board`` is who may see the board, as it was last read: where the desk's own file cannot be
    read that goes on.
    """

    database: Database
    claim: Claim
    limiter: Limiter
    crowd: Crowd = field(default_factory=Crowd)
    local_form: str = ""
    board: str = "open"

    def __post_init__(self) -> None:
        self.local_form = secrets.token_urlsafe(24)

    def board_is_open(self) -> bool:
        """Whether anybody on the network may see the board."""
        with suppress(JournalError):
            self.board = preferences.load(self.database).board
        return self.board != "teacher"

    def who(self, request: Request, *, used: bool = True) -> Who | None:
        """Who asks, or None for somebody unknown; ``used`` keeps a session from idling out."""
        token = request.cookies.get(COOKIE, "")
        if token:
            found = accounts.session_of(self.database, token, used=used)
            if found is not None:
                return Who("teacher", found.form, found.digest)
        scheme, _, key = request.headers.get("authorization", "").partition(" ")
        if scheme.lower() == "bearer" and key and request.method in _READING:
            found = accounts.session_of(self.database, key.strip(), "key", used=used)
            if found is not None and request.url.path.startswith(("/v1/", "/metrics")):
                return Who(f"key {found.name}", found.form, found.digest)
        if is_local(request) and not accounts.claimed(self.database):
            return Who("this machine", self.local_form)
        return None


def client_of(request: Request) -> str:
    """The address that rate limits count by."""
    return request.client.host if request.client else "unknown"


async def seat(request: Request) -> AsyncIterator[None]:
    """A place for one stream while it lasts; this machine itself may have all of them.

    Raises
    ------
    ProblemError
        No place is free.
    """
    client = client_of(request)
    with _gate(request).crowd.place(client, counted=not _is_loopback(client)):
        yield


def is_local(request: Request) -> bool:
    """Whether the request comes from this machine itself, and not through a proxy."""
    if any(name in _FORWARDED or name.startswith("x-forwarded") for name in request.headers):
        return False
    host = _split(f"//{request.headers.get('host', '')}").hostname or ""
    return _is_loopback(client_of(request)) and (host == "localhost" or _is_loopback(host))


def _split(address: str) -> SplitResult:
    """Parts of an address; of one that is none, no parts."""
    try:
        return urlsplit(address)
    except ValueError:
        return urlsplit("")


def _is_loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def check_origin(request: Request) -> None:
    """Refuse a form that another site's page sent.

    Raises
    ------
    ProblemError
        The browser says that the form comes from elsewhere.
    """
    site = request.headers.get("sec-fetch-site")
    if site is not None and site not in {"same-origin", "none"}:
        raise ProblemError("forbidden", "The form came from another site.")
    origin = request.headers.get("origin")
    if origin is not None and _split(origin).netloc != request.headers.get("host", ""):
        raise ProblemError("forbidden", "The form came from another site.")


def _gate(request: Request) -> Gate:
    gate: Gate = request.app.state.desk.gate
    return gate


def teacher(request: Request) -> Who:
    """The teacher, a key that may read, or this machine before the first start.

    Raises
    ------
    ProblemError
        Nobody of these.
    """
    found = _gate(request).who(request)
    if found is None:
        raise ProblemError("not-signed-in", headers={"WWW-Authenticate": 'Bearer realm="wetside"'})
    return found


def sent(
    request: Request, who: Annotated[Who, Depends(teacher)], form: Annotated[str, Form()] = ""
) -> Who:
    """The teacher, sending a form that one of our pages made for this session.

    Raises
    ------
    ProblemError
        Not signed in, or the form is not ours.
    OlderForm
        It was made for another session.
    """
    check_origin(request)
    if not hmac.compare_digest(form.encode(), who.form.encode()):
        raise OlderForm
    return who


def watcher(request: Request) -> None:
    """Anybody on the network, unless the teacher keeps the board to themselves.

    Raises
    ------
    ProblemError
        The board is the teacher's and somebody else asks.
    """
    if not _gate(request).board_is_open():
        teacher(request)


def still_watches(request: Request) -> bool:
    """As `watcher`, of a stream that is open; it does not keep a session from idling out."""
    gate = _gate(request)
    try:
        return gate.board_is_open() or gate.who(request, used=False) is not None
    except JournalError:
        return False


Sent = Annotated[Who, Depends(sent)]
