"""Many runs in figures: what goes wrong here, and when. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from statistics import median

from wetside.journal.schema import RunRow

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
class Digest:
    """Figures of many runs.

    ``inside`` is the share of poured runs whose developer was inside the window; ``weeks`` and
    ``hours`` say the same by ISO week and hour of the day; ``over`` are the seconds by which
    developing was longer than planned.
    """

    runs: int = 0
    states: Counter[str] = field(default_factory=Counter)
    flags: Counter[str] = field(default_factory=Counter)
    outcomes: Counter[str] = field(default_factory=Counter)
    sheets: dict[str, Share] = field(default_factory=dict)
    weeks: dict[str, Share] = field(default_factory=dict)
    hours: dict[int, Share] = field(default_factory=dict)
    inside: Share = field(default_factory=Share)
    over: list[float] = field(default_factory=list)

    @property
    def median_over(self) -> float | None:
        """Middle of `over`, None with fewer than `FEWEST_RUNS`."""
        return median(self.over) if len(self.over) >= FEWEST_RUNS else None

    @property
    def percent_inside(self) -> float | None:
        """Share of `inside` in per cent, None with fewer than `FEWEST_RUNS`."""
        return 100 * self.inside.hit / self.inside.of if self.inside.of >= FEWEST_RUNS else None


def digest(rows: Iterable[tuple[RunRow, datetime]], outcomes: Mapping[str, str]) -> Digest:
    """Count runs, each with its local time; ``outcomes`` maps run id to outcome."""
    found = Digest()
    for row, when in rows:
        found.runs += 1
        found.states[row.state] += 1
        found.flags.update(row.flags)
        if row.id in outcomes:
            found.outcomes[outcomes[row.id]] += 1
        if row.window_hit is not None:
            year, week, _ = when.isocalendar()
            found.inside.add(row.window_hit)
            found.sheets.setdefault(row.sheet_name, Share()).add(row.window_hit)
            found.weeks.setdefault(f"{year} week {week:02d}", Share()).add(row.window_hit)
            found.hours.setdefault(when.hour, Share()).add(row.window_hit)
        if row.actual_develop_seconds is not None and row.planned_develop_seconds is not None:
            found.over.append(row.actual_develop_seconds - row.planned_develop_seconds)
    return found
