"""What is done with sheets: find, copy, put back, compare. Pages and API have it in common."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher

from wetside.errors import FileProblem
from wetside.session import sheet_edit, sheet_notes
from wetside.session.sheet import Sheet, StepKind, parse
from wetside.session.sheetbook import SheetFile
from wetside.units import in_unit
from wetside_desk import house
from wetside_desk.context import Desk
from wetside_desk.diagnosis import COEFFICIENTS
from wetside_desk.files import edits, lines, papers, usual_edits
from wetside_desk.files.edits import CannotEdit
from wetside_desk.files.lines import Mark
from wetside_desk.files.papers import Paper
from wetside_desk.files.usual_edits import Usual
from wetside_desk.problems import ProblemError
from wetside_desk.store import audit, class_plan, preferences, versions

#: A tolerance that is wider is refused by forms and doubted in a sheet: common practice is 0.25
#: to 0.5 C, and who cannot hold 1.5 C is better helped by a time for the developer as it is.
WIDEST_CELSIUS = 1.5

#: What a new sheet begins as.
NEW = """\
format = 1
name = "my sheet"
title = "What it is for"
reels = 1
vessel = "plastic"

[[step]]
kind = "temper"
solution = "developer"
celsius = 20.0
tolerance_celsius = 0.3
volume_millilitres = 300

[[step]]
kind = "develop"
solution = "developer"
seconds = 430

[[step]]
kind = "stop"
solution = "stop bath"
seconds = 45
afterwards = "return"

[[step]]
kind = "fix"
solution = "fixer"
seconds = 310
afterwards = "return"

[[step]]
kind = "wash"
solution = "wash water"
seconds = 1210
can_wait = true

