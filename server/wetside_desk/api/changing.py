"""Changing files over the API: who may, what they saw, and the text they send."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request, Response
from pydantic import BaseModel, Field

from wetside.errors import FileProblem
from wetside_desk import house
from wetside_desk.access.gate import Who, check_origin, teacher
from wetside_desk.api import answers
from wetside_desk.context import Desk, TheDesk
from wetside_desk.files import lines, papers
from wetside_desk.files.papers import Paper
from wetside_desk.problems import ProblemError

MEDIA_TYPE = "application/toml"

#: What a form of another site could send without being asked first (Fetch, CORS-safelisted).
_SIMPLE = {"", "text/plain", "multipart/form-data", "application/x-www-form-urlencoded"}

#: Answers that every change may give, beside those of its own.
CHANGING = answers.documented(
    "not-signed-in", "forbidden", "unreadable-request", "too-large", "invalid-request",
    "disk-full", "internal-error",
)  # fmt: skip
WRITING = answers.documented("file-refused", "changed-meanwhile", "say-what-you-saw")


def text_body(example: str) -> dict[str, Any]:
    """The request body of a route that takes TOML, with an example."""
    return {
        "requestBody": {
            "required": True,
            "content": {MEDIA_TYPE: {"schema": {"type": "string"}, "example": example}},
        }
    }


def text_answer(example: str) -> dict[int | str, dict[str, Any]]:
    """The answer of a route that gives TOML."""
    return {
        200: {
            "description": "the file as it is, with its ETag",
            "content": {MEDIA_TYPE: {"schema": {"type": "string"}, "example": example}},
        }
    }


def changer(request: Request, who: Annotated[Who, Depends(teacher)]) -> Who:
    """The teacher, sending something that no page of another site can send for them.

    A cookie goes along with a form of another site, so what changes something must come in a
    way that such a form cannot take: another method than POST, or another type of content.

    Raises
    ------
    ProblemError
        Not signed in, from another site, or of a type that forms send.
    """
    check_origin(request)
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if request.method == "POST" and kind in _SIMPLE:
        raise ProblemError(
            "unreadable-request", "Send application/json, or application/toml for a file."
        )
    return who


Changer = Annotated[Who, Depends(changer)]


async def _text(request: Request) -> str:
    raw = await request.body()
    try:
        return raw.decode("utf-8-sig")  # some editors begin a file with a mark
    except UnicodeDecodeError as error:
        raise ProblemError(
            "unreadable-request", f"The file is not UTF-8: {error.reason}."
        ) from error


Text = Annotated[str, Depends(_text)]


def _tags(header: str) -> set[str]:
    return {part.strip().removeprefix("W/").strip('"') for part in header.split(",")}


def seen_of(request: Request, paper: Paper) -> str:
    """The tag of what the client saw, by If-Match, or by If-None-Match: * for a new file.

    Raises
    ------
    ProblemError
        It saw something else than what stands there, or does not say.
    """
    now = reading(paper)
    match, none = request.headers.get("if-match"), request.headers.get("if-none-match")
    if match is not None:
        wanted = _tags(match)
        if now.there and ("*" in wanted or now.tag in wanted):
            return now.tag
    elif none is not None and none.strip() == "*":
        if not now.there:
            return now.tag
    else:
        raise ProblemError("say-what-you-saw", f"{paper.name}: If-Match is missing.")
    raise ProblemError("changed-meanwhile", f"{paper.name} is not what you saw.")


def reading(paper: Paper) -> papers.Written:
    """What stands there.

    Raises
    ------
    ProblemError
        The file cannot be read as text.
    """
    try:
        return papers.read(paper)
    except FileProblem as error:
        raise house.refused(paper.name, error) from error


def give_text(request: Request, written: papers.Written) -> Response:
    """A file as it is, with its tag."""
    tag = f'"{written.tag}"'
    return answers.not_modified(request, tag) or Response(
        written.text,
        media_type=f"{MEDIA_TYPE}; charset=utf-8",
        headers={"ETag": tag, "Cache-Control": "no-cache"},
    )


def take_text(request: Request, desk: Desk, paper: Paper, text: str, who: Who) -> Response:
    """Replace a file by what was sent; the new tag comes back."""
    seen = seen_of(request, paper)
    written = house.write(desk, paper, text, seen, who.name)
    return Response(status_code=204, headers={"ETag": f'"{written.tag}"'})


class ProblemPlace(BaseModel):
    """One thing that is wrong: ``line`` counts from 1, null where none can be told."""

    line: int | None = Field(examples=[12])
    place: str = Field(examples=["step[2].seconds"])
    reason: str = Field(examples=["must be greater than or equal to 5, not 1"])


class CheckedText(BaseModel):
    """What a look at a text found. Nothing was kept."""

    good: bool
    problems: list[ProblemPlace]
    doubts: list[str] = Field(description="no mistakes, but to be looked at", examples=[[]])


def looked_at(paper: Paper, text: str, doubts: Sequence[str] = ()) -> CheckedText:
    """Check a text without keeping it; ``doubts`` are those of one without mistakes."""
    try:
        paper.check(text, paper.name)
    except FileProblem as error:
        found = lines.marks(text, error.problems)
        return CheckedText(
            good=False,
            problems=[
                ProblemPlace(line=mark.line, place=mark.place, reason=mark.reason) for mark in found
            ],
            doubts=[],
        )
    return CheckedText(good=True, problems=[], doubts=list(doubts))


def file_routes(
    router: APIRouter, paper_of: Callable[[Path], Paper], noun: str, missing: str, example: str
) -> None:
    """Routes of a file that the teacher may write as a whole: give, take, look at.

    Parameters
    ----------
    router
        Gets them under ``/file`` and ``/check``.
    paper_of
        The paper in a desk's folder of files.
    noun, missing
        What its summaries call it; what is said where there is none.
    example
        A text that is good.
    """
    name = router.prefix.rpartition("/")[2]

    @router.get(
        "/file",
        name=f"{name}_file",
        summary=f"The {noun} file",
        response_class=Response,
        responses={**text_answer(example), **answers.documented("not-found", "file-refused")},
    )
    def give(request: Request, desk: TheDesk) -> Response:
        """The TOML file as it is; its ETag is what `If-Match` of a change must carry."""
        written = reading(paper_of(desk.settings.files_folder))
        if not written.there:
            raise ProblemError("not-found", missing)
        return give_text(request, written)

    @router.put(
        "/file",
        name=f"put_{name}_file",
        summary=f"Replace the {noun} file",
        status_code=204,
        response_class=Response,
        responses={**CHANGING, **WRITING},
        openapi_extra=text_body(example),
    )
    def take(request: Request, desk: TheDesk, who: Changer, text: Text) -> Response:
        """Check the whole file and replace it, or refuse it with every problem named."""
        return take_text(request, desk, paper_of(desk.settings.files_folder), text, who)

    @router.post(
        "/check",
        name=f"check_{name}",
        response_model=CheckedText,
        summary=f"Look at a {noun} file without keeping it",
        responses=CHANGING,
        openapi_extra=text_body(example),
    )
    def check(desk: TheDesk, who: Changer, text: Text) -> CheckedText:  # noqa: ARG001  # asked for, so that only the teacher may
        """Every problem of a text with its line, key and reason."""
        return looked_at(paper_of(desk.settings.files_folder), text)
