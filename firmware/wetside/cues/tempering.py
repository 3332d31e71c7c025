"""Screens of the tempering bath: on the way, and inside the window. Pure."""

from __future__ import annotations

from wetside.cues import wording
from wetside.cues.notice import Gauge, Notice
from wetside.cues.snapshot import Snapshot
from wetside.outlook import Outlook, Temperature
from wetside.readings import Place
from wetside.session.sheet import Step
from wetside.session.window import CLOSING_SECONDS

#: The gauge shows so many tolerances to each side of the target.
GAUGE_TOLERANCES = 8.0

#: From this probability on it is said that the bath needs help.
NEVER_SHOWN = 0.5

_DIP = ("dip the probe into the", "developer; press probe")
#: It was in the developer before a time in which nobody could be heard.
_STILL = ("still in developer?", "press probe twice")


def tempering(snapshot: Snapshot) -> Notice:
    """Where the developer is, when it will be ready, what to do."""
    step = _temper(snapshot)
    outlook = snapshot.outlook
    developer = outlook.developer if outlook else None
    assert step.celsius is not None  # noqa: S101  # a temper step has a target, checked on loading
    target = wording.temperature(step.celsius, fahrenheit=snapshot.fahrenheit)
    head = f"to {target}"
    lines = (
        wording.page(_advice(snapshot, outlook), snapshot.now - (snapshot.session.began or 0.0)),
    )
    if outlook is None or developer is None:
        seen = bool(snapshot.places) and not snapshot.troubles
        return Notice(
            name="tempering",
            head=head,
            corner=_where(snapshot),
            big="DIP" if seen else "WAIT",
            lines=_DIP if seen else lines,
        )
    unsure = snapshot.only_a_dip_tells
    return Notice(
        name="tempering",
        head=head,
        corner=_where(snapshot),
        big=wording.degrees(developer.celsius, fahrenheit=snapshot.fahrenheit),
        beside=_promised(developer, snapshot),
        aside_label="in" if outlook.ready_in.p50 is not None and not unsure else "",
        aside="DIP" if unsure else _ready_in(outlook),
        lines=lines,
        gauge=_gauge(step, developer, outlook.bath),
    )


def ready(snapshot: Snapshot) -> Notice:
    """Inside the window: the time that it stays there almost surely (5 % quantile) counts down.

    Once that is short the screen says that the window closes, whether it was called or not yet.
    """
    outlook = snapshot.outlook
    developer = outlook.developer if outlook else None
    leaves = outlook.leaves_in.p05 if outlook else None
    session = snapshot.session
    corner = ""
    if developer is not None:
        corner = wording.temperature(developer.celsius, fahrenheit=snapshot.fahrenheit)
    head, soon = "ready", ""
    if leaves is not None and leaves <= CLOSING_SECONDS:
        head, soon = "closes in", "soon out of tolerance"
    elif leaves is not None:
        head = "ready for"
    progress = None
    if leaves is not None and session.window_entered is not None:
        passed = max(0.0, snapshot.now - session.window_entered)
        progress = passed / (passed + leaves) if passed + leaves > 0 else 1.0
    return Notice(
        name="ready",
        head=head,
        corner=corner,
        big="READY" if leaves is None else wording.wait_text(leaves),
        lines=(
            "POUR NOW",
            wording.page(
                (
                    *_troubles(snapshot),
                    "press now as you pour",
                    *((soon,) if soon else ()),
                    *snapshot.bell,
                    "gloves on",
                    *snapshot.signs,
                ),
                snapshot.now - (session.window_entered or 0.0),
            ),
        ),
        band=True,
        progress=progress,
    )


def _temper(snapshot: Snapshot) -> Step:
    assert snapshot.session.sheet is not None  # noqa: S101  # these states have a sheet
    return snapshot.session.sheet.temper


def _where(snapshot: Snapshot) -> str:
    places = {place for place in snapshot.places.values() if place is not Place.UNKNOWN}
    if {Place.DEVELOPER, Place.BATH} <= places:
        return "two probes"
    for place, text in (
        (Place.DEVELOPER, "in developer"),
        (Place.BATH, "in bath"),
        (Place.AIR, "in air"),
    ):
        if place in places:
            return text
    return "where?" if snapshot.places else "no probe"


