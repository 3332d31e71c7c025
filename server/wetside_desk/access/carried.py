"""A form whose session is over: what was typed goes along through the sign-in, and is sent anew.

Nothing is done with it unseen: after the sign-in a page shows it, and a press there sends it with
the new session's token. Only text that a page of this device sent is carried, and no passphrase.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from fastapi import Request
from starlette.datastructures import FormData

from wetside_desk.access.gate import check_origin
from wetside_desk.access.sizes import CARRIED_BYTES
from wetside_desk.problems import ProblemError

#: Before the name of a carried field in the form of the sign-in.
_PREFIX = "typed."
#: Fields that are asked for again: tokens, passphrases, ticks before something final.
_ASKED_AGAIN = {"form", "passphrase", "old", "again", "sure"}
#: Carried fields that no person typed.
_UNSEEN = {"seen", "opened", "version", "seen_label", "seen_period", "digest"}


class Typed(NamedTuple):
    """A field and what was typed into it."""

    name: str
    text: str

    @property
    def as_carried(self) -> str:
        """The field's name in the form of the sign-in."""
        return f"{_PREFIX}{self.name}"

    @property
    def shown(self) -> bool:
        """Whether a person knows it."""
        return self.name not in _UNSEEN and bool(self.text.strip())


def _kept(fields: Iterable[tuple[str, object]]) -> tuple[Typed, ...]:
    return tuple(
        Typed(name, text)
        for name, text in fields
        if isinstance(text, str) and name not in _ASKED_AGAIN
    )


async def of_request(request: Request) -> tuple[Typed, ...]:
    """What a form of one of our pages holds; nothing of anything else, or where it is too long."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    length = request.headers.get("content-length", "")
    if request.method != "POST" or kind != "application/x-www-form-urlencoded":
        return ()
    if not length.isdecimal() or int(length) > CARRIED_BYTES or "origin" not in request.headers:
        return ()
    try:
        check_origin(request)
    except ProblemError:
        return ()
    return _kept((await request.form(max_files=0)).multi_items())


def of_sign_in(form: FormData) -> tuple[Typed, ...]:
    """What the form of the sign-in carries."""
    return _kept(
        (name.removeprefix(_PREFIX), text)
        for name, text in form.multi_items()
        if name.startswith(_PREFIX)
    )
