"""Preferences, sessions, keys, the audit list, backup and restore, a student's data."""

import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, BinaryIO

from fastapi import APIRouter, Depends, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response, StreamingResponse

from wetside.errors import ArchiveRefused
from wetside.session import sinkfile
from wetside_desk import backup, house
from wetside_desk.access import limits
from wetside_desk.access.gate import Sent, Who, teacher
from wetside_desk.context import Desk, TheDesk
from wetside_desk.files import papers, sheet_acts
from wetside_desk.pages import opened, told
from wetside_desk.pages.forms import Fields, Refused
from wetside_desk.pages.render import page
from wetside_desk.problems import ProblemError
from wetside_desk.store import accounts, audit, labels, preferences
from wetside_desk.store.preferences import Preferences

router = APIRouter(include_in_schema=False, dependencies=[Depends(teacher)])

TheTeacher = Annotated[Who, Depends(teacher)]
Short = Annotated[str, Form(max_length=80)]

#: A backup goes out in pieces of this size.
_PIECE_BYTES = 1 << 18

#: Where a new key waits for the page that shows it.
_KEY = "key"


#: What people read beside the fields of the desk's own choices.
LABELS = {
    "school": "Name on reports",
    "temperature": "Temperatures in",
    "volume": "Volumes in",
    "retention_days": "Labels are removed after days",
    "board": "The board “Now” is",
}


def settings_page_of(
    request: Request,
    desk: Desk,
    status: int = 200,
    *,
    at: str = "",
    wrong: str | Sequence[Refused] = "",
    typed: Mapping[str, str] | None = None,
    key: str = "",
) -> HTMLResponse:
    """The page, with what it has to tell.

    ``wrong`` is said beside the form ``at``, which shows what was ``typed`` into it; ``key`` is a
    new one.
    """
    chosen = house.sink(desk)
    stood = _shown(preferences.load(desk.database))
    return page(
        request,
        "settings.html",
        status,
        sessions=accounts.sessions(desk.database),
        audit=audit.latest(desk.database, 60),
        claimed=accounts.claimed(desk.database),
        shortest=accounts.SHORTEST_PASSPHRASE,
        sink=chosen.content or sinkfile.SinkFile(),
        sink_seen=chosen.written.tag,
        sink_problems=chosen.problems,
        sheets=[one for one in papers.book(desk.settings.files_folder).files if one.checked.sheet],
        station_file=desk.settings.station_file.exists(),
        widest_celsius=sheet_acts.WIDEST_CELSIUS,
        labels=LABELS,
        at=at,
        wrong=wrong,
        key=key,
        desk_form={**stood, **((typed or {}) if at == "desk" else {})},
        desk_opened=opened.carried(stood),
        typed=typed or {},
    )


def _shown(found: Preferences) -> dict[str, str]:
    """What stands in the form of the desk's own choices."""
    return {name: str(value) for name, value in asdict(found).items()}


@router.get("/settings")
def settings_page(request: Request, desk: TheDesk, who: TheTeacher) -> HTMLResponse:
    """All of it on one page; a key that was just made is shown this once."""
    return settings_page_of(request, desk, key=desk.once.take(who.form, _KEY))


@router.post("/settings/preferences")
def save_preferences(request: Request, desk: TheDesk, who: Sent, form: Fields) -> Response:
    """Keep the preferences that were changed."""
    found = preferences.load(desk.database)
    stood = _shown(found)
    typed = opened.changes(form, stood)
    wrong = opened.overtaken_told(form, typed, stood, LABELS)
    for name, value in typed.items():
        try:
            found = preferences.changed(found, name, value)
        except ValueError as error:
            wrong.append(Refused(LABELS[name], f"{error}.", name))
    if wrong:
        return settings_page_of(request, desk, 422, at="desk", wrong=wrong, typed=typed)
    preferences.save(desk.database, found, typed)
    audit.add(desk.database, who.name, "preferences saved")
    return told.lead_to(desk, who, "/settings")


