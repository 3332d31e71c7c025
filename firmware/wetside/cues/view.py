"""Which screen stands on the display now. Pure: a snapshot in, a notice out.

Order of precedence: lights out, a message that may stand over the screen, a note of
the desk, the screen of the run's state. While a step is timed its countdown is on every screen.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from wetside.cues import between, catalogue, choosing, inviting, stepping, tempering
from wetside.cues.lettering import wrap
from wetside.cues.notice import Notice
from wetside.cues.panels import ROOM
from wetside.cues.snapshot import Snapshot
from wetside.session.run import State
from wetside.session.signals import Cue, CueName

_SCREENS: Mapping[State, Callable[[Snapshot], Notice]] = {
    State.IDLE: between.idle,
    State.TEMPERING: tempering.tempering,
    State.READY: tempering.ready,
    State.POURING: stepping.pouring,
    State.RUNNING: stepping.running,
    State.DRAINING: stepping.draining,
    State.HANDOVER: stepping.handover,
    State.LATE: stepping.late,
    State.HOLDING: between.holding,
    State.INTERRUPTED: between.interrupted,
    State.FINISHED: between.finished,
    State.ABANDONED: between.abandoned,
}

#: States whose screen is an order.
_ORDERS = frozenset({State.READY, State.POURING, State.DRAINING, State.HANDOVER, State.LATE})


def view(snapshot: Snapshot) -> Notice:
    """What stands on the display at the moment of the snapshot."""
    if snapshot.lights_out:
        return Notice("dark", blank=True)
    message = snapshot.message
    if message is not None and message.name is CueName.CHOICE:
        # what it offers changes while it stands, and is gone once the developer is ready
        if snapshot.session.state is State.TEMPERING and snapshot.choice is not None:
            return choosing.choosing(snapshot, snapshot.choice, message)
    elif message is not None and _stands_over(snapshot, message):
        return _message(snapshot, message)
    return inviting.instead(snapshot) or _SCREENS[snapshot.session.state](snapshot)


def _stands_over(snapshot: Snapshot, cue: Cue) -> bool:
    """Whether the words of a cue may cover the screen of the state.

    An order to pour, move or empty the tank is never covered, save by the answer to a press. The
    troubles that come as messages stand on the second line of those screens too.
    """
    session = snapshot.session
    ordered = session.agitating or session.state in _ORDERS
    return catalogue.row(cue.name).show_seconds > 0 and (
        not ordered or cue.name in catalogue.ANSWERS
    )


def _message(snapshot: Snapshot, cue: Cue) -> Notice:
    said = catalogue.words(cue)
    lines: list[str] = []
    for line in said.lines:
        lines.extend(wrap(line, ROOM))
    urgent = catalogue.row(cue.name).urgency is catalogue.Urgency.ALARM
    return Notice(
        name="refused" if cue.name is CueName.REFUSED else f"message-{cue.name}",
        head=said.head,
        corner=stepping.countdown(snapshot),
        big=said.big,
        lines=tuple(lines[:3]),
        progress=stepping.progress(snapshot),
        inverted=urgent,
    )
