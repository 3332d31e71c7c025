"""Sessions and outlooks posed for the gallery and for tests. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

from wetside.cues.snapshot import Snapshot
from wetside.cues.view import view
from wetside.cues.wording import PAGE_SECONDS
from wetside.outlook import Outlook, Quantiles, Temperature
from wetside.session import machine
from wetside.session.events import Event, Kind
from wetside.session.run import Session
from wetside.session.sheet import Sheet

#: No time at all.
NOWHERE = Quantiles(None, None, None)


@dataclass(frozen=True, slots=True)
class Scene:
    """A screen with its file name and a sentence that says when it stands there."""

    name: str
    caption: str
    snapshot: Snapshot


def run_until(sheet: Sheet, step: int, offset: float) -> tuple[Session, float]:
    """A session in step ``step`` (1 = develop) at ``offset`` seconds from its start, and now.

    Every step before was on time; tempering took 300 s.
    """
    session = machine.fold(
        [
            Event(Kind.BEGIN, 0.0, {"sheet": sheet.model_dump(mode="json"), "run": "gallery"}),
            Event(Kind.ENTERED, 280.0),
            Event(Kind.NOW, 300.0, {"developer_celsius": sheet.temper.celsius}),
        ]
    )
    now = 300.0
    for index in range(1, step):
        seconds = sheet.step[index].seconds
        assert seconds is not None  # noqa: S101  # only temper and hang have none, by the model
        now += seconds
        session = walked(session, now)
        session, _ = machine.receive(session, Event(Kind.NOW, now))
    return walked(session, now + offset), now + offset


def turned(snapshot: Snapshot, words: str) -> Snapshot:
    """The snapshot at the turn of its pages that shows these words."""
    turns = (replace(snapshot, now=snapshot.now + PAGE_SECONDS * turn) for turn in range(12))
    return next((one for one in turns if words in view(one).text()), snapshot)


def walked(session: Session, now: float) -> Session:
    """The session after every event of the clock up to now."""
    while (event := machine.due(session, now)) is not None:
        session, _ = machine.receive(session, event)
    return session


def begun(sheet: Sheet, *kinds: Kind) -> Session:
    """A session in which tempering has begun, and these events came a minute later."""
    begin = Event(Kind.BEGIN, 0.0, {"sheet": sheet.model_dump(mode="json"), "run": "gallery"})
    return machine.fold([begin, *(Event(kind, 60.0 + index) for index, kind in enumerate(kinds))])


def outlook_off(
    sheet: Sheet,
    off: float,
    bath_off: float,
    ready: Quantiles,
    leaves: Quantiles = NOWHERE,
    *,
    never: float = 0.02,
    sd: float = 0.06,
) -> Outlook:
    """An outlook with developer and bath so many degrees off the sheet's target."""
    target = sheet.temper.celsius or 0.0
    return Outlook(
        seconds=120.0,
        developer=Temperature(target + off, sd),
        bath=Temperature(target + bath_off, 0.05),
        ready_in=ready,
        leaves_in=leaves,
        never=never,
    )
