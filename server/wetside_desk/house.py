"""Shelf, bells and sheets together with the desk's records, as pages and API need them.

A file with mistakes is no reason to show nothing: it is given as its problems, and everything
that does not need it is shown.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Generic, TypeVar

from wetside.development.bells import Bells
from wetside.development.bottles import ShelfFile
from wetside.development.deadline import Handover, learn
from wetside.development.shelf import Use
from wetside.errors import FileProblem, JournalError, JournalUnavailable
from wetside.session import sinkfile
from wetside.session.sheet import Sheet
from wetside.session.sinkfile import SinkFile
from wetside_desk import live
from wetside_desk.context import Desk
from wetside_desk.files import papers
from wetside_desk.files.papers import Paper, Written
from wetside_desk.live import LiveQuantiles
from wetside_desk.problems import ProblemError
from wetside_desk.shelf.through import Bottles, bottles
from wetside_desk.store import audit, uses

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Read(Generic[T]):
    """A file as it was read: ``content`` is None where there is no file or it has mistakes."""

    paper: Paper
    written: Written
    content: T | None
    problems: tuple[tuple[str, str], ...] = ()


def _read(paper: Paper, parse: Callable[[str, str], T]) -> Read[T]:
    try:
        written = papers.read(paper)
    except FileProblem as error:
        return Read(paper, Written("", papers.tag_of(""), there=True), None, error.problems)
    if not written.there:
        return Read(paper, written, None)
    try:
        return Read(paper, written, parse(written.text, paper.name))
    except FileProblem as error:
        return Read(paper, written, None, error.problems)


def _count_ended(desk: Desk) -> None:
    """Count what ended meanwhile, so that a page does not wait for the caretaker's next round."""
    with suppress(JournalError):  # pages are shown without a journal too
        desk.counter.count_ended()


def counted_shelf(desk: Desk) -> Read[ShelfFile]:
    """The shelf file. Runs that ended meanwhile are counted before."""
    _count_ended(desk)
    found = _read(papers.shelf(desk.settings.files_folder), papers.parse_shelf)
    if found.content is not None:
        with suppress(JournalUnavailable):  # it is noted at another time
            uses.note_fillings(desk.database, found.content)
    return found


def bell_table(desk: Desk) -> Read[Bells]:
    """The bell table."""
    return _read(papers.bell_table(desk.settings.files_folder), papers.parse_bells)


def sink(desk: Desk) -> Read[SinkFile]:
    """What was chosen for the sink."""
    return _read(papers.sink(desk.settings.files_folder), sinkfile.parse)


def current_uses(desk: Desk) -> list[Use]:
    """What went through the bottles that stand there."""
    return uses.current(desk.database)


def bottles_of(desk: Desk, run: str) -> Bottles:
    """What the shelf knows of a run that ended: its bottles, as they stood then."""
    there = counted_shelf(desk).content
    if there is None:
        return Bottles()
    mine = uses.of_runs(desk.database, [run])[run]
    return bottles(there, current_uses(desk), mine, uses.missing_of(desk.database, run))


def sheets(desk: Desk) -> list[Sheet]:
    """Every sheet without mistakes, by its file."""
    return [one.sheet for one in papers.book(desk.settings.files_folder).offers]


def sheet_named(desk: Desk, name: str) -> Sheet | None:
    """The sheet that people call so; the first one where ``name`` is empty."""
    there = sheets(desk)
    if not name:
        return there[0] if there else None
    return next((one for one in there if one.name.casefold() == name.casefold()), None)


def at_sink(desk: Desk) -> tuple[Sheet, LiveQuantiles] | None:
    """The sheet of the run that tempers now, and when its developer is ready."""
    found = live.read(desk.settings.live_file)
    said = found.live
    if found.presence is not live.Presence.RUNNING or said is None or said.sheet is None:
        return None
    if said.state not in {"tempering", "ready"} or said.outlook is None:
        return None
    sheet = sheet_named(desk, said.sheet.name)
    return None if sheet is None else (sheet, said.outlook.ready_in)


def handover(desk: Desk) -> tuple[Handover, int]:
    """Hand-over times learnt from the log, and from how many runs.

    Runs that ended meanwhile are counted before.
    """
    _count_ended(desk)
    found = uses.gaps(desk.database)
    return learn([[gap] for gap in found]), len(found)


def still(read: Read[T], seen: str) -> None:
    """Whether a file is what somebody saw, before anything that they sent is looked at.

    Raises
    ------
    ProblemError
        ``changed-meanwhile``.
    """
    if read.written.tag != seen:
        raise _changed(read.paper)


def _changed(paper: Paper) -> ProblemError:
    return ProblemError("changed-meanwhile", f"{paper.name} was changed meanwhile.")


def write(desk: Desk, paper: Paper, text: str, seen: str, who: str) -> Written:
    """Check and replace a file, keep its version, note it in the audit list.

    Raises
    ------
    ProblemError
        ``file-refused`` with every problem, or ``changed-meanwhile``.
    """
    try:
        written = papers.write(desk.database, paper, text, seen, who)
    except FileProblem as error:
        raise refused(paper.name, error) from error
    except papers.Stale:
        raise _changed(paper) from None
    audit.add(desk.database, who, f"{paper.kind} changed", paper.name)
    return written


def refused(name: str, error: FileProblem) -> ProblemError:
    """A file's problems as an answer: file, key and reason of each."""
    return ProblemError(
        "file-refused",
        "; ".join(
            f"{name}: {place}: {why}" if place else f"{name}: {why}"
            for place, why in error.problems
        ),
        extra={
            "errors": [
                {"file": name, "place": place, "reason": reason} for place, reason in error.problems
            ]
        },
    )
