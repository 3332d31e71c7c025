"""The tests of a bottle in their order, and what each of them says of it."""

from __future__ import annotations

from dataclasses import dataclass

from wetside.development.bottles import Bottle, Check
from wetside.development.clearing import Clearing, judge_clearing, judge_indicator

#: What is done when bath 1 of a two-bath fixer is exhausted (US Navy NAVEDTRA 14209).
MOVE_UP = "bath 2 becomes bath 1, new fixer is bath 2"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one test says: ``discard`` the bottle or not, and why.

    ``text`` has no full stop. ``clearing`` has the figures of a clearing-time test; None for the
    colour of an indicator. ``soon``: it lasts for this class and is to be mixed before the next.
    """

    discard: bool
    text: str
    clearing: Clearing | None = None
    soon: bool = False


def latest_first(bottle: Bottle) -> tuple[Check, ...]:
    """The tests of a bottle, the latest first; of one day the one that was written down last."""
    in_order = sorted(bottle.check, key=lambda check: check.on)  # those of a day stay in theirs
    return tuple(in_order[::-1])


def latest_check(bottle: Bottle) -> Check | None:
    """The test that counts; None where the bottle has none."""
    return next(iter(latest_first(bottle)), None)


def clearing_now(bottle: Bottle) -> Clearing | None:
    """What the latest clearing time of a fixer says, that of the fresh bath where none is later.

    None where it was never timed.
    """
    fresh, latest = bottle.fresh_clearing_seconds, latest_check(bottle)
    if fresh is None:
        return None
    seconds = None if latest is None else latest.clearing_seconds
    return judge_clearing(fresh if seconds is None else seconds, fresh)


def verdict(bottle: Bottle, check: Check) -> Verdict:
    """What a test of a bottle says of it."""
    if check.colour is not None:
        found = judge_indicator(check.colour, in_bottle=True)
        return Verdict(found.discard, found.text.removesuffix("."), soon=found.soon)
    assert check.clearing_seconds is not None  # noqa: S101  # a check has one of the two
    assert bottle.fresh_clearing_seconds is not None  # noqa: S101  # checked at loading
    clearing = judge_clearing(check.clearing_seconds, bottle.fresh_clearing_seconds)
    text = clearing.text
    if clearing.discard and bottle.bath == 1:
        text += f"; {MOVE_UP}"
    return Verdict(clearing.discard, text, clearing)
