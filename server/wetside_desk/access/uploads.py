"""Who may send a large body, asked before its first byte is taken.

A form is otherwise read to its end before anybody asks who sends it, and a large one lies on
the card or in the memory meanwhile.
"""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from wetside_desk import backup
from wetside_desk.access.gate import check_origin, teacher
from wetside_desk.access.refusing import Answer, refuse
from wetside_desk.access.sizes import BACKUP_BYTES, FORM_BYTES, largest
from wetside_desk.problems import ProblemError

_READING = ("GET", "HEAD")


class Uploads:
    """Lets in large bodies of the teacher, and one backup at a time; ``answer`` refuses."""

    def __init__(self, app: ASGIApp, answer: Answer) -> None:
        self._app = app
        self._answer = answer
        self._taking = False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        most = largest(scope["path"]) if scope["type"] == "http" else 0
        if most <= FORM_BYTES or scope["method"] in _READING:
            await self._app(scope, receive, send)
            return
        request = Request(scope, receive)
        is_backup = most == BACKUP_BYTES
        length = request.headers.get("content-length", "")
        if not is_backup and length.isdecimal() and int(length) <= FORM_BYTES:
            await self._app(scope, receive, send)  # no larger than any form
            return
        try:
            await run_in_threadpool(_checked, request, is_backup=is_backup)
            self._check_turn(is_backup=is_backup)
        except ProblemError as error:
            await refuse(request, send, error, self._answer)
            return
        self._taking = self._taking or is_backup
        try:
            await self._app(scope, receive, send)
        finally:
            self._taking = self._taking and not is_backup

    def _check_turn(self, *, is_backup: bool) -> None:
        if is_backup and self._taking:
            raise ProblemError(
                "busy", "A backup is being restored already.", headers={"Retry-After": "60"}
            )


def _checked(request: Request, *, is_backup: bool) -> None:
    teacher(request)
    check_origin(request)
    if is_backup:
        length = int(request.headers.get("content-length", BACKUP_BYTES))
        backup.check_room(length, request.app.state.desk.settings)
