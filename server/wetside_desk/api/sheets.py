"""Sheets over the API: list, look, check, replace, copy, versions, changes."""

from typing import Annotated

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from wetside.session import sheet_edit
from wetside.session.sheet import Sheet
from wetside.tomlfile import LONGEST_NAME_BYTES
from wetside_desk import formats
from wetside_desk.access.gate import teacher
from wetside_desk.api import answers, asked, changing
from wetside_desk.api.changing import Changer, Text
from wetside_desk.context import TheDesk
from wetside_desk.files import papers, sheet_acts
from wetside_desk.problems import ProblemError
from wetside_desk.store import audit, versions

router = APIRouter(
    prefix="/v1/sheets",
    tags=["sheets"],
    dependencies=[Depends(teacher), Depends(asked.known)],
    responses=answers.documented("not-signed-in", "invalid-request", "internal-error"),
)

File = Annotated[
    str,
    Path(pattern=papers.SHEET_FILE, max_length=LONGEST_NAME_BYTES, examples=["one-reel-20.toml"]),
]


class SheetBrief(BaseModel):
    """A sheet of the list; ``name`` is null where its file has mistakes."""

    file: str
    own: bool = Field(description="the school's own; shipped sheets are changed by a copy")
    hides_shipped: bool
    name: str | None
    title: str | None
    fingerprint: str | None = Field(description="changes with anything that a run depends on")
    seconds: float | None = Field(description="from pouring the developer to hanging")
    problems: list[changing.ProblemPlace]
    doubts: list[str]


class SheetList(BaseModel):
    """Every sheet that the station finds or leaves out."""

    sheets: list[SheetBrief]


class CueAnswer(BaseModel):
    """One cue; ``seconds`` from pouring the developer, ``offset_seconds`` from its step's begin."""

    seconds: float
    step: int
    offset_seconds: float
    kind: str


class SheetAnswer(SheetBrief):
    """A sheet with its steps and every cue."""

    sheet: Sheet | None
    cues: list[CueAnswer]
    versions: int


class VersionBrief(BaseModel):
    """One version; ``number`` counts from one."""

    number: int
    utc: str
    who: str
    fingerprint: str | None


class VersionList(BaseModel):
    """All versions of a file, latest first."""

    versions: list[VersionBrief]


class ChangeAnswer(BaseModel):
    """One key that differs; null where it is not given."""

    key: str
    before: str | float | bool | list[str] | None
    after: str | float | bool | list[str] | None


class ChangeList(BaseModel):
    """Everything that differs between two versions."""

    changes: list[ChangeAnswer]


class Copy(BaseModel):
    """A copy under another name."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={"examples": [{"file": "two-films-20.toml", "name": "two films 20"}]},
    )

    file: Annotated[str, Field(pattern=papers.SHEET_FILE, max_length=LONGEST_NAME_BYTES)]
    name: Annotated[str, Field(min_length=1, max_length=16)]
    title: Annotated[str, Field(max_length=200)] = ""


def brief(entry: sheet_acts.Entry) -> SheetBrief:
    """A sheet as the list gives it."""
    listed, sheet = entry.listed, entry.listed.checked.sheet
    return SheetBrief(
        file=listed.file,
        own=listed.own,
        hides_shipped=listed.hides_shipped,
        name=sheet.name if sheet else None,
        title=sheet.title if sheet else None,
        fingerprint=sheet_edit.fingerprint(sheet) if sheet else None,
        seconds=sheet_edit.total_seconds(sheet) if sheet else None,
        problems=[
            changing.ProblemPlace(line=mark.line, place=mark.place, reason=mark.reason)
            for mark in entry.marks
        ],
        doubts=list(entry.doubts),
    )


@router.get("", response_model=SheetList, summary="The sheets")
def list_sheets(request: Request, desk: TheDesk) -> Response:
    """The school's own and those that ship; one of the school hides a shipped namesake."""
    body = SheetList(sheets=[brief(entry) for entry in sheet_acts.entries(desk)])
    tag = answers.tag_of(body.model_dump_json())
    return answers.not_modified(request, tag) or answers.tagged(body, tag)


@router.post(
    "/check",
    response_model=changing.CheckedText,
    summary="Look at a sheet without keeping it",
    responses=changing.CHANGING,
    openapi_extra=changing.text_body(sheet_acts.NEW),
)
def check_sheet(
    desk: TheDesk,
    who: Changer,  # noqa: ARG001  # asked for, so that only the teacher may
    text: Text,
    file: Annotated[
        str,
        Query(
            pattern=papers.SHEET_FILE,
            max_length=LONGEST_NAME_BYTES,
            description="the file that the text is for; its own name is not taken",
            examples=["my-sheet.toml"],
        ),
    ] = "sheet.toml",
) -> changing.CheckedText:
    """Every problem of a text with its line, key and reason, and what leaves a doubt."""
    paper = sheet_acts.own(desk, file)
    return changing.looked_at(paper, text, sheet_acts.text_doubts(desk, paper, text))


@router.get(
    "/{file}",
    response_model=SheetAnswer,
    summary="One sheet",
    responses=answers.documented("sheet-not-found"),
)
def show_sheet(request: Request, desk: TheDesk, file: File) -> Response:
    """Its steps, every cue with its time, and what is wrong with it."""
    entry = sheet_acts.find(desk, file)
    sheet = entry.listed.checked.sheet
    body = SheetAnswer(
        **brief(entry).model_dump(),
        sheet=sheet,
        cues=[
            CueAnswer(
                seconds=cue.seconds,
                step=cue.index + 1,
                offset_seconds=cue.offset_seconds,
                kind=str(cue.kind),
            )
            for cue in (sheet_edit.timeline(sheet) if sheet else ())
        ],
        versions=len(versions.of(desk.database, "sheet", file)),
    )
    tag = answers.tag_of(body.model_dump_json())
    return answers.not_modified(request, tag) or answers.tagged(body, tag)


