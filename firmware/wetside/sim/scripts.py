"""What the bench's students do: scripts as data, one for each kind of student."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from wetside.errors import BenchError
from wetside.session.signals import CueName
from wetside.sim.situation import Arrangement
from wetside.sim.student import Deed, Rule, Script, Verb

_PRESS_NOW = Deed(Verb.PRESS, "now")
_LIFT_AND_PRESS = (Deed(Verb.LIFT), Deed(Verb.PRESS, "now", after=1.5))
_FORGET_POURING = (CueName.READY, CueName.WINDOW_CLOSING, CueName.NEXT_NOW, CueName.LATE)


def _dip(seconds: float) -> tuple[Deed, ...]:
    """Into the developer, say so, stir a little, back into the bath, say so."""
    return (
        Deed(Verb.MOVE, "developer"),
        Deed(Verb.PRESS, "probe", after=0.8),
        Deed(Verb.STIR, "developer", 4.0, after=2.0),
        Deed(Verb.MOVE, "bath", after=seconds),
        Deed(Verb.PRESS, "probe", after=seconds + 0.8),
    )


def _placing(arrangement: Arrangement) -> tuple[Rule, ...]:
    """Where the probes go when tempering begins."""
    if arrangement is Arrangement.TWO:
        # their names say where they are
        put = (Deed(Verb.MOVE, "developer"), Deed(Verb.MOVE_OTHER, "bath"))
        return (Rule(None, put, react=(0.5, 1.0)),)
    if arrangement is Arrangement.DEVELOPER:
        stay = (Deed(Verb.MOVE, "developer"), Deed(Verb.PRESS, "probe", after=0.8))
        return (Rule(CueName.TEMPERING_BEGUN, stay, react=(2.0, 4.0)),)
    return (
        Rule(CueName.TEMPERING_BEGUN, _dip(22.0), react=(2.0, 4.0)),
        Rule(CueName.CHECK_DIP_ADVISED, _dip(16.0), react=(4.0, 10.0)),
    )


def _roll(
    arrangement: Arrangement,
    *,
    ready: tuple[float, float] = (2.0, 6.0),
    closing: tuple[float, float] = (0.5, 2.0),
    next_now: tuple[float, float] = (0.8, 2.5),
    late: tuple[float, float] = (1.0, 3.0),
) -> tuple[Rule, ...]:
    """A whole roll by the book; spans are reaction times in seconds."""
    help_deeds = (Deed(Verb.MEND, amount=1.5), Deed(Verb.STIR, "bath", 6.0, after=3.0))
    return (
        Rule(None, (_PRESS_NOW,), react=(2.5, 4.0)),
        *_placing(arrangement),
        Rule(CueName.WILL_NOT_REACH, help_deeds, react=(8.0, 15.0), times=5),
        Rule(CueName.READY, _LIFT_AND_PRESS, react=ready),
        Rule(CueName.WINDOW_CLOSING, _LIFT_AND_PRESS, react=closing, forgets=(CueName.READY,)),
        Rule(
            CueName.WINDOW_LEFT,
            (Deed(Verb.PUT_BACK),),
            forgets=(CueName.READY, CueName.WINDOW_CLOSING),
        ),
        Rule(CueName.REFUSED, (Deed(Verb.PUT_BACK),)),
        Rule(CueName.POUR_BEGUN, (Deed(Verb.POUR),), react=(0.1, 0.4), step="develop"),
        Rule(
            CueName.POUR_BEGUN,
            (Deed(Verb.SAY, "pours in: {step}"),),
            react=(0.0, 0.5),
            forgets=_FORGET_POURING,
        ),
        Rule(CueName.AGITATE, (Deed(Verb.SAY, "turns the tank"),), react=(0.5, 1.5)),
        Rule(CueName.PREPARE_NEXT, (Deed(Verb.SAY, "gets ready: {prepare}"),), react=(1.0, 4.0)),
        Rule(CueName.DRAIN, (Deed(Verb.SAY, "pours out: {step}"),), react=(0.5, 1.5)),
        Rule(CueName.NEXT_NOW, (_PRESS_NOW,), react=next_now),
        Rule(CueName.LATE, (_PRESS_NOW,), react=late, forgets=(CueName.NEXT_NOW,)),
        Rule(CueName.INTERRUPTED, (_PRESS_NOW,), react=(3.0, 8.0)),
        Rule(CueName.PROBE_LOST, (Deed(Verb.PLUG),), react=(15.0, 30.0)),
        Rule(CueName.FINISHED, (Deed(Verb.SAY, "hangs the film"),), react=(0.0, 0.5)),
    )


def _steady(arrangement: Arrangement) -> tuple[Rule, ...]:
    return _roll(arrangement)


def _late(arrangement: Arrangement) -> tuple[Rule, ...]:
    return _roll(
        arrangement,
        ready=(20.0, 40.0),
        closing=(10.0, 30.0),
        next_now=(12.0, 40.0),
        late=(5.0, 40.0),
    )


def _leaving(arrangement: Arrangement) -> tuple[Rule, ...]:
    gone = Rule(CueName.POUR_BEGUN, (Deed(Verb.LEAVE),), react=(40.0, 60.0), step="fix")
    return (*_roll(arrangement), gone)


def _disturbing(arrangement: Arrangement) -> tuple[Rule, ...]:
    trouble = (
        Deed(Verb.ICE, amount=0.15, after=90.0),
        Deed(Verb.STIR, "bath", 8.0, after=100.0),
        Deed(Verb.HOT, amount=0.3, after=170.0),
        Deed(Verb.STIR, "developer", 6.0, after=200.0),
        Deed(Verb.TAPS, "cold", 1.0, after=240.0),
        Deed(Verb.TAPS, after=255.0),
    )
    rule = Rule(CueName.TEMPERING_BEGUN, trouble, react=(0.0, 10.0), times=1)
    return (*_roll(arrangement), rule)


def _unplugging(arrangement: Arrangement) -> tuple[Rule, ...]:
    pulled = (Deed(Verb.UNPLUG), Deed(Verb.PLUG, after=40.0))
    careful = tuple(rule for rule in _roll(arrangement) if rule.when is not CueName.PROBE_LOST)
    rule = Rule(CueName.TEMPERING_BEGUN, pulled, react=(90.0, 120.0), times=1)
    return (*careful, rule)


def _pausing(arrangement: Arrangement) -> tuple[Rule, ...]:
    pause = (Deed(Verb.HOLD, "wait"), Deed(Verb.PRESS, "now", after=45.0))
    rule = Rule(CueName.POUR_BEGUN, pause, react=(60.0, 90.0), step="wash", times=1)
    return (*_roll(arrangement), rule)


def _hurried(arrangement: Arrangement) -> tuple[Rule, ...]:
    """Once the developer was touched, asks which way to go, and pours now."""
    pour_now = (Deed(Verb.LIFT), Deed(Verb.HOLD, "now", after=1.5))
    return (
        *_roll(arrangement),
        Rule(CueName.TEMPERING_BEGUN, (_PRESS_NOW,), react=(60.0, 75.0), times=1),
        Rule(CueName.CHOICE, pour_now, react=(3.0, 6.0), times=1),
    )


def _nobody(_: Arrangement) -> tuple[Rule, ...]:
    return ()


_STUDENTS: Mapping[str, tuple[str, Callable[[Arrangement], tuple[Rule, ...]]]] = {
    "scripted": ("takes a whole roll through, by the book", _steady),
    "late": ("hears everything and comes late to all of it", _late),
    "leaving": ("goes away while the film is in the fixer", _leaving),
    "disturbing": ("puts ice, hot water and the tap into the bath", _disturbing),
    "unplugging": ("pulls the probe's plug out while tempering", _unplugging),
    "pausing": ("holds the run during the wash, and goes on", _pausing),
    "hurried": ("does not wait for the window: pours now, with the adjusted time", _hurried),
    "me": ("nobody: you press the buttons", _nobody),
}

#: Names of the students and what they are like.
STUDENTS: Mapping[str, str] = {name: title for name, (title, _) in _STUDENTS.items()}


def script(name: str, arrangement: Arrangement = Arrangement.BATH) -> Script:
    """The script of a student for an arrangement of probes.

    Raises
    ------
    BenchError
        There is no such student; the message names those there are.
    """
    try:
        title, rules = _STUDENTS[name]
    except KeyError:
        raise BenchError(f"no student {name!r}; there are {', '.join(STUDENTS)}") from None
    return Script(name, title, rules(arrangement))
