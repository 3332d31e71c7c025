"""Pages of the sheets: the list, one sheet with its cues, the editor, versions, what a run used."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import HTMLResponse, Response

from wetside.session import schedule, sheet_edit
from wetside.session.events import Kind
from wetside.session.sheet import Sheet, Step
from wetside.units import in_unit
from wetside_desk import house
from wetside_desk.access.gate import Sent, teacher
from wetside_desk.api.runs import RunId
from wetside_desk.api.runs import find as find_run
from wetside_desk.context import Desk, TheDesk
from wetside_desk.files import papers, sheet_acts
from wetside_desk.files.usual_edits import Usual
from wetside_desk.pages import forms, opened, sheet_keys, text_editor, told, usual_form
from wetside_desk.pages.forms import Fields, text_of
from wetside_desk.pages.shelf import shelf_page_of
from wetside_desk.problems import ProblemError
from wetside_desk.review import review
from wetside_desk.store import preferences, versions

router = APIRouter(include_in_schema=False, dependencies=[Depends(teacher)])


@dataclass(frozen=True, slots=True)
class Strip:
    """One step of a sheet as a picture and as words.

    Spans are in seconds from the step's begin; ``begins`` counts from pouring the developer.
    """

    number: int
    step: Step
    begins: float | None
    moves: tuple[tuple[float, float], ...]
    prepare: float | None
    cues: tuple[tuple[float, Kind], ...]


def strips(sheet: Sheet) -> list[Strip]:
    """Every step with its agitation and cues."""
    found = []
    begins = 0.0
    for number, step in enumerate(sheet.step, start=1):
        if step.seconds is None:
            found.append(Strip(number, step, None, (), None, ()))
            continue
        entries = schedule.of_step(step)
        found.append(
            Strip(
                number,
                step,
                begins,
                schedule.agitation_spans(
                    step.agitation,
                    filled_seconds=step.fill_seconds,
                    drain_seconds=step.seconds - step.drain_seconds,
                ),
                next((one.offset_seconds for one in entries if one.kind is Kind.PREPARE), None),
                tuple(
                    (one.offset_seconds, one.kind)
                    for one in entries
                    if one.kind is not Kind.LATE_DUE
                ),
            )
        )
        begins += step.seconds
    return found


@router.get("/sheets")
def sheets_page(request: Request, desk: TheDesk) -> HTMLResponse:
    """Every sheet, with what is wrong with it."""
    return _sheets_page(request, desk)


def _sheets_page(
    request: Request, desk: Desk, status: int = 200, file: str = "my-sheet.toml", wrong: str = ""
) -> HTMLResponse:
    """The list; ``file`` is what stands in the field for a new one and ``wrong`` is about it."""
    entries = sheet_acts.entries(desk)
    return shelf_page_of(
        request,
        desk,
        "sheets.html",
        status,
        entries=entries,
        taken_away=sheet_acts.taken_away(desk, entries),
        total=sheet_edit.total_seconds,
        file=file,
        wrong=wrong,
    )


def _address(file: str, more: str = "") -> str:
    """Where a sheet is found; a file's name may hold what means something in an address."""
    return f"/sheets/{quote(file)}{more}"


def _editor(desk: Desk, file: str, *, new: bool = False) -> text_editor.Editor:
    return text_editor.Editor(
        sheet_acts.own(desk, file),
        f"{'A new sheet' if new else 'Edit'}: {file}",
        _address(file, "/text"),
        f"/v1/sheets/check?file={quote(file)}",
        _address(file),
        "Times that you write are yours: where the data sheet of the film gives one, that goes "
        "first.",
        sheet_keys.GROUPS,
    )


@router.get("/sheets/new")
def new_sheet(request: Request, desk: TheDesk, file: str = "my-sheet.toml") -> HTMLResponse:
    """A sheet begun from almost nothing."""
    name = file.strip()
    name = name if name.endswith(".toml") else f"{name}.toml"
    if any(entry.listed.file == name for entry in sheet_acts.entries(desk)):
        wrong = f"There is a sheet in {name} already. Open it above, or take another name."
        return _sheets_page(request, desk, 422, file, wrong)
    try:
        editor = _editor(desk, name, new=True)
    except ProblemError as error:
        return _sheets_page(request, desk, 422, file, error.detail)
    return text_editor.show(request, editor, sheet_acts.NEW, papers.tag_of(""))


