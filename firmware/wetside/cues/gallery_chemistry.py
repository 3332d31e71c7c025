"""Screens of the developing law and of the bell, posed. Pure."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time

from wetside.cues.posing import NOWHERE, Scene, begun, outlook_off, run_until, turned, walked
from wetside.cues.snapshot import Snapshot
from wetside.development.baths import Bath, too_large
from wetside.development.bells import Bells, Period, Weekday
from wetside.development.deadline import NEW_STUDENTS
from wetside.outlook import Outlook, Quantiles
from wetside.readings import Place
from wetside.session import bell as bells
from wetside.session import machine
from wetside.session.chemistry import choice_of, pour_detail
from wetside.session.events import Event, Json, Kind
from wetside.session.run import Session
from wetside.session.sheet import Sheet, StepKind
from wetside.session.signals import Cue, CueName

#: An invented period; Monday, 6 October 2031.
_DAY = datetime(2031, 10, 6)  # noqa: DTZ001  # bell tables have no time zone
_BELLS = Bells(
    format=1,
    period=(Period(name="3", days=(Weekday.MONDAY,), starts=time(9, 30), ends=time(10, 50)),),
)


def developer(sheet: Sheet) -> list[Scene]:
    """The choice, adjusted times, and what the step amounted to; none without a law."""
    if sheet.develop.development is None:
        return []
    warm = outlook_off(sheet, 0.9, -0.6, Quantiles(150.0, 195.0, 260.0), sd=0.08)
    hot = outlook_off(sheet, 7.3, -0.6, Quantiles(900.0, 1205.0, 1800.0), sd=0.2)
    stuck = outlook_off(sheet, -0.8, -0.9, NOWHERE, never=0.9, sd=0.3)
    adjusted, refused = _poured(sheet, warm, 93.0), _poured(sheet, hot, 93.0)
    moved, _ = machine.receive(
        run_until(sheet, 1, 93.0)[0],
        Event(Kind.END_MOVED, 393.0, {"develop_seconds": (sheet.develop.seconds or 0.0) - 12.0}),
    )
    return [
        _asked(sheet, "message-wait-or-pour", "Pressed too early: wait, or pour now?", warm),
        _asked(sheet, "choice-refused", "No time is given for a developer so far off.", hot),
        _asked(sheet, "choice-stuck", "The bath will not bring it there.", stuck),
        Scene(
            "pouring-adjusted",
            "Poured before the window, with the time for this developer.",
            Snapshot(now=304.5, session=_poured(sheet, warm, 4.5), offered=sheet),
        ),
        Scene(
            "running-adjusted",
            "The adjusted time runs.",
            turned(Snapshot(now=396.5, session=adjusted, offered=sheet), "time for"),
        ),
        Scene(
            "running-no-time",
            "Poured where the law gives no time.",
            turned(Snapshot(now=396.5, session=refused, offered=sheet), "no time for"),
        ),
        Scene(
            "running-end-moved",
            "The end follows the tank's temperature.",
            turned(Snapshot(now=396.5, session=moved, offered=sheet), "end moved"),
        ),
        Scene("finished-effective", "What the development amounted to.", _finished(sheet)),
        Scene("tempering-wide-step", "Two baths of the sheet lie too far apart.", _wide(sheet)),
    ]


def _asked(sheet: Sheet, name: str, caption: str, outlook: Outlook) -> Scene:
    cue = Cue(CueName.CHOICE, 120.0)
    return Scene(
        name,
        caption,
        Snapshot(
            now=120.0,
            session=begun(sheet),
            outlook=outlook,
            places={"probe": Place.DEVELOPER},
            message=cue,
            offered=sheet,
            choice=choice_of(sheet, outlook),
        ),
    )


def _poured(sheet: Sheet, outlook: Outlook, offset: float) -> Session:
    now = Event(Kind.NOW, 300.0, pour_detail(sheet, outlook, inside=False))
    session, _ = machine.receive(begun(sheet), now)
    return walked(session, 300.0 + offset)


def _finished(sheet: Sheet) -> Snapshot:
    last = len(sheet.step) - 2
    end = sheet.step[last].seconds or 0.0
    session, now = run_until(sheet, last, end + 4.0)
    effect: dict[str, Json] = {
        "percent": 94.2,
        "low": 92.1,
        "high": 96.3,
        "text": "94 % of nominal (92-96)",
    }
    session, _ = machine.receive(session, Event(Kind.DEVELOPED, now, effect))
    session, _ = machine.receive(session, Event(Kind.NOW, now))
    return Snapshot(now=now + 4.0, session=session, offered=sheet)


def _wide(sheet: Sheet) -> Snapshot:
    session = begun(sheet)
    target = sheet.temper.celsius or 0.0
    outlook = outlook_off(sheet, 0.9, -0.6, Quantiles(150.0, 195.0, 260.0))
    steps = too_large(target, [Bath("fix", target), Bath("wash", target - 8.0)])
    began = session.began or 0.0
    return Snapshot(
        now=began + 4.0,
        session=session,
        outlook=outlook,
        places={"probe": Place.BATH},
        wide_steps=steps,
    )


def bell(sheet: Sheet) -> list[Scene]:
    """What is said of the bell before a run and within one."""
    idle = Snapshot(now=0.0, session=Session(), offered=sheet)
    wash = next(i for i, step in enumerate(sheet.step) if step.kind is StepKind.WASH)
    washing, developing = run_until(sheet, wash, 25.0), run_until(sheet, 1, 200.0)
    made = [
        Scene("idle-bell", "A run begun by then hangs before the bell.", _with(idle, 10, 2)),
        Scene("idle-bell-late", "Too late to hang, early enough for water.", _with(idle, 10, 25)),
    ]
    for name, caption, (session, now) in (
        ("running-bell", "This step cannot be left at the bell.", developing),
        ("running-bell-wash", "The wash may stand through the bell.", washing),
    ):
        snapshot = Snapshot(now=now, session=session, offered=sheet)
        made.append(Scene(name, caption, turned(_with(snapshot, 10, 48), "bell 10:50")))
    return made


def _with(snapshot: Snapshot, hour: int, minute: int) -> Snapshot:
    """The snapshot at this time of an invented Monday, at the moment its bell line stands."""
    now = _DAY.replace(hour=hour, minute=minute)
    said = bells.look(
        _BELLS, now, NEW_STUDENTS, snapshot.session, snapshot.offered, None, snapshot.now
    )
    return replace(snapshot, bell=said.lines)
