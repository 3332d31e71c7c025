"""From forecasts to events: the developer is soon ready, in the window, about to leave it.

One forecast never decides alone: what it says must stand for a while, so that noise at the
edge of the window does not make the buzzer chatter.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from wetside.outlook import Outlook, Setup, Temperature
from wetside.session.events import Event, Json, Kind
from wetside.session.run import State

#: The first word comes when half of the forecasts' weight lies within this time.
SOON_SECONDS = 60.0
#: A developer only just inside may as well be outside: READY waits until it is inside by its
#: own uncertainty (at most half the tolerance), or has stood inside for so long.
EDGE_STANDS_SECONDS = 30.0
#: Inside must stand this long before READY is called, outside before the window is left.
STANDS_SECONDS = 2.0
LEFT_STANDS_SECONDS = 4.0
#: The window is closing when it may end (5 %) within this time.
CLOSING_SECONDS = 45.0
#: But READY is heard and stands for so long first: who was just told to pour is on the way.
READY_STANDS_SECONDS = 15.0
#: "Will not get there" must be this likely for this long.
NEVER_PROBABILITY = 0.8
NEVER_STANDS_SECONDS = 20.0
#: And it is not said again before this time has passed.
NEVER_AGAIN_SECONDS = 120.0
#: READY is called only when the developer is known this well, in tolerances (one sd); the
#: probe's own lasting error, which no dip can mend, is not counted.
KNOWN_TOLERANCES = 0.6
#: And only when the probe touched the developer within this time: a pour that cannot be taken
#: back is not called on an inference alone.
MEASURED_WITHIN_SECONDS = 90.0
#: A probe is in the developer now when it touched it so short ago.
MEASURED_NOW_SECONDS = 5.0
#: A check dip is asked for when the developer may be ready and is known less well than that,
#: and not again before this time has passed.
CHECK_DIP_AGAIN_SECONDS = 90.0
#: And one that is only worth the trouble not before this.
WORTHWHILE_DIP_AGAIN_SECONDS = 240.0
#: No check dip is asked for so soon after tempering began: the first dip is still to come.
FIRST_DIP_SECONDS = 60.0


@dataclass(frozen=True, slots=True)
class Watch:
    """What has been seen so far in this run; times are monotonic seconds.

    ``only_a_dip_tells`` says that the developer may be inside the window by now, or past it, and
    no reading says so. Nothing but a dip helps then: not waiting, and not a word about a bath that
    never gets there.
    """

    began: float | None = None
    inside_since: float | None = None
    outside_since: float | None = None
    never_since: float | None = None
    never_said: float | None = None
    ready_since: float | None = None
    dip_said: float | None = None
    soon_said: bool = False
    closing_said: bool = False
    only_a_dip_tells: bool = False


@dataclass(frozen=True, slots=True)
class Seen:
    """What is known beside the outlook.

    ``setup`` with the probe's own error; ``measured_ago`` is how many seconds ago a probe was
    in the developer, 0 while it is, None if it never was; ``dip_worthwhile`` says that a check
    dip would narrow the forecast much; ``doubted`` that a probe may not measure what somebody
    said it does, so that nothing is called ready on it.
    """

    setup: Setup
    measured_ago: float | None = None
    dip_worthwhile: bool = False
    doubted: bool = False


def look(watch: Watch, state: State, outlook: Outlook, seen: Seen) -> tuple[Watch, Event | None]:
    """The next watch, and the event that this outlook gives, if it gives one.

    ``state`` is the session's present state; outside TEMPERING and READY nothing is watched.
    A developer that nobody has measured for long may be anywhere: it is not called ready
    before it is known to ``KNOWN_TOLERANCES`` tolerances; a check dip is asked for instead.
    """
    if state not in {State.TEMPERING, State.READY}:
        return watch, None
    now = outlook.seconds
    inside = outlook.developer is not None and outlook.ready_in.p50 == 0.0
    watch = replace(
        watch,
        began=now if watch.began is None else watch.began,
        inside_since=(watch.inside_since if watch.inside_since is not None else now)
        if inside
        else None,
        outside_since=None
        if inside
        else (watch.outside_since if watch.outside_since is not None else now),
        never_since=(watch.never_since if watch.never_since is not None else now)
        if outlook.never >= NEVER_PROBABILITY
        else None,
        ready_since=(watch.ready_since if watch.ready_since is not None else now)
        if state is State.READY
        else None,
    )
    if state is State.TEMPERING:
        unsure = _only_a_dip_tells(watch, outlook, seen)
        return _tempering(replace(watch, only_a_dip_tells=unsure), outlook, seen)
    return _ready(watch, outlook)


def anew(watch: Watch) -> Watch:
    """The watch after a time in which nothing was watched: what stood then stands no more."""
    return replace(
        watch,
        inside_since=None,
        outside_since=None,
        never_since=None,
        ready_since=None,
        soon_said=False,
        closing_said=False,
        only_a_dip_tells=False,
    )


def _stood(since: float | None, now: float, seconds: float) -> bool:
    return since is not None and now - since >= seconds


def _detail(outlook: Outlook) -> dict[str, Json]:
    return {
        "developer_celsius": round(outlook.developer.celsius, 3) if outlook.developer else None,
        "developer_sd": round(outlook.developer.sd, 3) if outlook.developer else None,
    }


def _is_known(developer: Temperature, setup: Setup, measured_ago: float | None) -> bool:
    if measured_ago is None or measured_ago > MEASURED_WITHIN_SECONDS:
        return False
    mendable = developer.sd**2 - setup.probe_sd_celsius**2
    return mendable <= (KNOWN_TOLERANCES * setup.tolerance_celsius) ** 2


def _only_a_dip_tells(watch: Watch, outlook: Outlook, seen: Seen) -> bool:
    """See `Watch`.

    It begins where no probe is in the developer, the median of the wait is short, and two standard
    deviations around what is believed of the developer meet the window; where it mostly never
    enters any more, one standard deviation. It ends with a reading, or where the median lies
    further ahead.
    """
    developer, setup, ahead = outlook.developer, seen.setup, outlook.ready_in.p50
    if developer is None or _is_known(developer, setup, seen.measured_ago):
        return False
    if seen.measured_ago is not None and seen.measured_ago <= MEASURED_NOW_SECONDS:
        return False
    if ahead is not None and ahead > (SOON_SECONDS if watch.only_a_dip_tells else SOON_SECONDS / 2):
        return False
    off = abs(developer.celsius - setup.target_celsius)
    return off <= setup.tolerance_celsius + (1 if ahead is None else 2) * developer.sd


def _asks_dip(watch: Watch, outlook: Outlook, seen: Seen) -> bool:
    """Whether the developer may be in the window, and only a dip could tell.

    Long before that, a dip is asked for where its expected gain is worth the trouble.
    """
    now = outlook.seconds
    if outlook.developer is None or _is_known(outlook.developer, seen.setup, seen.measured_ago):
        return False
    if watch.began is None or now - watch.began < FIRST_DIP_SECONDS:
        return False
    if watch.dip_said is not None and now - watch.dip_said < CHECK_DIP_AGAIN_SECONDS:
        return False
    half = outlook.ready_in.p50
    if (half is not None and half <= SOON_SECONDS / 2) or watch.only_a_dip_tells:
        return True
    rested = watch.dip_said is None or now - watch.dip_said >= WORTHWHILE_DIP_AGAIN_SECONDS
    return seen.dip_worthwhile and rested


def _is_ready(watch: Watch, outlook: Outlook, seen: Seen) -> bool:
    developer, now, setup = outlook.developer, outlook.seconds, seen.setup
    tolerance = setup.tolerance_celsius
    if developer is None or not _is_known(developer, setup, seen.measured_ago):
        return False
    if seen.doubted:
        return False
    margin = tolerance - min(developer.sd, 0.5 * tolerance)
    well_inside = abs(developer.celsius - setup.target_celsius) <= margin
    leaving = outlook.leaves_in.p50 is not None and outlook.leaves_in.p50 <= CLOSING_SECONDS
    stands = STANDS_SECONDS if well_inside or leaving else EDGE_STANDS_SECONDS
    return _stood(watch.inside_since, now, stands)


def _tempering(watch: Watch, outlook: Outlook, seen: Seen) -> tuple[Watch, Event | None]:
    now = outlook.seconds
    if _asks_dip(watch, outlook, seen):
        return replace(watch, dip_said=now), Event(Kind.CHECK_DIP, now, _detail(outlook))
    if _is_ready(watch, outlook, seen):
        event = Event(Kind.ENTERED, now, _detail(outlook))
        return replace(watch, closing_said=False, soon_said=True), event
    soon = outlook.ready_in.p50
    if not watch.soon_said and soon is not None and 0 < soon <= SOON_SECONDS:
        return replace(watch, soon_said=True), Event(
            Kind.SOON, now, {**_detail(outlook), "ready_in": round(soon, 1)}
        )
    may_say = watch.never_said is None or now - watch.never_said >= NEVER_AGAIN_SECONDS
    stood = _stood(watch.never_since, now, NEVER_STANDS_SECONDS)
    if may_say and stood and not watch.only_a_dip_tells:
        return replace(watch, never_said=now), Event(
            Kind.NEVER, now, {**_detail(outlook), "never": round(outlook.never, 3)}
        )
    return watch, None


def _ready(watch: Watch, outlook: Outlook) -> tuple[Watch, Event | None]:
    now = outlook.seconds
    if _stood(watch.outside_since, now, LEFT_STANDS_SECONDS):
        return replace(watch, soon_said=False), Event(Kind.LEFT, now, _detail(outlook))
    closing = outlook.leaves_in.p05
    heard = _stood(watch.ready_since, now, READY_STANDS_SECONDS)
    if heard and not watch.closing_said and closing is not None and closing <= CLOSING_SECONDS:
        return replace(watch, closing_said=True), Event(
            Kind.CLOSING, now, {**_detail(outlook), "leaves_in": round(closing, 1)}
        )
    return watch, None
