"""Screens outside of a running step: idle, held, interrupted, finished, given up. Pure."""

from __future__ import annotations

from wetside.cues import wording
from wetside.cues.cautioning import AT_THE_END
from wetside.cues.inviting import spoken, words_seconds
from wetside.cues.notice import Notice
from wetside.cues.snapshot import Snapshot
from wetside.session.run import Session
from wetside.session.sheet import Afterwards, StepKind
from wetside.units import clock_text


def idle(snapshot: Snapshot) -> Notice:
    """Which sheet a press begins, and how to take another."""
    outlook = snapshot.outlook
    believed = (outlook.developer or outlook.bath) if outlook else None
    corner = ""
    if believed is not None:
        corner = wording.temperature(believed.celsius, fahrenheit=snapshot.fahrenheit)
    sheet = snapshot.offered
    notes = [*_troubles(snapshot), *snapshot.signs]
    if snapshot.desk.address:
        notes += [spoken(snapshot.desk.address.address), "hold wait: the desk"]
    tolerance = sheet.setup().tolerance_celsius if sheet else None
    notes += wording.unpromised(snapshot, tolerance)
    if sheet is None:
        return Notice(
            name="idle",
            head="no sheet",
            corner=corner,
            big="no sheet",
            lines=("put one in the folder", wording.page(notes, snapshot.now)),
        )
    return Notice(
        name="idle",
        head="next roll",
        corner=corner,
        big=sheet.name,
        lines=(
            "now: begin   wait: other",
            wording.page((*snapshot.bell, sheet.title, *notes, *sheet.cautions), snapshot.now),
        ),
    )


def holding(snapshot: Snapshot) -> Notice:
    """Somebody asked the run to wait: how long the present step lasts already."""
    session = snapshot.session
    step = session.present
    began = session.began if session.began is not None else snapshot.now
    return Notice(
        name="holding",
        head=f"held: {step.kind}" if step else "held",
        corner=f"{session.step} of {len(session.sheet.step) - 2}"
        if session.sheet and session.step
        else "",
        big=clock_text(max(0.0, snapshot.now - began)),
        lines=(
            "now: go on",
            wording.page(("hold wait 2x: give up", *snapshot.bell), snapshot.now),
        ),
    )


def interrupted(snapshot: Snapshot) -> Notice:
    """Power was lost: what is known about the gap, and the question."""
    session = snapshot.session
    step = session.present
    gap = session.gap_text or "the gap is not known"
    return Notice(
        name="interrupted",
        head="power lost",
        corner=str(step.kind) if step else "",
        big="GO ON?",
        lines=(
            wording.page((gap,), snapshot.now),
            "now: go on",
            "hold wait 2x: give up",
        ),
        inverted=int(snapshot.now) % 2 == 0,
    )


def finished(snapshot: Snapshot) -> Notice:
    """The film hangs: what was hit, and what is left to do."""
    session = snapshot.session
    return Notice(
        name="finished",
        head="finished",
        corner=_whole(session),
        big="DONE",
        lines=(
            wording.page(_summary(session, snapshot), words_seconds(snapshot)),
            wording.page(_left_to_do(session), words_seconds(snapshot)),
        ),
    )


def abandoned(snapshot: Snapshot) -> Notice:
    """The run was given up: what that means for the film."""
    session = snapshot.session
    fixed = any(record.kind is StepKind.FIX and record.ended for record in session.steps)
    # the last record was closed by giving up, so a fix step that stands last was not finished
    fixed = fixed and session.steps[-1].kind is not StepKind.FIX
    return Notice(
        name="abandoned",
        head="given up",
        corner=_whole(session),
        big="GIVEN UP",
        lines=(
            "wash it well, then dry" if fixed else "not fixed: keep it dark",
            wording.page(("now: another roll", "tell the teacher"), snapshot.now),
        ),
    )


def _troubles(snapshot: Snapshot) -> list[str]:
    return [
        wording.CONDITIONS[condition][0]
        for condition in list(snapshot.troubles.values())[:1]
        if condition in wording.CONDITIONS
    ]


def _whole(session: Session) -> str:
    if not session.steps or session.steps[-1].ended is None:
        return ""
    return clock_text(session.steps[-1].ended - session.steps[0].began)


def _summary(session: Session, snapshot: Snapshot) -> list[str]:
    texts = []
    if session.in_window is not None:
        hit = "window hit" if session.in_window else "window missed"
        if session.poured_celsius is not None:
            poured = wording.temperature(session.poured_celsius, fahrenheit=snapshot.fahrenheit)
            hit += f": {poured}"
        texts.append(hit)
    if session.developed is not None:
        done = session.developed
        texts += [
            f"{done.percent:.0f} % of nominal",
            f"between {done.low:.0f} and {done.high:.0f} %",
        ]
    for record in session.steps:
        if record.planned_seconds is not None and record.actual_seconds is not None:
            actual = clock_text(record.actual_seconds)
            texts.append(f"{record.kind} {actual} of {clock_text(record.planned_seconds)}")
    return texts


def _left_to_do(session: Session) -> list[str]:
    # about an hour at ordinary humidity: Handicraft encyclopedia, Photography part 4
    texts = ["hang about 1 h, no dust"]
    steps = session.sheet.step if session.sheet else ()
    if any(step.afterwards is Afterwards.COLLECT for step in steps):
        texts.append("collect the fixer")
    last = steps[-1].cautions if steps else ()
    return [*texts, *last, *AT_THE_END, "now: another roll"]
