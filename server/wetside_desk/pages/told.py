"""The answer to a form that was taken: the page that follows, and what it says one time."""

from __future__ import annotations

from urllib.parse import unquote, urlsplit

from fastapi import Request
from fastapi.responses import RedirectResponse

from wetside_desk import schooltime
from wetside_desk.access.gate import Who
from wetside_desk.context import Desk


def _place(path: str) -> str:
    return f"told {path}"


def lead_to(desk: Desk, who: Who, address: str, done: str = "Kept") -> RedirectResponse:
    """Lead to a page of this device, which says once what was done and when.

    ``done`` is words without a full stop; they name no student.
    """
    said = f"{done} at {schooltime.now():%H:%M}."
    desk.once.keep(who.form, _place(unquote(urlsplit(address).path)), said)
    return RedirectResponse(address, status_code=303)


def said_here(request: Request, desk: Desk, who: Who | None) -> str:
    """What the page that is asked for has to say this one time; empty for nothing."""
    if who is None or request.method != "GET":
        return ""
    return desk.once.take(who.form, _place(request.url.path))
