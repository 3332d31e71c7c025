"""Every error that the desk answers with, in one table (RFC 9457 problem details).

Each problem has a page of its own at ``/problems/<name>``, which its ``type`` links to, so
that nobody needs the internet to learn what an answer means.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

#: Media type of problem details (RFC 9457, section 3).
MEDIA_TYPE = "application/problem+json"


@dataclass(frozen=True, slots=True)
class Problem:
    """One kind of error: ``explanation`` is what its page says, and what to do.

    ``words`` say it to people where a page answers in place of the one they asked for; empty
    where the explanation is in their words already.
    """

    name: str
    status: int
    title: str
    explanation: str
    words: str = ""

    @property
    def type(self) -> str:
        """The link that names the problem, relative to the device."""
        return f"/problems/{self.name}"


_ALL = (
    Problem(
        "not-found",
        HTTPStatus.NOT_FOUND,
        "There is nothing at this address",
        "The address was mistyped, or it belongs to another version. The API is described at "
        "/api, and machine readable at /openapi.json.",
        "The address was mistyped, or what it showed is not here any more. Everything that "
        "there is can be reached from the head of the page.",
    ),
    Problem(
        "run-not-found",
        HTTPStatus.NOT_FOUND,
        "There is no such run",
        "The journal of this station holds no run with this id. Ids are in the list at /v1/runs. "
        "A run that was logged at another station is found at that station.",
        "The run was logged at another station, or the address was mistyped. The runs of "
        "this station are in the list.",
    ),
    Problem(
        "method-not-allowed",
        HTTPStatus.METHOD_NOT_ALLOWED,
        "This address does not answer to that method",
        "The header Allow of the answer names the methods that work here.",
        "This address takes a form and shows nothing by itself. Go back to the page with the form.",
    ),
    Problem(
        "invalid-request",
        HTTPStatus.UNPROCESSABLE_ENTITY,
        "Something in the request cannot be used",
        "What it is stands above; for a program the member `errors` names each part and why.",
        "Nothing was changed. Go back, mend it, and send it again.",
    ),
    Problem(
        "unreadable-request",
        HTTPStatus.BAD_REQUEST,
        "The request cannot be read",
        "What was sent is not what its headers say: cut off, wrongly encoded or malformed.",
        "What was sent came in part only. Go back and send it again.",
    ),
    Problem(
        "too-large",
        HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
        "The request is too large",
        "A form takes at most 64 KiB, a file as text 48 KiB, a backup to restore 512 MiB.",
        "Nothing was changed. A form takes about 64 thousand letters, a file as text 48 "
        "thousand, a backup 512 megabytes.",
    ),
    Problem(
        "desk-unavailable",
        HTTPStatus.SERVICE_UNAVAILABLE,
        "The file of the desk cannot be used",
        "Notes, labels, settings and sessions lie in a file of the desk that cannot be read or "
        "written now. The station and the board go on without it. Try again later; where that "
        "does not help, stop the desk on the device, put the file of a backup in its place "
        "(docs/install.md), or move it away to begin with an empty one.",
    ),
    Problem(
        "journal-unavailable",
        HTTPStatus.SERVICE_UNAVAILABLE,
        "The journal cannot be read",
        "The file in which the station logs its runs is missing or cannot be opened. If the "
        "station has never been started, this is as it should be: start it, and it creates the "
        "file. Otherwise look at /v1/health, and compare the paths that station and desk were "
        "given. Nothing is lost by reading again later.",
        "The file in which the station logs its runs cannot be opened. If the station has "
        "never been started, this is as it should be: start it. Otherwise the station page "
        "says more. Nothing is lost by trying again later.",
    ),
    Problem(
        "busy",
        HTTPStatus.SERVICE_UNAVAILABLE,
        "The desk is busy",
        "It does only so much of this at a time. Try again later; the header Retry-After says "
        "when. The board goes on meanwhile and looks at the desk every ten seconds.",
        "It does only so much of this at a time. Try again in a moment. The board goes on "
        "meanwhile and looks at the desk every ten seconds.",
    ),
    Problem(
        "disk-full",
        HTTPStatus.SERVICE_UNAVAILABLE,
        "The disk is full",
        "What was sent was not kept: there is no room for it. Delete old backups and other files "
        "that are not needed, then send it again. The station page shows how much is free.",
    ),
    Problem(
        "not-signed-in",
        HTTPStatus.UNAUTHORIZED,
        "This is for the teacher",
        "Runs and their notes are shown to the teacher only. Sign in at /sign-in, or, on a new "
        "device, set the passphrase at /first-start with the code that its display shows.",
        "Runs and their notes are shown to the teacher only. Sign in; on a new device set "
        "the passphrase first, with the code that its display shows.",
    ),
    Problem(
        "forbidden",
        HTTPStatus.FORBIDDEN,
        "This was refused",
        "The form was not sent from a page of this device, or the page is older than the sign-in. "
        "Load the page again and repeat.",
    ),
    Problem(
        "link-not-valid",
        HTTPStatus.FORBIDDEN,
        "This link no longer works",
        "A link from the display is for one run, for a limited time. Ask the teacher to give the "
        "run its label.",
    ),
    Problem(
        "conflict",
        HTTPStatus.CONFLICT,
        "Somebody else changed this meanwhile",
        "Load the page again, look at what stands there now, and repeat what is still needed.",
    ),
    Problem(
        "name-taken",
        HTTPStatus.CONFLICT,
        "That name is taken",
        "Nothing was changed. Take another name.",
    ),
    Problem(
        "file-refused",
        HTTPStatus.UNPROCESSABLE_ENTITY,
        "The file has mistakes and was not taken",
        "Nothing was changed. The member `errors` names the file, each wrong key and the reason. "
        "What each key means is written in the pages about sheets, chemistry and bells.",
        "Nothing was changed. Go back and mend what is named above.",
    ),
    Problem(
        "sheet-not-found",
        HTTPStatus.NOT_FOUND,
        "No sheet has this file",
        "The sheets that are there, the school's own and those that ship, are in the list at "
        "/v1/sheets.",
        "It was taken away or renamed. The sheets that are there are in the list.",
    ),
    Problem(
        "bottle-not-found",
        HTTPStatus.NOT_FOUND,
        "No bottle has this label",
        "The bottles on the shelf are in the list at /v1/shelf.",
        "It was taken off the shelf or renamed. The bottles that are there are on the shelf.",
    ),
    Problem(
        "changed-meanwhile",
        HTTPStatus.PRECONDITION_FAILED,
        "It is not any more what you saw",
        "Somebody else changed the file, or it was changed by hand. Nothing was written. Read it "
        "again, look at what stands there now, and send If-Match with its new ETag.",
        "Somebody else changed the file, or it was changed by hand. Nothing was written. "
        "Load the page again, look at what stands there now, and repeat what is still "
        "needed.",
    ),
    Problem(
        "say-what-you-saw",
        HTTPStatus.PRECONDITION_REQUIRED,
        "Send the ETag of what you saw",
        "A file is replaced only by somebody who saw what stands there: send its ETag as If-Match, "
        "or If-None-Match: * where there is no file yet.",
        "Load the page again and repeat.",
    ),
    Problem(
        "too-many-requests",
        HTTPStatus.TOO_MANY_REQUESTS,
        "Too many tries",
        "The header Retry-After says in how many seconds the next try is free.",
        "This keeps others from guessing. What you were about to send was not looked at: "
        "wait so long, then send it again.",
    ),
    Problem(
        "internal-error",
        HTTPStatus.INTERNAL_SERVER_ERROR,
        "The desk made a mistake",
        "This is a fault of the program. The log of the desk (journalctl -u wetside-desk) shows "
        "what happened. The station at the sink does not depend on the desk and goes on.",
        "This is a fault of the program; what you sent may not have been kept. The station "
        "at the sink does not depend on the desk and goes on.",
    ),
)

PROBLEMS: Mapping[str, Problem] = {problem.name: problem for problem in _ALL}

_BY_STATUS: Mapping[int, str] = {
    HTTPStatus.BAD_REQUEST: "unreadable-request",
    HTTPStatus.UNAUTHORIZED: "not-signed-in",
    HTTPStatus.FORBIDDEN: "forbidden",
    HTTPStatus.NOT_FOUND: "not-found",
    HTTPStatus.METHOD_NOT_ALLOWED: "method-not-allowed",
    HTTPStatus.CONFLICT: "conflict",
    HTTPStatus.PRECONDITION_FAILED: "changed-meanwhile",
    HTTPStatus.PRECONDITION_REQUIRED: "say-what-you-saw",
    HTTPStatus.REQUEST_ENTITY_TOO_LARGE: "too-large",
    HTTPStatus.UNPROCESSABLE_ENTITY: "invalid-request",
    HTTPStatus.TOO_MANY_REQUESTS: "too-many-requests",
    HTTPStatus.SERVICE_UNAVAILABLE: "journal-unavailable",
}


class ProblemError(Exception):
    """Raised anywhere in the desk to answer with a problem.

    ``name`` is a key of `PROBLEMS`; ``detail`` says what is wrong this time; ``extra`` are
    further members of the answer and ``headers`` of its header.
    """

    def __init__(
        self,
        name: str,
        detail: str = "",
        *,
        headers: Mapping[str, str] | None = None,
        extra: Mapping[str, Any] | None = None,
    ) -> None:
        self.problem = PROBLEMS[name]
        self.detail = detail
        self.headers = dict(headers or {})
        self.extra = dict(extra or {})
        super().__init__(f"{self.problem.title}: {detail}")


def for_status(status: int) -> Problem:
    """The problem that stands for a bare status code."""
    return PROBLEMS[_BY_STATUS.get(status, "internal-error")]


def body(problem: Problem, detail: str, instance: str, extra: Mapping[str, Any]) -> dict[str, Any]:
    """The members of the answer; ``status`` repeats the status line for logs."""
    members: dict[str, Any] = {
        "type": problem.type,
        "title": problem.title,
        "status": int(problem.status),
        "instance": instance,
    }
    if detail:
        members["detail"] = detail
    return {**members, **extra}