@router.get(
    "/{file}/file",
    summary="The file of a sheet",
    response_class=Response,
    responses={**changing.text_answer(sheet_acts.NEW), **answers.documented("sheet-not-found")},
)
def sheet_file(request: Request, desk: TheDesk, file: File) -> Response:
    """The TOML text as it is; the ETag of the school's own is what a change must carry."""
    entry = sheet_acts.find(desk, file)
    written = papers.Written(entry.listed.text, papers.tag_of(entry.listed.text), there=True)
    return changing.give_text(request, written)


@router.put(
    "/{file}/file",
    summary="Write a sheet of the school",
    status_code=204,
    response_class=Response,
    responses={**changing.CHANGING, **changing.WRITING},
    openapi_extra=changing.text_body(sheet_acts.NEW),
)
def put_sheet_file(
    request: Request, desk: TheDesk, who: Changer, file: File, text: Text
) -> Response:
    """Check the sheet and replace its file, or refuse it with every problem named.

    A shipped sheet stays as it is: with `If-None-Match: *` a file of its name in the school's
    folder is made, which hides it.
    """
    paper = sheet_acts.own(desk, file)
    return changing.take_text(request, desk, paper, text, who)


@router.delete(
    "/{file}/file",
    summary="Take a sheet of the school away",
    status_code=204,
    response_class=Response,
    responses={
        **changing.CHANGING,
        **answers.documented("sheet-not-found", "changed-meanwhile", "say-what-you-saw"),
    },
)
def delete_sheet_file(request: Request, desk: TheDesk, who: Changer, file: File) -> Response:
    """Its versions stay, and runs keep the sheet they used. A shipped sheet cannot be removed."""
    paper = sheet_acts.own(desk, file)
    if not changing.reading(paper).there:
        raise ProblemError("sheet-not-found", f"The school has no sheet file {file}.")
    sheet_acts.remove(desk, paper, changing.seen_of(request, paper), who.name)
    return Response(status_code=204)


@router.post(
    "/{file}/copies",
    response_model=SheetBrief,
    status_code=201,
    summary="Copy a sheet",
    responses={
        **changing.CHANGING,
        **answers.documented("sheet-not-found", "file-refused", "name-taken"),
    },
)
def copy_sheet(desk: TheDesk, who: Changer, file: File, copy: Copy) -> SheetBrief:
    """Copy with its comments, under another file and name."""
    sheet_acts.copy(desk, file, copy.file, copy.name, copy.title, who.name)
    audit.add(desk.database, who.name, "sheet copied", f"{file} to {copy.file}")
    return brief(sheet_acts.find(desk, copy.file))


@router.get("/{file}/versions", response_model=VersionList, summary="Every version of a sheet")
def list_versions(request: Request, desk: TheDesk, file: File) -> Response:
    """Latest first; also of a file that was taken away. None before the first change."""
    found = []
    for version in versions.of(desk.database, "sheet", file):
        sheet = sheet_edit.check(version.text, file).sheet
        found.append(
            VersionBrief(
                number=version.number,
                utc=formats.iso_utc(version.at),
                who=version.who,
                fingerprint=sheet_edit.fingerprint(sheet) if sheet else None,
            )
        )
    body = VersionList(versions=found)
    tag = answers.tag_of(body.model_dump_json())
    return answers.not_modified(request, tag) or answers.tagged(body, tag)


@router.get(
    "/{file}/versions/{number}",
    summary="One version",
    response_class=Response,
    responses={**changing.text_answer(sheet_acts.NEW), **answers.documented("sheet-not-found")},
)
def show_version(
    request: Request,
    desk: TheDesk,
    file: File,
    number: Annotated[int, Path(ge=1, le=versions.LAST, examples=[1])],
) -> Response:
    """The text as it was."""
    text = sheet_acts.version_text(desk, file, number)
    return changing.give_text(request, papers.Written(text, papers.tag_of(text), there=True))


@router.get(
    "/{file}/changes",
    response_model=ChangeList,
    summary="What differs between two versions",
    responses=answers.documented("sheet-not-found", "file-refused"),
)
def show_changes(
    request: Request,
    desk: TheDesk,
    file: File,
    before: Annotated[
        int, Query(ge=1, le=versions.LAST, description="number of a version", examples=[1])
    ],
    after: Annotated[
        int,
        Query(
            ge=0,
            le=versions.LAST,
            description="number of a version; 0 = as it is now",
            examples=[0],
        ),
    ] = 0,
) -> Response:
    """Key by key; steps are paired by their kinds."""
    found = sheet_acts.changes(desk, file, before, after)
    body = ChangeList(
        changes=[
            ChangeAnswer(key=change.key, before=_plain(change.before), after=_plain(change.after))
            for change in found
        ]
    )
    tag = answers.tag_of(body.model_dump_json())
    return answers.not_modified(request, tag) or answers.tagged(body, tag)


def _plain(value: sheet_edit.Value) -> str | float | bool | list[str] | None:
    return list(value) if isinstance(value, tuple) else value
