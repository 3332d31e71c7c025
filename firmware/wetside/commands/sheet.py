"""``wetside sheet``: check process sheets, list them, show what they will say and when."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer
from rich import box
from rich.table import Table

from wetside.commands.console import Console
from wetside.commands.sheets import find
from wetside.cues.lettering import width
from wetside.cues.panels import ROOM
from wetside.errors import SheetError
from wetside.session import sheet_notes, sheetbook
from wetside.session.agitation import Pattern
from wetside.session.events import Kind
from wetside.session.sheet import Sheet, Step, load
from wetside.session.sheet_edit import timeline, total_seconds
from wetside.units import clock_text

app = typer.Typer(
    no_args_is_help=True,
    help="Check process sheets, list them, show what they will say and when.",
    epilog="""\b
Examples:
  wetside sheet list
  wetside sheet show "one reel 20"
  wetside sheet check my-sheet.toml
""",
)

#: What an event of the clock means to a student.
MEANINGS = {
    Kind.FILLED: "tank is full",
    Kind.AGITATE: "agitate",
    Kind.REST: "rest",
    Kind.PREPARE: "prepare",
    Kind.DRAIN_DUE: "pour out",
    Kind.END_DUE: "next, now",
    Kind.LATE_DUE: "late",
}


@app.command()
def check(
    files: Annotated[
        list[Path], typer.Argument(readable=False, metavar="FILE...", help="Sheet files (TOML).")
    ],
) -> None:
    """Check sheet files: a summary of each good one, every problem of each bad one.

    A problem is one line, file: key: reason, and makes the exit code 2.

    Example: wetside sheet check sheets/*.toml
    """
    bad = False
    for file in files:
        try:
            sheet = load(file)
        except SheetError as problem:
            bad = True
            for line in problem.lines():
                typer.echo(line, err=True)
            continue
        typer.echo(f"{file}: ok: {sheet.title}, {clock_text(total_seconds(sheet))} from the pour")
        Console().print(steps_table(sheet))
        for key, text, pixels in too_wide(sheet):
            typer.echo(
                f"{file}: {key}: note: {text!r} is {pixels} pixels wide; the display shows {ROOM} "
                "and cuts it off"
            )
        for key, said in sheet_notes.notes(sheet):
            typer.echo(f"{file}: {key}: note: {said}")
    if bad:
        raise typer.Exit(2)


Folder = Annotated[
    Path | None,
    typer.Option(
        "--folder", help="Folder of the school's own sheets, besides those that ship.",
        exists=True, file_okay=False,
    ),
]  # fmt: skip


@app.command("list")
def list_sheets(folder: Folder = None) -> None:
    """List the sheets that are there: name, time from the pour, target, title and file.

    A file that cannot be used is told on standard error, and makes the exit code 2.

    Example: wetside sheet list --folder /etc/wetside/sheets
    """
    book = sheetbook.read(folder)
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in ("name", "time", "°C", "reels", "title", "file"):
        right = name in {"time", "reels"}
        table.add_column(name, justify="right" if right else "left", no_wrap=name != "title")
    for one in book.offers:
        table.add_row(
            one.sheet.name,
            clock_text(total_seconds(one.sheet)),
            _warmth(one.sheet.temper),
            str(one.sheet.reels),
            one.sheet.title,
            one.file,
        )
    Console().print(table)
    for problem in book.left_out:
        for line in problem.lines():
            typer.echo(line, err=True)
    for file in book.files:
        if file.namesakes:
            typer.echo(f"{file.path}: name: note: {file.namesake_words}", err=True)
    if book.left_out:
        raise typer.Exit(2)


@app.command()
def show(
    file: Annotated[
        str, typer.Argument(help="A sheet file, or a sheet by its name or its file's.")
    ],
    folder: Folder = None,
) -> None:
    """Show every cue of a sheet with its time, counted from the moment developer is poured.

    Example: wetside sheet show "one reel 20"
    """
    try:
        sheet = find(file, folder)
    except SheetError as problem:
        typer.echo(str(problem), err=True)
        raise typer.Exit(2) from None
    table = Table(title=sheet.title, title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False)
    for name in ("from pour", "in step", "step", "cue"):
        table.add_column(name, justify="right" if name in {"from pour", "in step"} else "left")
    for cue in timeline(sheet):
        step = sheet.step[cue.index]
        table.add_row(
            clock_text(cue.seconds),
            clock_text(cue.offset_seconds),
            str(step.kind),
            meaning(step, cue.kind),
        )
    Console().print(table)


def meaning(step: Step, kind: Kind) -> str:
    """What an entry of the schedule asks for, in words."""
    if kind is Kind.PREPARE:
        return f"prepare: {step.prepare}"
    return MEANINGS[kind]


def steps_table(sheet: Sheet) -> Table:
    """The steps of a sheet, one row each."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0))
    for name in ("from", "step", "solution", "time", "°C", "agitation", "after"):
        table.add_column(name, justify="right" if name in {"from", "time"} else "left")
    start = 0.0
    for step in sheet.step:
        timed = step.seconds is not None
        table.add_row(
            clock_text(start) if timed else "",
            str(step.kind),
            step.solution or "",
            clock_text(step.seconds) if step.seconds is not None else "",
            _warmth(step),
            _agitation(step) if timed else "",
            str(step.afterwards or ""),
        )
        start += step.seconds or 0.0
    return table


def _warmth(step: Step) -> str:
    if step.celsius is None:
        return ""
    tolerance = "" if step.tolerance_celsius is None else f" ±{step.tolerance_celsius:g}"
    return f"{step.celsius:.1f}{tolerance}"


def _agitation(step: Step) -> str:
    agitation = step.agitation
    gentle = "gentle, " if agitation.gentle else ""
    if agitation.pattern is Pattern.INTERMITTENT:
        return (
            f"{gentle}{agitation.first_seconds:g}, "
            f"{agitation.for_seconds:g}/{agitation.every_seconds:g} s"
        )
    return f"{gentle}{agitation.pattern}"


def too_wide(sheet: Sheet) -> Iterator[tuple[str, str, int]]:
    """Key, text and width in pixels of each short text that the display cuts off."""
    for index, step in enumerate(sheet.step, start=1):
        for key, text in (("solution", step.solution), ("prepare", step.prepare)):
            if text is not None and width(text) > ROOM:
                yield f"step[{index}].{key}", text, width(text)