[[step]]
kind = "hang"
"""


@dataclass(frozen=True, slots=True)
class Entry:
    """A sheet's file with its problems beside their lines.

    ``doubts`` are no mistakes of the file itself, such as a name that two sheets share.
    """

    listed: SheetFile
    marks: tuple[Mark, ...]
    doubts: tuple[str, ...] = ()


def entries(desk: Desk) -> list[Entry]:
    """Every sheet that the station finds or leaves out, by its file."""
    unit = preferences.load(desk.database).temperature
    return [
        Entry(
            listed,
            lines.marks(listed.text, listed.checked.problems),
            ((listed.namesake_words,) if listed.namesakes else ())
            + doubts(listed.checked.sheet, unit),
        )
        for listed in papers.book(desk.settings.files_folder).files
    ]


def taken_away(desk: Desk, there: Sequence[Entry]) -> dict[str, versions.Version]:
    """The latest version of every sheet that is kept here and is not ``there``, by its file."""
    files = {entry.listed.file for entry in there}
    kept = versions.latest(desk.database, "sheet")
    return {file: version for file, version in kept.items() if file not in files}


def doubts(sheet: Sheet | None, unit: str) -> tuple[str, ...]:
    """Sentences about what a teacher should look at in a sheet; temperatures in C or F."""
    if sheet is None:
        return ()
    noted = tuple(f"{key}: {said}." for key, said in sheet_notes.notes(sheet))
    return tuple(in_unit(said, fahrenheit=unit == "F") for said in (*_wide(sheet), *noted))


def text_doubts(desk: Desk, paper: Paper, text: str) -> tuple[str, ...]:
    """What is to be looked at in a text of a paper; only sheets without mistakes leave doubts."""
    if paper.kind != "sheet":
        return ()
    unit = preferences.load(desk.database).temperature
    return doubts(sheet_edit.check(text, paper.name).sheet, unit)


def _wide(sheet: Sheet) -> tuple[str, ...]:
    tolerance = sheet.temper.tolerance_celsius or 0.0
    if tolerance <= WIDEST_CELSIUS:
        return ()
    return (f"Its tolerance is {tolerance:.1f} degrees. {off_words(tolerance)}",)


def off_words(celsius: float) -> str:
    """What a developer so far off its target does to a roll, as a sentence in degrees Celsius."""
    least, most = (100.0 * (factor ** (celsius / 10.0) - 1.0) for factor in COEFFICIENTS)
    return (
        f"A roll poured {celsius:.1f} degrees off, for the time of the target, is developed about "
        f"{least:.0f} to {most:.0f} % too much, or as much too little."
    )


def find(desk: Desk, file: str) -> Entry:
    """The sheet in this file.

    Raises
    ------
    ProblemError
        There is none.
    """
    for entry in entries(desk):
        if entry.listed.file == file:
            return entry
    raise ProblemError("sheet-not-found", f"There is no sheet in {file!r}.")


def own(desk: Desk, file: str) -> Paper:
    """The school's own file of this name.

    Raises
    ------
    ProblemError
        Not the name of a sheet's file.
    """
    try:
        return papers.sheet(desk.settings.files_folder, file)
    except ValueError as error:
        raise ProblemError("invalid-request", f"{error}.") from error


def copy(desk: Desk, file: str, new_file: str, name: str, title: str, who: str) -> None:
    """Copy a sheet with its comments; nothing is replaced.

    Raises
    ------
    ProblemError
        No such sheet, there is a file of that name, or the name is not one or is taken.
    """
    text = find(desk, file).listed.text
    paper = own(desk, new_file)
    if any(entry.listed.file == new_file for entry in entries(desk)):
        raise ProblemError("name-taken", f"There is a sheet in {new_file} already.")
    values: dict[str, edits.Value] = {"name": name.strip()}
    if title.strip():
        values["title"] = title.strip()
    try:
        copied = edits.set_keys(text, values)
    except CannotEdit as error:
        raise ProblemError("file-refused", f"{file}: {error}") from error
    house.write(desk, paper, copied, papers.tag_of(""), who)


def usable(desk: Desk, file: str) -> tuple[SheetFile, Sheet]:
    """The file of a sheet and what is in it.

    Raises
    ------
    ProblemError
        No such sheet, or one with mistakes.
    """
    listed = find(desk, file).listed
    if listed.checked.sheet is None:
        raise ProblemError("file-refused", f"{file} has mistakes; mend them first.")
    return listed, listed.checked.sheet


def _write_own(desk: Desk, listed: SheetFile, text: str, who: str) -> None:
    """Replace a sheet of the school; a shipped one gets a copy that hides it."""
    seen = papers.tag_of(listed.text if listed.own else "")
    house.write(desk, own(desk, listed.file), text, seen, who)


def set_tolerance(desk: Desk, file: str, celsius: float, who: str) -> None:
    """Change how far the developer may be off the target; a shipped sheet is copied first.

    Raises
    ------
    ProblemError
        No such sheet, a tolerance that cannot be, or the file was changed meanwhile.
    """
    listed, sheet = usable(desk, file)
    place = [step.kind for step in sheet.step].index(StepKind.TEMPER) + 1
    try:
        text = edits.change(listed.text, "step", place, {"tolerance_celsius": celsius})
    except CannotEdit as error:
        raise ProblemError("file-refused", f"{file}: {error}") from error
    _write_own(desk, listed, text, who)


def still(listed: SheetFile, seen: str) -> None:
    """Whether a sheet is what somebody saw.

    Raises
    ------
    ProblemError
        ``changed-meanwhile``.
    """
    if papers.tag_of(listed.text) != seen:
        raise ProblemError("changed-meanwhile", f"{listed.file} was changed meanwhile.")


def change_usual(desk: Desk, file: str, wanted: Usual, seen: str, who: str) -> None:
    """Change the few things that a sheet usually needs; a shipped sheet is copied first.

    Raises
    ------
    ProblemError
        No such sheet, a change that cannot be, or the file was changed meanwhile.
    """
    listed, sheet = usable(desk, file)
    still(listed, seen)
    try:
        text = usual_edits.changed(listed.text, sheet, wanted)
    except (CannotEdit, usual_edits.CannotChange) as error:
        raise ProblemError("file-refused", f"{error}.") from error
    _write_own(desk, listed, text, who)
    name, plan = usable(desk, file)[1].name, class_plan.load(desk.database)
    if plan.sheet == sheet.name != name:  # the usual sheet stays the usual one
        class_plan.save(desk.database, replace(plan, sheet=name), ["sheet"])


def remove(desk: Desk, paper: Paper, seen: str, who: str) -> None:
    """Take a file of the school away; its versions stay.

    Raises
    ------
    ProblemError
        It was changed meanwhile, or cannot be removed.
    """
    try:
        papers.remove(desk.database, paper, seen)
    except papers.Stale:
        raise ProblemError("changed-meanwhile", f"{paper.name} was changed meanwhile.") from None
    except FileProblem as error:
        raise house.refused(paper.name, error) from error
    audit.add(desk.database, who, "sheet taken away", paper.name)


def version_text(desk: Desk, file: str, number: int) -> str:
    """The text of a version; 0 is the file as it is now.

    Raises
    ------
    ProblemError
        There is none.
    """
    if number == 0:
        return find(desk, file).listed.text
    found = versions.one(desk.database, "sheet", file, number)
    if found is None:
        raise ProblemError("sheet-not-found", f"{file} has no version {number}.")
    return found.text


def _sheet(text: str, file: str, number: int) -> Sheet:
    try:
        return parse(text, file)
    except FileProblem as error:
        raise house.refused(f"{file} version {number}" if number else file, error) from error


def changes(desk: Desk, file: str, before: int, after: int) -> tuple[sheet_edit.Change, ...]:
    """What differs between two versions, key by key.

    Raises
    ------
    ProblemError
        There is no such version, or it cannot be read as a sheet any more.
    """
    old = _sheet(version_text(desk, file, before), file, before)
    new = _sheet(version_text(desk, file, after), file, after)
    return sheet_edit.changes(old, new)


@dataclass(frozen=True, slots=True)
class TextLine:
    """A line of two texts laid side by side: ``sign`` is +, - or a space."""

    sign: str
    before: int | None
    after: int | None
    text: str


def compared(before: str, after: str) -> list[list[TextLine]]:
    """Where two texts differ, with some lines around; one list for each place."""
    old, new = before.splitlines(), after.splitlines()
    groups = SequenceMatcher(None, old, new, autojunk=False).get_grouped_opcodes()
    found = []
    for group in groups:
        place: list[TextLine] = []
        for what, old_from, old_to, new_from, new_to in group:
            if what == "equal":
                place += [
                    TextLine(" ", left + 1, right + 1, old[left])
                    for left, right in zip(
                        range(old_from, old_to), range(new_from, new_to), strict=True
                    )
                ]
                continue
            place += [TextLine("-", at + 1, None, old[at]) for at in range(old_from, old_to)]
            place += [TextLine("+", None, at + 1, new[at]) for at in range(new_from, new_to)]
        found.append(place)
    return found