@router.get("/sheets/{file}")
def sheet_page(request: Request, desk: TheDesk, file: str) -> HTMLResponse:
    """One sheet as people read it, with every cue."""
    return _sheet_page(request, desk, file)


def _sheet_page(
    request: Request,
    desk: Desk,
    file: str,
    status: int = 200,
    wrong: Sequence[forms.Refused] = (),
    copied: tuple[str, str] = ("", ""),
    usual_wrong: Sequence[forms.Refused] = (),
    usual: Mapping[str, str] | None = None,
    take_wrong: Sequence[forms.Refused] = (),
) -> HTMLResponse:
    """One sheet.

    ``copied`` is name and title as they were typed for a copy, ``usual`` what was typed into the
    form of usual changes.
    """
    prefs = preferences.load(desk.database)
    entry = sheet_acts.find(desk, file)
    sheet = entry.listed.checked.sheet
    stood = usual_form.shown(sheet, prefs) if sheet is not None else {}
    return shelf_page_of(
        request,
        desk,
        "sheet.html",
        status,
        entry=entry,
        sheet=sheet,
        strips=strips(sheet) if sheet is not None else [],
        total=sheet_edit.total_seconds(sheet) if sheet is not None else 0.0,
        fingerprint=sheet_edit.fingerprint(sheet) if sheet is not None else "",
        versions=versions.of(desk.database, "sheet", file),
        seen=papers.tag_of(entry.listed.text),
        wrong=wrong,
        copied=copied,
        usual={**stood, **(usual or {})},
        usual_opened=opened.carried(stood),
        usual_labels=usual_form.LABELS,
        usual_wrong=usual_wrong,
        take_wrong=take_wrong,
        of_run=None,
        changes=(),
    )


@router.get("/sheets/{file}/text")
def text_page(request: Request, desk: TheDesk, file: str) -> HTMLResponse:
    """A sheet in the editor; a shipped one becomes the school's own when it is kept."""
    editor = _editor(desk, file)
    own = papers.shown(editor.paper)
    if not own.there:
        own = replace(own, text=sheet_acts.find(desk, file).listed.text)
    return text_editor.opened(request, desk, editor, own)


@router.post("/sheets/{file}/text")
def save_text(request: Request, desk: TheDesk, who: Sent, form: Fields, file: str) -> Response:
    """Keep a sheet."""
    text = str(form.get("text", ""))
    editor = _editor(desk, file)
    return text_editor.save(request, desk, editor, text, text_of(form, "seen"), who)


@router.post("/sheets/{file}/copy")
def copy_sheet(request: Request, desk: TheDesk, who: Sent, form: Fields, file: str) -> Response:
    """Copy a sheet under another name; its file is named after it."""
    name, title = text_of(form, "name"), text_of(form, "title")
    plain = "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in name)
    new = f"{plain.lower().strip('-')[:40]}.toml"
    try:
        sheet_acts.copy(desk, file, new, name, title, who.name)
    except ProblemError as error:
        labels = {"name": "Name on the display", "title": "Title"}
        wrong = forms.worded(forms.problems_of(error), labels, "")
        return _sheet_page(request, desk, file, 422, wrong, (name[:200], title[:200]))
    return told.lead_to(desk, who, _address(new, "/text"), "Copied")


