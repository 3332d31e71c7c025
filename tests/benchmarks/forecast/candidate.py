"""wetside's own forecast behind the same question as every other method."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Sequence
from dataclasses import replace

from forecast.simple import Forecast

from wetside.outlook import Setup
from wetside.readings import Place, Reading
from wetside.thermal.estimator import begin
from wetside.thermal.forecast import outlook
from wetside.thermal.hindsight import Hindsight, hear


def run_candidate(
    setup: Setup, rows: Sequence[Reading], moments: Sequence[float], *, told: bool = True
) -> list[Forecast | None]:
    """Forecasts at the given moments (rising); ``told`` False hides the places.

    An exception costs the answers that are left (they score as a sure "never") and is printed.
    """
    answers: list[Forecast | None] = []
    try:
        _feed(setup, rows, moments, answers, told=told)
    except Exception:  # noqa: BLE001 - one broken sink must not cost the table of all others
        print(f"wetside failed on {setup}:\n{traceback.format_exc(limit=-2)}", file=sys.stderr)
    return answers + [None] * (len(moments) - len(answers))


def _feed(
    setup: Setup,
    rows: Sequence[Reading],
    moments: Sequence[float],
    answers: list[Forecast | None],
    *,
    told: bool,
) -> None:
    past = Hindsight(begin(setup))
    position = 0
    for moment in moments:
        while position < len(rows) and rows[position].seconds <= moment:
            row = rows[position]
            past = hear(past, row if told else replace(row, place=Place.UNKNOWN))
            position += 1
        said = outlook(past.belief, moment)
        answers.append(Forecast(said.ready_in, said.never, said.leaves_in))
