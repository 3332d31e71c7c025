"""What a bottle's own data leave to be doubted: no mistakes, but no good for a roll either."""

from __future__ import annotations

from collections.abc import Iterator

from wetside.development.bottles import Bottle, Holds, Usage
from wetside.development.figures import REUSE_TIME, REUSED_DEVELOPER_ROLLS, STOCK_DAYS
from wetside.development.mixing import Dilution

#: A capacity so many times that of the figure is doubted: labels of some developers allow two to
#: four times as much (from memory).
_FAR_ABOVE = 4.0


def doubts(bottle: Bottle) -> Iterator[str]:
    """Sentences about a developer that its data leave in doubt; they stop nothing."""
    if bottle.holds is not Holds.DEVELOPER:
        return
    if bottle.use is Usage.REUSED:
        yield from _reused(bottle)
    if bottle.keeps_full_days is None and bottle.keeps_opened_days is None:
        yield f"no days that it keeps are written; take its label's ({STOCK_DAYS.what}: {_days()})"


def _days() -> str:
    return f"{STOCK_DAYS.value:g} days, {STOCK_DAYS.publication}, {STOCK_DAYS.basis}"


def _reused(bottle: Bottle) -> Iterator[str]:
    if Dilution.parse(bottle.strength).water > 0:
        yield (
            f"{bottle.strength} and reused: a diluted developer is used once (common practice), "
            "unless its label allows more"
        )
    rolls = bottle.rolls_per_litre
    if rolls is not None and rolls > _FAR_ABOVE * REUSED_DEVELOPER_ROLLS.value:
        yield (
            f"{rolls:g} rolls per litre is far above what is usual ({REUSED_DEVELOPER_ROLLS.what} "
            f"{REUSED_DEVELOPER_ROLLS.text})"
        )
    # written down as 0 it is the teacher's word: replenished, or its label asks for none
    if not bottle.longer_per_roll and "longer_per_roll" not in bottle.model_fields_set:
        yield (
            f"reused without a longer time: {REUSE_TIME.what} {REUSE_TIME.value:g} "
            f"({REUSE_TIME.publication}, {REUSE_TIME.basis}); write 0 if it is replenished"
        )