@router.post("/sheets/{file}/usual")
def change_usual(request: Request, desk: TheDesk, who: Sent, form: Fields, file: str) -> Response:
    """Target, times and volume; what belongs together is changed together."""
    listed, sheet = sheet_acts.usable(desk, file)
    prefs = preferences.load(desk.database)
    stood = usual_form.shown(sheet, prefs)
    mine = usual_form.changes(form, stood)
    try:
        if mine:
            sheet_acts.still(listed, text_of(form, "seen"))
        wanted = usual_form.read(mine, prefs)
        if wanted != Usual():
            sheet_acts.change_usual(desk, file, wanted, text_of(form, "seen"), who.name)
    except (forms.Wrong, ProblemError) as error:
        wrong = dict.fromkeys(  # one for all steps that take the same volume
            usual_form.refused(sheet, place, in_unit(why, fahrenheit=prefs.temperature == "F"))
            for place, why in opened.problems_of(error, form, mine, stood, usual_form.LABELS)
        )
        return _sheet_page(request, desk, file, 422, usual_wrong=tuple(wrong), usual=mine)
    done = "Kept" if wanted != Usual() else "Left as it was"
    return told.lead_to(desk, who, _address(file), done)


@router.post("/sheets/{file}/take")
def take_sheet(request: Request, desk: TheDesk, who: Sent, form: Fields, file: str) -> Response:
    """Take a sheet of the school away; a shipped one that it hid is seen again."""
    if text_of(form, "sure") != "on":
        wrong = [forms.Refused("", forms.NOT_SURE, "sure")]
        return _sheet_page(request, desk, file, 422, take_wrong=wrong)
    sheet_acts.remove(desk, sheet_acts.own(desk, file), text_of(form, "seen"), who.name)
    return told.lead_to(desk, who, "/sheets", "Taken away")


@router.get("/sheets/{file}/compare")
def compare_page(
    request: Request,
    desk: TheDesk,
    file: str,
    before: Annotated[int, Query(ge=0, le=versions.LAST)] = 1,
    after: Annotated[int, Query(ge=0, le=versions.LAST)] = 0,
) -> HTMLResponse:
    """Two versions of a sheet, key by key and line by line."""
    old, new = (
        sheet_acts.version_text(desk, file, before),
        sheet_acts.version_text(desk, file, after),
    )
    old_sheet, new_sheet = sheet_edit.check(old, file).sheet, sheet_edit.check(new, file).sheet
    return shelf_page_of(
        request,
        desk,
        "sheet_compare.html",
        file=file,
        before=before,
        after=after,
        groups=sheet_acts.compared(old, new),
        changes=(
            sheet_edit.changes(old_sheet, new_sheet)
            if old_sheet is not None and new_sheet is not None
            else None
        ),
        versions=versions.of(desk.database, "sheet", file),
    )


@router.post("/sheets/{file}/back")
def put_back(request: Request, desk: TheDesk, who: Sent, form: Fields, file: str) -> Response:
    """Put an earlier version back; it becomes the newest one."""
    number = text_of(form, "number")
    if not number.isdecimal() or len(number) > len(str(versions.LAST)):
        raise ProblemError("invalid-request", "Which version is to be put back?")
    editor = _editor(desk, file)
    text = sheet_acts.version_text(desk, file, int(number))
    seen = papers.shown(editor.paper).tag
    return text_editor.save(request, desk, editor, text, seen, who)


@router.get("/runs/{run}/sheet")
def sheet_of_run(request: Request, desk: TheDesk, run: RunId) -> HTMLResponse:
    """The very sheet that a run used, and how the one of that name differs today."""
    row = find_run(desk.reader, run)
    seen = review(row.began, desk.reader.events(run))
    sheet = seen.session.sheet
    if sheet is None:
        why = f": {seen.unread}" if seen.unread else ""
        raise ProblemError("sheet-not-found", f"The sheet of this run cannot be read{why}.")
    today = house.sheet_named(desk, sheet.name)
    return shelf_page_of(
        request,
        desk,
        "sheet.html",
        entry=None,
        sheet=sheet,
        strips=strips(sheet),
        total=sheet_edit.total_seconds(sheet),
        fingerprint=sheet_edit.fingerprint(sheet),
        versions=[],
        seen="",
        wrong=(),
        copied=("", ""),
        usual={},
        usual_opened="",
        usual_labels={},
        usual_wrong=(),
        take_wrong=(),
        of_run=row,
        changes=sheet_edit.changes(sheet, today) if today is not None else None,
    )