@router.post("/settings/passphrase")
def change_passphrase(
    request: Request,
    desk: TheDesk,
    who: Sent,
    old: Annotated[str, Form(max_length=400)] = "",
    passphrase: Annotated[str, Form(max_length=400)] = "",
    again: Annotated[str, Form(max_length=400)] = "",
) -> Response:
    """Replace the passphrase; every session ends, this one too."""
    if not accounts.claimed(desk.database):
        raise ProblemError("forbidden", "The first passphrase is set at /first-start.")
    desk.gate.limiter.take(limits.SIGN_IN, f"session {who.digest}")
    if not accounts.passphrase_fits(desk.database, old):
        wrong = [Refused("", "That is not the present passphrase.", "old")]
        return settings_page_of(request, desk, 403, at="passphrase", wrong=wrong)
    if passphrase != again:
        wrong = [Refused("", "The two new passphrases differ.", "again")]
        return settings_page_of(request, desk, 422, at="passphrase", wrong=wrong)
    try:
        accounts.set_passphrase(desk.database, passphrase)
    except ValueError as error:
        wrong = [Refused("", f"{error}.", "passphrase")]
        return settings_page_of(request, desk, 422, at="passphrase", wrong=wrong)
    audit.add(desk.database, who.name, "passphrase changed, all sessions ended")
    return RedirectResponse("/sign-in?after=passphrase", status_code=303)


@router.post("/settings/revoke")
def revoke(desk: TheDesk, who: Sent, digest: Short = "") -> RedirectResponse:
    """End a session or a key."""
    if not accounts.revoke(desk.database, digest):
        return RedirectResponse("/settings", status_code=303)
    audit.add(desk.database, who.name, "session or key ended")
    return told.lead_to(desk, who, "/settings", "Ended")


@router.post("/settings/key")
def new_key(request: Request, desk: TheDesk, who: Sent, name: Short = "") -> Response:
    """A key for a program, shown once by the page that follows."""
    if not name.strip():
        return settings_page_of(request, desk, 422, at="key", wrong="Give the key a name.")
    key = accounts.open_session(desk.database, name.strip(), "key")
    audit.add(desk.database, who.name, "key made", name.strip())
    desk.once.keep(who.form, _KEY, key)
    return RedirectResponse("/settings", status_code=303)


def _backup(desk: TheDesk) -> Iterator[BinaryIO]:
    """Made before the answer begins, so that a failure can still be told; closed at any end."""
    with backup.taken(desk.settings, desk.database) as stream:
        yield stream


@router.get("/settings/backup")
def download_backup(stream: Annotated[BinaryIO, Depends(_backup)]) -> StreamingResponse:
    """Everything as one file."""
    return StreamingResponse(
        iter(lambda: stream.read(_PIECE_BYTES), b""),
        media_type="application/zip",
        headers={
            "Content-Disposition": 'attachment; filename="wetside-backup.zip"',
            "Cache-Control": "no-store",
        },
    )


@router.post("/settings/restore")
def restore_backup(
    request: Request, desk: TheDesk, who: Sent, file: UploadFile, sure: Short = ""
) -> Response:
    """Put back what the desk keeps and the teacher's files; everybody signs in again."""
    if sure != "on":
        wrong = "Nothing was restored: confirm first that what stands here is to be replaced."
        return settings_page_of(request, desk, 422, at="restore", wrong=wrong)
    with tempfile.NamedTemporaryFile(dir=backup.unfinished(desk.settings)) as taken:
        shutil.copyfileobj(file.file, taken)
        taken.flush()
        try:
            whole = backup.restore(Path(taken.name), desk.settings, desk.database)
        except ArchiveRefused as error:
            return settings_page_of(request, desk, 422, at="restore", wrong=str(error))
    audit.add(desk.database, who.name, "backup restored")
    after = "restored" if whole else "restored-desk"
    return RedirectResponse(f"/sign-in?after={after}", status_code=303)


@router.post("/settings/forget")
def forget_student(
    request: Request, desk: TheDesk, who: Sent, label: Short = "", sure: Short = ""
) -> Response:
    """Remove a student's label, and notes and outcomes of the runs that carried it."""
    if sure != "on":
        wrong = "Nothing was removed: confirm it first."
        return settings_page_of(
            request, desk, 422, at="forget", wrong=wrong, typed={"label": label}
        )
    number = labels.forget(desk.database, label)
    audit.add(desk.database, who.name, "student forgotten", f"{number} runs")
    if not number:
        wrong = "No run carries this label. Nothing was removed."
        return settings_page_of(
            request, desk, 422, at="forget", wrong=wrong, typed={"label": label}
        )
    runs = "1 run" if number == 1 else f"{number} runs"
    done = f"The label was removed from {runs}, notes and outcomes with it,"
    return told.lead_to(desk, who, "/settings", done)
