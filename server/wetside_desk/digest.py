"""Many runs in figures: what goes wrong here, and when. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from statistics import median

from wetside.journal.schema import LATE, RunRow
from wetside.session.run import State
from wetside_desk.store.notes import GOOD

#: Of fewer runs no percentage and no middle is told: one more would turn it over. Common
#: practice, not measured; it is also where the log begins to outweigh what is assumed of the
#: hand-overs (`wetside.development.deadline.learn` counts the assumption as four runs).
FEWEST_RUNS = 5


@dataclass(slots=True)
class Share:
    """So many of so many."""

    hit: int = 0
    of: int = 0

    def add(self, hit: bool) -> None:  # one more, counted or not
        """Count one."""
        self.of += 1
        self.hit += hit


@dataclass(slots=True)
class Part:
    """What went wrong in the runs of one week or one period, each as so many of so many.

    ``outside`` is of the poured runs, ``late`` and ``given_up`` of all, ``spoilt`` of the judged.
    """

    outside: Share = field(default_factory=Share)
    late: Share = field(default_factory=Share)
    given_up: Share = field(default_factory=Share)
    spoilt: Share = field(default_factory=Share)

    def add(self, row: RunRow, outcome: str) -> None:
        """Count one run; ``outcome`` is empty where nobody judged it."""
        if row.window_hit is not None:
            self.outside.add(not row.window_hit)
        self.late.add(any(flag.startswith(LATE) for flag in row.flags))
        self.given_up.add(row.state == State.ABANDONED)
        if outcome:
            self.spoilt.add(outcome != GOOD)


@dataclass(slots=True)
class Digest:
    """Figures of many runs.

    ``whole`` has all of them; ``weeks`` the same by the Monday of each week, ``periods`` by name,
    without runs that were in none. ``hours`` and ``sheets`` say of how many poured runs the
    developer was outside the window; ``over`` are the seconds by which developing was longer than
    planned.
    """

    runs: int = 0
    flags: Counter[str] = field(default_factory=Counter)
    outcomes: Counter[str] = field(default_factory=Counter)
    whole: Part = field(default_factory=Part)
    weeks: dict[date, Part] = field(default_factory=dict)
    periods: dict[str, Part] = field(default_factory=dict)
    hours: dict[int, Share] = field(default_factory=dict)
    sheets: dict[str, Share] = field(default_factory=dict)
    over: list[float] = field(default_factory=list)

    @property
    def median_over(self) -> float | None:
        """Middle of `over`, None with fewer than `FEWEST_RUNS`."""
        return median(self.over) if len(self.over) >= FEWEST_RUNS else None

    @property
    def inside(self) -> Share:
        """Of how many poured runs the developer was inside the window."""
        outside = self.whole.outside
        return Share(outside.of - outside.hit, outside.of)

    @property
    def percent_inside(self) -> float | None:
        """Share of `inside` in per cent, None with fewer than `FEWEST_RUNS`."""
        return 100 * self.inside.hit / self.inside.of if self.inside.of >= FEWEST_RUNS else None


@dataclass(frozen=True, slots=True)
class Told:
    """A run with what is known of it beside the journal; empty texts where nothing is."""

    row: RunRow
    when: datetime
    period: str = ""
    outcome: str = ""


def digest(runs: Iterable[Told]) -> Digest:
    """Count runs, each with its local time."""
    found = Digest()
    for told in runs:
        row, when = told.row, told.when
        found.runs += 1
        found.flags.update(row.flags)
        if told.outcome:
            found.outcomes[told.outcome] += 1
        monday = when.date() - timedelta(days=when.weekday())
        parts = [found.whole, found.weeks.setdefault(monday, Part())]
        if told.period:
            parts.append(found.periods.setdefault(told.period, Part()))
        for part in parts:
            part.add(row, told.outcome)
        if row.window_hit is not None:
            found.sheets.setdefault(row.sheet_name, Share()).add(not row.window_hit)
            found.hours.setdefault(when.hour, Share()).add(not row.window_hit)
        if row.actual_develop_seconds is not None and row.planned_develop_seconds is not None:
            found.over.append(row.actual_develop_seconds - row.planned_develop_seconds)
    return found
