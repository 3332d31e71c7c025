"""The charts of the summary: what went wrong and when, each bar with its runs. Pure."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from wetside.journal.schema import LATE
from wetside.session.run import State
from wetside_desk.charts.bars import Bar
from wetside_desk.digest import Digest, Part, Share
from wetside_desk.pages import words
from wetside_desk.pages.search import Search
from wetside_desk.store.notes import NOT_GOOD

#: Weeks that are drawn, the latest ones, and flags, the most frequent ones.
_WEEKS, _FLAGS = 16, 12


@dataclass(frozen=True, slots=True)
class Drawn:
    """A chart: its name in addresses, its title, its bars."""

    name: str
    title: str
    bars: list[Bar]


@dataclass(frozen=True, slots=True)
class _Trouble:
    """Something that goes wrong: its title, its share of a part, and the search for its runs."""

    name: str
    title: str
    share: Callable[[Part], Share]
    fields: Mapping[str, str]


_OUTSIDE = {"flag": "poured-outside-window"}
_TROUBLES = (
    _Trouble("outside", "Poured outside the window", lambda part: part.outside, _OUTSIDE),
    _Trouble("late", "A step left too long", lambda part: part.late, {"flag": LATE}),
    _Trouble("given-up", "Given up", lambda part: part.given_up, {"state": State.ABANDONED}),
    _Trouble(
        "outcome", "Outcome other than good, of those judged", lambda part: part.spoilt,
        {"outcome": NOT_GOOD},
    ),
)  # fmt: skip


def groups(
    found: Digest, search: Search, taught: Mapping[str, str]
) -> list[tuple[str, list[Drawn]]]:
    """The charts under their headings; ``taught`` has the group of a period, where there is one."""
    weeks = [
        (_week(monday), part, {"day": f"{monday}", "until": f"{monday + timedelta(days=6)}"})
        for monday, part in sorted(found.weeks.items())[-_WEEKS:]
    ]
    by_name = sorted(found.periods.items(), key=lambda item: _in_order(item[0]))
    periods = [
        (f"{name}, {taught[name]}" if taught.get(name) else name, part, {"period": name})
        for name, part in by_name
    ]
    made = [
        ("All together", _whole(found, search)),
        ("By week", list(_by("weeks", "by week", weeks, search))),
    ]
    if periods:
        made.append(("By period", list(_by("periods", "by period", periods, search))))
    return [*made, ("Poured outside the window", _outside(found, search))]


def _week(monday: date) -> str:
    year, week, _ = monday.isocalendar()
    return f"{year} week {week:02d}"


def _in_order(period: str) -> tuple[float, str]:
    """Period 2 before period 10, and those without a number last."""
    number = re.match(r"\d+", period)
    return (int(number[0]) if number else math.inf), period


def _whole(found: Digest, search: Search) -> list[Drawn]:
    flags = [
        Bar(words.flag(flag), number, href=_runs(search.narrowed(flag=flag)))
        for flag, number in found.flags.most_common(_FLAGS)
    ]
    outcomes = [
        Bar(outcome, number, href=_runs(search.narrowed(outcome=outcome)))
        for outcome, number in found.outcomes.most_common()
    ]
    return [Drawn("flags", "Flags", flags), Drawn("outcomes", "Outcomes", outcomes)]


def _by(
    name: str, by: str, parts: Iterable[tuple[str, Part, Mapping[str, str]]], search: Search
) -> Iterable[Drawn]:
    parts = list(parts)
    for trouble in _TROUBLES:
        shares = [
            (said, trouble.share(part), search.narrowed(**where, **trouble.fields))
            for said, part, where in parts
        ]
        yield Drawn(
            f"{trouble.name}-{name}",
            f"{trouble.title}, {by}",
            [_bar(said, share, _runs(there)) for said, share, there in shares if share.of],
        )


def _outside(found: Digest, search: Search) -> list[Drawn]:
    sheets = [
        _bar(name, share, _runs(search.narrowed(sheet=name, **_OUTSIDE)))
        for name, share in found.sheets.items()
    ]
    # the list of runs knows no hours
    hours = [_bar(f"{hour:02d}:00", share) for hour, share in sorted(found.hours.items())]
    return [
        Drawn("outside-sheets", "Poured outside the window, by sheet", sheets),
        Drawn("outside-hours", "Poured outside the window, by hour of the day", hours),
    ]


def _bar(name: str, share: Share, href: str = "") -> Bar:
    return Bar(name, share.hit, share.of, f"{share.hit} of {share.of}", href if share.hit else "")


def _runs(search: Search) -> str:
    return f"/?{search.query()}"
