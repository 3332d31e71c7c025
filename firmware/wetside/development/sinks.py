"""How many tanks the sinks can take through in one period, and how many periods a class needs.

A device takes one run at a time: the next begins, and its developer is tempered, once the film of
the one before hangs, wherever it was washed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Sinks:
    """What a class finds.

    Parameters
    ----------
    stations
        Sink positions with a device.
    tanks_per_station
        Tanks that go through together at one position.
    students_per_tank
        Students whose film is in one tank.
    """

    stations: int
    tanks_per_station: int = 1
    students_per_tank: int = 1

    def __post_init__(self) -> None:
        if min(self.stations, self.tanks_per_station, self.students_per_tank) < 1:
            raise ValueError("stations, tanks and students are at least one each")


@dataclass(frozen=True, slots=True)
class Capacity:
    """What one period holds.

    ``starts`` are the starts of the rounds, seconds after the bell that opens the period;
    ``students`` the most that finish; ``periods`` how many the whole class needs, None if not
    one run fits into a period.
    """

    starts: tuple[float, ...]
    tanks: int
    students: int
    periods: int | None
    text: str


def capacity(
    sinks: Sinks,
    students: int,
    *,
    open_seconds: float,
    ready_seconds: float,
    run_seconds: float,
    again_seconds: float | None = None,
) -> Capacity:
    """Rounds that fit between two bells.

    Parameters
    ----------
    sinks, students
        The positions, and the size of the class.
    open_seconds
        From the opening bell until film must hang.
    ready_seconds
        From the opening bell until the first developer is ready.
    run_seconds
        From developing to hanging, hand-overs included.
    again_seconds
        From one film hanging until the next developer is ready there; as long as the first took
        where it is not given.

    Raises
    ------
    ValueError
        Times or numbers that cannot be.
    """
    again = ready_seconds if again_seconds is None else again_seconds
    if min(students, open_seconds, ready_seconds, again) < 0:
        raise ValueError("students and times are not below zero")
    if run_seconds <= 0:
        raise ValueError(f"run_seconds {run_seconds:g} is not above zero")
    every = again + run_seconds
    spare = open_seconds - ready_seconds - run_seconds
    rounds = 0 if spare < 0 else 1 + math.floor(spare / every + 1e-9)
    each = sinks.stations * sinks.tanks_per_station * sinks.students_per_tank
    needed = math.ceil(students / each)
    used = min(rounds, needed)
    served = min(students, rounds * each)
    tanks = math.ceil(served / sinks.students_per_tank)
    periods = None if rounds == 0 and students else math.ceil(students / max(1, rounds * each))
    starts = tuple(ready_seconds + index * every for index in range(used))
    if periods is None:
        short = math.ceil(-spare / 60.0)
        text = f"no run fits: {short} min too short; leave the washing for later or temper before"
    elif not students:
        text = "no students are given"
    else:
        rounds_text = f"{used} round{'s' if used != 1 else ''}"
        text = f"all {students} finish in {rounds_text}"
        if served < students:
            text = f"{served} of {students} finish in {rounds_text}: {periods} periods needed"
    return Capacity(starts, tanks, served, periods, text)
