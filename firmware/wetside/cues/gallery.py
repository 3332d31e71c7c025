"""One snapshot for every screen, for people to look at and for tests to measure. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from wetside.cues import gallery_chemistry, gallery_desk, wording
from wetside.cues.desknotes import DeskNotes
from wetside.cues.posing import NOWHERE, Scene, begun, outlook_off, run_until, turned
from wetside.cues.snapshot import Snapshot
from wetside.outlook import Outlook, Quantiles, Temperature
from wetside.readings import Condition, Place
from wetside.session import machine
from wetside.session.events import Event, Kind
from wetside.session.run import Session
from wetside.session.sheet import Sheet, StepKind
from wetside.session.signals import Cue, CueName
from wetside.session.telling import cue_values

__all__ = ["MESSAGES", "Scene", "run_until", "scenes"]


def scenes(sheet: Sheet, *, fahrenheit: bool = False) -> tuple[Scene, ...]:
    """Every screen, with this sheet."""
    made = [*_before(sheet), *_bath(sheet), *_steps(sheet), *_after(sheet), *_messages(sheet)]
    made += [*gallery_chemistry.developer(sheet), *gallery_chemistry.bell(sheet)]
    return tuple(
        replace(scene, snapshot=replace(scene.snapshot, corrected=True, fahrenheit=fahrenheit))
        for scene in made
    )


def _before(sheet: Sheet) -> list[Scene]:
    room = Outlook(0.0, None, Temperature(21.4, 0.1), NOWHERE, NOWHERE, 0.0)
    idle = Snapshot(
        now=0.0,
        session=Session(),
        outlook=room,
        places={"probe": Place.AIR},
        offered=sheet,
        desk=DeskNotes(address=gallery_desk.ADDRESS),
    )
    return [
        Scene("idle", "Nothing runs; a press of now begins this sheet.", idle),
        Scene("idle-no-sheet", "There is no sheet to begin.", replace(idle, offered=None)),
        Scene("dark", "Lights out: nothing is shown or lit.", replace(idle, lights_out=True)),
    ]


def _bath(sheet: Sheet) -> list[Scene]:
    tempering = Snapshot(
        now=120.0,
        session=begun(sheet),
        places={"probe": Place.BATH},
        offered=sheet,
        corrected=True,
    )
    in_developer = {"probe": Place.DEVELOPER}
    warm = outlook_off(sheet, 2.3, -0.6, Quantiles(96.0, 118.0, 151.0), sd=0.05)
    hidden = outlook_off(sheet, -1.4, 0.2, Quantiles(310.0, 420.0, 640.0), sd=0.25)
    unsure = outlook_off(sheet, -0.2, 0.4, Quantiles(0.0, 0.0, 310.0), sd=0.4)
    stuck = outlook_off(sheet, -1.9, -1.5, NOWHERE, never=0.93)
    hot = outlook_off(sheet, 3.1, 2.5, NOWHERE, never=0.97)
    ready = replace(tempering, session=begun(sheet, Kind.ENTERED), now=95.0, places=in_developer)
    inside = Quantiles(0.0, 0.0, 0.0)
    counts = outlook_off(sheet, 0.12, -0.6, inside, Quantiles(148.0, 190.0, 260.0))
    closes = outlook_off(sheet, -0.16, -0.6, inside, Quantiles(38.0, 52.0, 75.0))
    stays = outlook_off(sheet, 0.05, 0.02, inside)
    trouble = {"probe": Condition.VANISHED}
    return [
        Scene("tempering-first", "Begun; the developer was not touched yet.", tempering),
        Scene(
            "tempering-developer",
            "The probe is in the developer.",
            replace(tempering, outlook=warm, places=in_developer),
        ),
        Scene(
            "tempering-unsure",
            "The developer may be ready by now, and only a dip can tell.",
            replace(tempering, outlook=unsure, only_a_dip_tells=True),
        ),
        Scene(
            "tempering-unplaced",
            "Nobody told a dip yet; the developer is only guessed.",
            turned(
                replace(tempering, outlook=warm, places={"probe": Place.UNKNOWN}, dip_asked=True),
                "dip the probe",
            ),
        ),
        Scene(
            "tempering-still",
            "After a new start: a probe may have left the developer meanwhile.",
            turned(
                replace(tempering, outlook=warm, places=in_developer, dip_asked=True),
                "still in developer?",
            ),
        ),
        Scene(
            "tempering-bath",
            "The probe is in the bath, the developer is inferred.",
            replace(tempering, outlook=hidden),
        ),
        Scene("tempering-cold", "The bath is too cold.", replace(tempering, outlook=stuck)),
        Scene("tempering-hot", "The bath is too warm.", replace(tempering, outlook=hot)),
        Scene(
            "tempering-trouble",
            "The probe was unplugged; the last belief stands.",
            replace(tempering, outlook=hidden, troubles=trouble),
        ),
        Scene("ready", "Inside the window, which counts down.", replace(ready, outlook=counts)),
        Scene(
            "ready-closing",
            "Inside the window, which ends soon.",
            turned(replace(ready, outlook=closes), "soon out of"),
        ),
        Scene("ready-stays", "Inside the window, and it stays.", replace(ready, outlook=stays)),
    ]


def _scene_at(sheet: Sheet, name: str, caption: str, step: int, offset: float) -> Scene:
    session, now = run_until(sheet, step, offset)
    return Scene(name, caption, Snapshot(now=now, session=session, offered=sheet))


def _steps(sheet: Sheet) -> list[Scene]:
    develop = sheet.step[1]
    seconds = develop.seconds or 0.0
    made = [
        _scene_at(sheet, "pouring", "The developer goes in.", 1, 3.0),
        _scene_at(sheet, "agitating", "The tank is moved.", 1, develop.fill_seconds + 12.0),
        _scene_at(sheet, "running", "The tank rests.", 1, 93.0),
        _scene_at(sheet, "running-prepare", "The next bath is set out.", 1, seconds - 44.0),
        _scene_at(sheet, "draining", "The tank is emptied.", 1, seconds - 6.0),
        _scene_at(sheet, "handover", "The next bath goes in.", 1, seconds + 2.0),
        _scene_at(sheet, "late", "Nobody pressed in time.", 1, seconds + 24.0),
        _scene_at(sheet, "late-dark", "The same a second later.", 1, seconds + 25.0),
        _scene_at(sheet, "continuous", "The tank is moved all the time.", 2, 20.0),
    ]
    last = len(sheet.step) - 2
    wet = sheet.step[last]
    made.append(
        _scene_at(sheet, "hang", "The film is taken out and hung.", last, (wet.seconds or 0) + 2.0)
    )
    running = next(scene for scene in made if scene.name == "running")
    lost = replace(running.snapshot, troubles={"bus": Condition.BUS_GONE}, now=397.0)
    made.append(
        Scene(
            "running-trouble", "No probe answers; timing goes on.", turned(lost, "no probe answers")
        )
    )
    return made


def _after(sheet: Sheet) -> list[Scene]:
    wash = next(index for index, step in enumerate(sheet.step) if step.kind is StepKind.WASH)
    session, now = run_until(sheet, wash, 25.0)
    held, _ = machine.receive(session, Event(Kind.HOLD, now))
    developing, at = run_until(sheet, 1, 200.0)
    lost, _ = machine.receive(
        developing, Event(Kind.POWER_LOST, at, {"gap": "off for 2:31", "shift_seconds": 0})
    )
    given_up, _ = machine.receive(developing, Event(Kind.ABANDON, at))
    last = len(sheet.step) - 2
    end = sheet.step[last].seconds or 0.0
    wet, hung_at = run_until(sheet, last, end + 4.0)
    done, _ = machine.receive(wet, Event(Kind.NOW, hung_at))
    finished = Snapshot(now=hung_at, session=done, offered=sheet)
    idle = Snapshot(now=0.0, session=Session(), offered=sheet)
    return [
        Scene("holding", "Somebody asked it to wait.", Snapshot(now=now + 75.0, session=held)),
        Scene("interrupted", "Power was lost.", Snapshot(now=2 * (at // 2) + 1.0, session=lost)),
        Scene("finished", "The film hangs.", finished),
        Scene("finished-2", "Four seconds later.", replace(finished, now=hung_at + 4.0)),
        Scene("finished-3", "And later.", replace(finished, now=hung_at + 8.0)),
        Scene("abandoned", "The run was given up.", Snapshot(now=at, session=given_up)),
        *gallery_desk.desk(idle, finished),
    ]


def _messages(sheet: Sheet) -> list[Scene]:
    tempering, running = begun(sheet), run_until(sheet, 1, 93.0)
    made = []
    for name, caption, values in MESSAGES:
        in_bath = name in _IN_BATH
        session, now = (tempering, 120.0) if in_bath else running
        cue = Cue(name, now, {**cue_values(session, session), **values})
        made.append(
            Scene(f"message-{name}", caption, Snapshot(now=now, session=session, message=cue))
        )
    return made


_IN_BATH = frozenset(
    {
        CueName.READY_SOON,
        CueName.WINDOW_LEFT,
        CueName.WILL_NOT_REACH,
        CueName.CHECK_DIP_ADVISED,
    }
)

#: Cues whose words stand over the screen for a while, with values that the station adds.
MESSAGES: Sequence[tuple[CueName, str, dict[str, str]]] = (
    (CueName.READY_SOON, "The window comes near.", {}),
    (CueName.WINDOW_LEFT, "The window has ended.", {}),
    (CueName.WILL_NOT_REACH, "The bath needs help.", {"advice": "add 0.6 L hot water"}),
    (CueName.CHECK_DIP_ADVISED, "A check dip is worth it.", {}),
    (
        CueName.END_MOVED,
        "The tank's temperature moves the end of developing.",
        {"change": "0:12 shorter", "total": "6:58"},
    ),
    (CueName.PREPARE_NEXT, "Time to set out the next bath.", {}),
    (CueName.RESUMED, "The run goes on.", {}),
    (CueName.REFUSED, "A press that means nothing now.", {"reason": "hold now to end early"}),
    (
        CueName.GIVE_UP_ASKED,
        "Wait was held where nothing can wait, or where the roll stands already.",
        {"why": "this cannot wait"},
    ),
    (
        CueName.END_ASKED,
        "Now was held while a solution works on the film.",
        {"why": "develop: 5:37 to go"},
    ),
    (CueName.PROBE_LOST, "A probe gives no reading.", wording.lost(Condition.VANISHED)),
    (CueName.PROBE_BACK, "A probe reads again.", {}),
    (CueName.JOURNAL_FAILING, "The run is not being kept.", {}),
)
