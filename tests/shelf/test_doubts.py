"""What a developer's own data leave in doubt."""

from __future__ import annotations

from datetime import date

import pytest

from wetside.development.bottles import Bottle
from wetside.development.doubts import doubts
from wetside.development.shelf import Trouble, standing

MIXED = date(2020, 9, 1)


def developer(**more: object) -> Bottle:
    table: dict[str, object] = {
        "label": "Dev",
        "holds": "developer",
        "millilitres": 1000,
        "mixed_on": MIXED,
        "use": "reused",
        "rolls_per_litre": 4,
        "longer_per_roll": 0.1,
        "keeps_full_days": 180,
    }
    return Bottle.model_validate(
        {key: value for key, value in (table | more).items() if value is not None}
    )


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"strength": "1+1"}, "1+1 and reused: a diluted developer is used once"),
        ({"rolls_per_litre": 150}, "150 rolls per litre is far above what is usual"),
        ({"longer_per_roll": None}, "reused without a longer time"),
        ({"keeps_full_days": None}, "no days that it keeps are written"),
    ],
)
def test_each_doubt_is_one_sentence(more: dict[str, object], said: str) -> None:
    """Diluted and reused, a capacity of 150 rolls, no longer time, no age: each says so alone."""
    assert [] == list(doubts(developer()))
    (found,) = doubts(developer(**more))
    assert found.startswith(said)


@pytest.mark.parametrize(
    "more",
    [
        {"rolls_per_litre": 15},  # labels of some developers allow that (from memory)
        {"longer_per_roll": 0},
        {"keeps_full_days": None, "keeps_opened_days": 30},
        {"use": "once", "strength": "1+1", "rolls_per_litre": None, "longer_per_roll": None},
    ],
)
def test_what_a_label_may_allow_is_not_doubted(more: dict[str, object]) -> None:
    """A written nought is the teacher's word, one of the two ages is enough, once is once."""
    assert [] == list(doubts(developer(**more)))


def test_a_developer_eleven_years_old_is_doubted_on_the_shelf() -> None:
    """Nothing in its data says that it is too old, so each doubt is told and none stops it."""
    odd = developer(strength="1+1", rolls_per_litre=150, longer_per_roll=None, keeps_full_days=None)
    found = standing(odd, [], date(2031, 9, 1))
    assert [Trouble.DOUBT] * 4 == [notice.trouble for notice in found.notices]
    assert found.usable
