"""One page for a file as text: problems beside their lines, and what differs when two write."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, Response

from wetside.errors import FileProblem
from wetside_desk.access.gate import Who
from wetside_desk.context import Desk
from wetside_desk.files import lines, papers, sheet_acts
from wetside_desk.files.papers import Paper, Written
from wetside_desk.pages import told
from wetside_desk.pages.render import page
from wetside_desk.problems import ProblemError
from wetside_desk.store import audit, versions

#: A version that the editor is asked for; 0 is the file as it stands.
Number = Annotated[int, Query(ge=0, le=versions.LAST)]


@dataclass(frozen=True, slots=True)
class Editor:
    """What the page says around the text: where it posts, where it checks, where it came from.

    ``keys`` are headings, each with keys and what they mean.
    """

    paper: Paper
    title: str
    action: str
    check: str
    back: str
    note: str = ""
    keys: Sequence[tuple[str, Sequence[tuple[str, str]]]] = ()


def _problems(editor: Editor, text: str) -> tuple[tuple[str, str], ...]:
    """What is wrong inside a text; nothing yet where nothing is written."""
    if text.strip():
        try:
            editor.paper.check(text, editor.paper.name)
        except FileProblem as error:
            return error.problems
    return ()


def show(
    request: Request,
    editor: Editor,
    text: str,
    seen: str,
    status: int = 200,
    *,
    instead: str | None = None,
    wrong: str = "",
) -> HTMLResponse:
    """The page with a text; ``instead`` is what somebody else wrote meanwhile.

    ``wrong`` is a problem of the file that does not stand in its text.
    """
    marks = lines.marks(text, _problems(editor, text))
    written = text.splitlines()
    return page(
        request,
        "text_editor.html",
        status,
        editor=editor,
        text=text,
        seen=seen,
        marks=[
            (
                mark,
                written[mark.line - 1].strip() if mark.line and mark.line <= len(written) else "",
            )
            for mark in marks
        ],
        doubts=() if marks else sheet_acts.text_doubts(request.app.state.desk, editor.paper, text),
        wrong=wrong,
        versions=()
        if editor.paper.kind == "sheet"  # its page has them
        else versions.of(request.app.state.desk.database, editor.paper.kind, editor.paper.name),
        theirs=None if instead is None else sheet_acts.compared(instead, text),
    )


def opened(
    request: Request, desk: Desk, editor: Editor, written: Written, version: int = 0
) -> HTMLResponse:
    """The page with a file as it stands, or with an earlier ``version``, to be kept anew.

    Raises
    ------
    ProblemError
        No such version.
    """
    if version:
        found = versions.one(desk.database, editor.paper.kind, editor.paper.name, version)
        if found is None:
            raise ProblemError("not-found", f"{editor.paper.name} has no version {version}.")
        return show(request, editor, found.text, written.tag)
    says = f"{written.wrong}. What cannot be read stands below as \N{REPLACEMENT CHARACTER}."
    wrong = says if written.wrong else ""
    return show(request, editor, written.text, written.tag, wrong=wrong)


def _empty(editor: Editor) -> str:
    """What is said of an empty text that was to be kept."""
    name = editor.paper.name
    if not editor.paper.path.exists():
        return "The text is empty, so it was not kept. Nothing was changed."
    return f"The text is empty, so it was not kept: {name} stands as it was."


def save(request: Request, desk: Desk, editor: Editor, text: str, seen: str, who: Who) -> Response:
    """Keep the text, or show the page again with what is wrong."""
    try:
        papers.write(desk.database, editor.paper, text, seen, who.name)
    except FileProblem as error:
        found = _problems(editor, text)  # they stand beside their lines
        wrong = "" if found else "; ".join(f"{error.file} {why}" for _, why in error.problems)
        if not text.strip():
            wrong = _empty(editor)
        return show(request, editor, text, seen, 422, wrong=wrong)
    except papers.Stale:
        now = papers.shown(editor.paper)
        return show(request, editor, text, now.tag, 412, instead=now.text)
    audit.add(desk.database, who.name, f"{editor.paper.kind} changed", editor.paper.name)
    return told.lead_to(desk, who, editor.back)
