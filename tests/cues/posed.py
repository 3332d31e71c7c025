"""Screens and moments that several tests of the display look at."""

from __future__ import annotations

from dataclasses import replace

from wetside.cues import gallery
from wetside.cues.snapshot import Snapshot
from wetside.cues.view import view
from wetside.outlook import Outlook, Quantiles, Temperature
from wetside.session import machine
from wetside.session import sheet as sheets
from wetside.session.events import Event, Kind
from wetside.session.sheet import Sheet

SHEETS = [sheets.load(path) for path in sheets.available([sheets.shipped_folder()])]
ONE_REEL = next(sheet for sheet in SHEETS if sheet.name == "one reel 20")
SCENES = {scene.name: scene for scene in gallery.scenes(ONE_REEL)}
NOWHERE = Quantiles(None, None, None)


def text(scene: str) -> str:
    """All words of a scene's screen."""
    return view(SCENES[scene].snapshot).text()


def running(offset: float, step: int = 1, sheet: Sheet = ONE_REEL) -> Snapshot:
    """A step so many seconds after its pour."""
    session, now = gallery.run_until(sheet, step, offset)
    return Snapshot(now=now, session=session)


def outlook(
    celsius: float = 21.0,
    sd: float = 0.05,
    ready: Quantiles = NOWHERE,
    leaves: Quantiles = NOWHERE,
    never: float = 0.0,
    bath: float = 20.0,
) -> Outlook:
    """What the forecast says, as far as a test asks for it."""
    return Outlook(0.0, Temperature(celsius, sd), Temperature(bath, 0.1), ready, leaves, never)


def tempering(given: Outlook | None, **changes: object) -> Snapshot:
    """The probe in the developer, and this forecast."""
    snapshot = SCENES["tempering-developer"].snapshot
    return replace(snapshot, outlook=given, **changes)  # type: ignore[arg-type]


def finished(poured: float, *, inside: bool = True) -> list[str]:
    """The screens by turns of a roll that hangs, poured at so many degrees."""
    wet = len(ONE_REEL.step) - 2
    session, now = gallery.run_until(ONE_REEL, wet, 74.0)
    session = replace(session, poured_celsius=poured, in_window=inside)
    session, _ = machine.receive(session, Event(Kind.NOW, now))
    snapshot = Snapshot(now=now, session=session)
    return [view(replace(snapshot, now=now + 4 * n)).text() for n in range(12)]