def _promised(developer: Temperature, snapshot: Snapshot) -> str:
    promised = wording.half_width(developer)
    text = wording.plus_minus(promised, fahrenheit=snapshot.fahrenheit)
    return f"{text} {wording.unit(fahrenheit=snapshot.fahrenheit)}"


def _ready_in(outlook: Outlook) -> str:
    if outlook.ready_in.p50 is None:
        return "never" if outlook.never > NEVER_SHOWN else "> 1 h"
    return wording.wait_text(outlook.ready_in.p50)


def _troubles(snapshot: Snapshot) -> tuple[str, ...]:
    return tuple(
        text
        for condition in list(snapshot.troubles.values())[:1]
        if condition in wording.CONDITIONS
        for text in wording.CONDITIONS[condition]
    )


def _advice(snapshot: Snapshot, outlook: Outlook | None) -> tuple[str, ...]:
    """What to do about it, most pressing first; the interval of the wait in between."""
    troubles = _troubles(snapshot)
    if troubles:
        return troubles
    if outlook is None or outlook.developer is None:
        return ("waiting for the probe",)
    ask = () if snapshot.choice is None else ("now: wait or pour?",)
    dip = _asked(snapshot)
    if snapshot.only_a_dip_tells:
        return ("it may be ready now:", *(dip or _DIP), *ask)
    if outlook.never > NEVER_SHOWN:
        help_lines = snapshot.advice or _help(_temper(snapshot), outlook)
        return (*dip, *help_lines, *ask, *snapshot.bell)
    ready_in = outlook.ready_in
    span = wording.span_text(ready_in.p05, ready_in.p95)
    texts = [span if ready_in.p05 is None else f"ready {span}"]
    if Place.AIR in snapshot.places.values():
        texts.insert(0, "probe into the bath")
    texts += wording.unpromised(snapshot, _temper(snapshot).tolerance_celsius)
    texts.extend(snapshot.advice)
    said = (*dip, *texts, *ask, *snapshot.bell, *_wide(snapshot))
    return (*said, *_temper(snapshot).cautions, *snapshot.signs)


def _asked(snapshot: Snapshot) -> tuple[str, ...]:
    """What has to be said of the probe before anything is called ready; nothing if it was."""
    if not snapshot.dip_asked:
        return ()
    return _STILL if Place.DEVELOPER in snapshot.places.values() else _DIP


def _wide(snapshot: Snapshot) -> tuple[str, ...]:
    """Steps of temperature in the sheet itself that may wrinkle the emulsion."""
    texts: list[str] = []
    for step in snapshot.wide_steps:
        off = wording.difference(abs(step.degrees), fahrenheit=snapshot.fahrenheit)
        texts += [f"{step.to_kind} is {off} off {step.from_kind}", "the film may wrinkle"]
    return tuple(texts)


def _help(step: Step, outlook: Outlook) -> tuple[str, ...]:
    assert step.celsius is not None  # noqa: S101  # a temper step has a target, checked on loading
    if outlook.bath is None:
        return ("will not get there so",)
    if outlook.bath.celsius < step.celsius:
        return ("add warm water to bath",)
    # US Army SS0509-8 p. 14: ice in the solution dilutes it
    return ("cool the bath", "ice in the bath only")


def _gauge(step: Step, developer: Temperature, bath: Temperature | None) -> Gauge:
    assert step.celsius is not None  # noqa: S101  # a temper step has a target, checked on loading
    assert step.tolerance_celsius is not None  # noqa: S101  # the same
    target, tolerance = step.celsius, step.tolerance_celsius
    reach = 2 * GAUGE_TOLERANCES * tolerance

    def share(celsius: float) -> float:
        return min(max(0.5 + (celsius - target) / reach, 0.0), 1.0)

    return Gauge(
        low=share(target - tolerance),
        high=share(target + tolerance),
        mark=share(developer.celsius),
        mark_low=share(developer.celsius - 2 * developer.sd),
        mark_high=share(developer.celsius + 2 * developer.sd),
        bath=None if bath is None else share(bath.celsius),
    )
