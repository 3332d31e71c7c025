"""One page for a file as text: problems beside their lines, and what differs when two write."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from wetside.errors import FileProblem
from wetside_desk.context import Desk
from wetside_desk.files import lines, papers, sheet_acts
from wetside_desk.files.papers import Paper
from wetside_desk.pages.render import page
from wetside_desk.store import audit


@dataclass(frozen=True, slots=True)
class Editor:
    """What the page says around the text: where it posts, where it checks, where it came from."""

    paper: Paper
    title: str
    action: str
    check: str
    back: str
    note: str = ""


def show(
    request: Request,
    editor: Editor,
    text: str,
    seen: str,
    status: int = 200,
    *,
    instead: str | None = None,
) -> HTMLResponse:
    """The page with a text; ``instead`` is what somebody else wrote meanwhile."""
    marks: tuple[lines.Mark, ...] = ()
    if text.strip():
        try:
            editor.paper.check(text, editor.paper.name)
        except FileProblem as error:
            marks = lines.marks(text, error.problems)
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
        theirs=None if instead is None else sheet_acts.compared(instead, text),
    )


def save(request: Request, desk: Desk, editor: Editor, text: str, seen: str, who: str) -> Response:
    """Keep the text, or show the page again with what is wrong."""
    try:
        papers.write(desk.database, editor.paper, text, seen, who)
    except FileProblem:
        return show(request, editor, text, seen, 422)
    except papers.Stale:
        now = papers.read(editor.paper)
        return show(request, editor, text, now.tag, 412, instead=now.text)
    audit.add(desk.database, who, f"{editor.paper.kind} changed", editor.paper.name)
    return RedirectResponse(editor.back, status_code=303)
