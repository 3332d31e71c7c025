"""Screens of a timed step: pouring, running, draining, hand-over, late. Pure."""

from __future__ import annotations

from wetside.cues import wording
from wetside.cues.cautioning import AT_THE_POUR, IN_THE_STEP
from wetside.cues.notice import Notice
from wetside.cues.snapshot import Snapshot
from wetside.session import schedule, telling
from wetside.session.agitation import Pattern
from wetside.session.effect import end_follows
from wetside.session.events import Kind
from wetside.session.run import Session
from wetside.session.sheet import Step, StepKind
from wetside.units import clock_text


def countdown(snapshot: Snapshot) -> str:
    """Time to the planned end as a clock, ``+`` after it; empty outside of a timed step."""
    left = snapshot.session.remaining(snapshot.now)
    if left is None:
        return ""
    return down_text(left) if left > 0 else f"+{clock_text(-left)}"


def down_text(seconds: float) -> str:
    """A countdown: it reaches 0:00 at the end, not half a second before."""
    whole = -int(-max(0.0, seconds) // 1)
    return clock_text(whole)


def progress(snapshot: Snapshot) -> float | None:
    """Share of the present step that has passed; None outside of a timed step."""
    left = snapshot.session.remaining(snapshot.now)
    step = snapshot.session.present
    if left is None or step is None or step.seconds is None:
        return None
    return min(max(1 - left / step.seconds, 0.0), 1.0)


def pouring(snapshot: Snapshot) -> Notice:
    """Solution goes in; the clock of the step runs."""
    step = _present(snapshot.session)
    return Notice(
        name="pouring",
        head=str(step.kind),
        corner=_place(snapshot.session),
        big=countdown(snapshot),
        lines=(
            "POUR IN",
            _below(
                snapshot,
                (wording.title(step), *_time(snapshot), *AT_THE_POUR.get(step.kind, ())),
            ),
        ),
        band=True,
        progress=progress(snapshot),
    )


def running(snapshot: Snapshot) -> Notice:
    """The step runs: what to do now, what comes next."""
    session = snapshot.session
    step = _present(session)
    return Notice(
        name="agitating" if session.agitating else "running",
        head=str(step.kind),
        corner=_place(session),
        big=countdown(snapshot),
        lines=(_agitation(snapshot, step), _below(snapshot, _next(snapshot, step))),
        band=session.agitating,
        progress=progress(snapshot),
    )


def draining(snapshot: Snapshot) -> Notice:
    """The last seconds of a step: the tank is emptied."""
    step = _present(snapshot.session)
    return Notice(
        name="draining",
        head=str(step.kind),
        corner=_place(snapshot.session),
        big=countdown(snapshot),
        lines=("POUR OUT", _below(snapshot, (wording.afterwards(step) or wording.title(step),))),
        band=True,
        progress=progress(snapshot),
        inverted=True,
    )


def handover(snapshot: Snapshot) -> Notice:
    """The step is over: the next solution goes in now."""
    session = snapshot.session
    following = session.following
    hang = following is not None and following.kind is StepKind.HANG
    return Notice(
        name="handover",
        head="hang now" if hang else "pour in now",
        corner=countdown(snapshot),
        big="film" if hang or following is None else wording.title(following),
        lines=("PRESS NOW", _below(snapshot, (telling.pressed_when(following),))),
        band=True,
        inverted=True,
    )


def late(snapshot: Snapshot) -> Notice:
    """The next solution should be in: the time over the planned end counts up.

    Light and dark change each second, for those who do not hear the tone.
    """
    left = snapshot.session.remaining(snapshot.now) or 0.0
    following = snapshot.session.following
    hang = following is not None and following.kind is StepKind.HANG
    return Notice(
        name="late",
        head="LATE",
        corner="the film" if following is None or hang else wording.title(following),
        big=f"+{clock_text(max(0.0, -left))}",
        lines=(
            "HANG NOW" if hang else "POUR IN NOW",
            _below(snapshot, (telling.pressed_when(following), _place(snapshot.session))),
        ),
        band=True,
        inverted=int(snapshot.now) % 2 == 0,
    )


def _present(session: Session) -> Step:
    step = session.present
    assert step is not None  # noqa: S101  # these states have a step, by the machine's table
    return step


def _place(session: Session) -> str:
    """Which of the sheet's steps this is, tempering and hanging left out."""
    assert session.sheet is not None  # noqa: S101  # as above
    return f"{session.step} of {len(session.sheet.step) - 2}"


def _agitation(snapshot: Snapshot, step: Step) -> str:
    session = snapshot.session
    gentle = " GENTLY" if step.agitation.gentle else ""
    upcoming = _upcoming(snapshot)
    if session.agitating:
        stop = next(
            (at for kind, at in upcoming if kind in {Kind.REST, Kind.DRAIN_DUE}), snapshot.now
        )
        if step.agitation.pattern is Pattern.CONTINUOUS:
            return f"AGITATE{gentle}"
        return f"AGITATE{gentle} {down_text(stop - snapshot.now)}"
    start = next((at for kind, at in upcoming if kind is Kind.AGITATE), None)
    if start is not None:
        return f"rest, agitate in {down_text(start - snapshot.now)}"
    drain = next((at for kind, at in upcoming if kind is Kind.DRAIN_DUE), None)
    return "rest" if drain is None else f"rest, pour out in {down_text(drain - snapshot.now)}"


def _upcoming(snapshot: Snapshot) -> list[tuple[Kind, float]]:
    session = snapshot.session
    began = session.began or 0.0
    entries = schedule.of_step(_present(session))[session.cursor :]
    return [(entry.kind, began + entry.offset_seconds) for entry in entries]


def _next(snapshot: Snapshot, step: Step) -> tuple[str, ...]:
    following = snapshot.session.following
    preparing = step.prepare is not None and all(
        kind is not Kind.PREPARE for kind, _ in _upcoming(snapshot)
    )
    if preparing and step.prepare is not None:
        return (step.prepare,)
    then = "" if following is None else wording.title(following)
    return (f"then {then}", *_time(snapshot), *IN_THE_STEP.get(step.kind, ()), *step.cautions)


def _time(snapshot: Snapshot) -> tuple[str, ...]:
    """What is to be said of a developing time that is not the sheet's own."""
    session = snapshot.session
    step = _present(session)
    if step.kind is not StepKind.DEVELOP or step.seconds is None:
        return ()
    texts: list[str] = []
    at = "this developer"
    if session.poured_celsius is not None:
        at = wording.temperature(session.poured_celsius, fahrenheit=snapshot.fahrenheit)
    if session.no_time_reason is not None:
        reason = wording.briefly(session.no_time_reason, fahrenheit=snapshot.fahrenheit)
        amounts = wording.overdevelops(step.development, session.poured_celsius)
        texts += [f"no time for {at}", "the nominal time runs", *amounts, reason]
    elif "end-moved" in session.flags:
        texts.append(f"end moved: {clock_text(step.seconds)} in all")
    elif session.adjusted:
        texts.append(f"time for {at}")
    law, sheet = step.development, session.sheet
    if (
        sheet is not None
        and end_follows(sheet, room_measured=True)
        and not end_follows(sheet, room_measured=snapshot.room_measured)
    ):
        texts.append("room unset: end stays")
    if law is not None and step.seconds - step.fill_seconds < law.short_seconds:
        texts.append(f"under {clock_text(law.short_seconds)}: pour evenly")
    return tuple(texts)


def _below(snapshot: Snapshot, texts: tuple[str, ...]) -> str:
    """The second line by turns; a probe's trouble has one, because timing goes on without it."""
    trouble = next(iter(snapshot.troubles.values()), None)
    texts = (*texts, *snapshot.bell, *snapshot.signs)
    if trouble in wording.CONDITIONS:
        texts = (wording.CONDITIONS[trouble][0], *texts)
    return wording.page(texts, snapshot.now - (snapshot.session.began or snapshot.now))
