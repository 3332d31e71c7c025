"""What a develop step amounted to, and when it should end, from the tank's temperature. Pure.

The law's clock and the tank's start with the full tank, so both begin ``fill_seconds`` after
the press (decision 0204). The developer acts until the next solution is poured in.
"""

from __future__ import annotations

from dataclasses import dataclass

from wetside.development import effective as effects
from wetside.development.choose import Way
from wetside.development.course import Courses
from wetside.development.limits import Timed
from wetside.development.spec import Development
from wetside.development.tank import Pour, Stands, in_tank, tank_for
from wetside.outlook import Temperature, Wall
from wetside.session.events import Json
from wetside.session.run import Session
from wetside.session.sheet import Sheet

#: The end is moved only by so much or more: less is not worth a message.
LEAST_MOVE_SECONDS = 5.0
#: What is taken where nobody said how well the developer was known.
_UNKNOWN_SD = 0.5
#: A jacket bath that was last read at the pour may drift in the minutes after (estimate).
_DRIFTING_SD = 0.5
#: A bath that no probe was in lies somewhere near the target (estimate).
_UNSEEN_SD = 2.0
#: Readings of the bath around the tank: a corrected probe, and layers in the water (estimate).
_JACKET_SD = 0.2
#: A room that nobody measured: from a cold cellar to a summer afternoon (estimate).
_UNMEASURED_ROOM = Temperature(21.0, 5.0)


@dataclass(frozen=True, slots=True)
class Around:
    """What is known of the tank's surroundings.

    ``room`` is the air, None where nobody measured it. ``jacket`` are readings (seconds since
    the step began, celsius) of the bath that the tank stands in; empty where no probe stayed
    there.
    """

    room: Temperature | None
    jacket: tuple[tuple[float, float], ...] = ()


def end_follows(sheet: Sheet, *, room_measured: bool) -> bool:
    """Whether the end of the develop step may follow the tank: asked for, and its air is known."""
    development = sheet.develop.development
    if development is None or not development.may_adjust_end:
        return False
    return room_measured or sheet.tank_stands is Stands.BATH


def effect_detail(session: Session, around: Around) -> dict[str, Json] | None:
    """The event of a develop step that is over, or None where nothing can be said."""
    development, record = _law(session), session.developing
    if development is None or record is None or record.actual_seconds is None:
        return None
    courses = _courses(session, around)
    nominal = development.time_at(development.nominal_celsius)
    lasted = record.actual_seconds - _sheet(session).develop.fill_seconds
    if courses is None or not isinstance(nominal, Timed) or lasted <= 0:
        return None
    done = effects.effective(
        development.law(), development.nominal_celsius, nominal.seconds, courses, lasted
    )
    return {
        "percent": round(100 * done.fraction, 1),
        "low": round(100 * done.low_seconds / done.wanted_seconds, 1),
        "high": round(100 * done.high_seconds / done.wanted_seconds, 1),
        "text": done.text,
        "seconds": round(done.seconds, 1),
        "wanted_seconds": round(done.wanted_seconds, 1),
        "outside_seconds": round(done.outside_seconds, 1),
        "law": development.source,
        "tank": _said(session, around),
    }


def moved_end_detail(session: Session, around: Around) -> dict[str, Json] | None:
    """The event that moves the end of the present develop step, or None to leave it."""
    development, step = _law(session), session.present
    if development is None or step is None or step.seconds is None:
        return None
    if not end_follows(_sheet(session), room_measured=around.room is not None):
        return None
    limits, courses = development.end_limits(), _courses(session, around)
    if limits is None or courses is None or session.no_time_reason is not None:
        return None
    celsius = development.nominal_celsius
    if session.way == Way.POUR and session.poured_celsius is not None:
        # the limits are parts of the time for the developer as it was poured
        celsius = session.poured_celsius
    wanted = development.time_at(celsius)
    if not isinstance(wanted, Timed):
        return None
    end = effects.end_of_step(development.law(), celsius, wanted.seconds, courses, limits)
    seconds = float(round(end.seconds + step.fill_seconds))
    if abs(seconds - step.seconds) < LEAST_MOVE_SECONDS:
        return None
    return {
        "develop_seconds": seconds,
        "before_seconds": step.seconds,
        "held": end.held,
        "tank": _said(session, around),
    }


def _sheet(session: Session) -> Sheet:
    assert session.sheet is not None  # noqa: S101  # asked only of a run
    return session.sheet


def _law(session: Session) -> Development | None:
    return None if session.sheet is None else session.sheet.develop.development


def _courses(session: Session, around: Around) -> Courses | None:
    """The developer's temperature in the tank since it was full; None if it was not measured."""
    if session.poured_celsius is None:
        return None
    sheet = _sheet(session)
    samples, sd = _outside(session, around)
    bath = _stands(session) is Stands.BATH
    room = around.room or _UNMEASURED_ROOM
    return in_tank(
        tank_for(sheet.tank or Wall.PLASTIC, sheet.reels),
        Pour(
            developer_celsius=session.poured_celsius,
            developer_sd=_UNKNOWN_SD if session.poured_sd is None else session.poured_sd,
            # a tank that stands in a bath was put there before; else it is as warm as the room
            tank_celsius=samples[0][1] if bath else room.celsius,
            tank_sd=max(sd, _DRIFTING_SD) if bath else room.sd,
            millilitres=sheet.filling_millilitres(sheet.develop),
            stands=_stands(session),
            around=samples,
            around_sd=sd,
        ),
    )


def _stands(session: Session) -> Stands:
    return _sheet(session).tank_stands or Stands.ROOM


def _outside(session: Session, around: Around) -> tuple[tuple[tuple[float, float], ...], float]:
    """Samples (seconds since the full tank, celsius) around the tank, and their deviation."""
    if _stands(session) is Stands.BATH:
        if around.jacket:
            fill = _sheet(session).develop.fill_seconds
            return tuple(
                (seconds - fill, celsius) for seconds, celsius in around.jacket
            ), _JACKET_SD
        if session.poured_bath_celsius is not None:
            return ((0.0, session.poured_bath_celsius),), _DRIFTING_SD
        return ((0.0, _sheet(session).setup().target_celsius),), _UNSEEN_SD
    room = around.room or _UNMEASURED_ROOM
    return ((0.0, room.celsius),), room.sd


def _said(session: Session, around: Around) -> str:
    """What the tank's temperature was computed from."""
    samples, sd = _outside(session, around)
    where = "bath" if _stands(session) is Stands.BATH else "room"
    if where == "bath" and around.jacket:
        return f"in the bath, {len(samples)} readings of it"
    why = ": nobody measured it" if where == "room" and around.room is None else ""
    return f"in the {where}, taken as {samples[0][1]:.1f} degC (sd {sd:.1f}){why}"
