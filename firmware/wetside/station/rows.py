"""A session as the journal's digest of a run. Pure."""

from __future__ import annotations

from wetside.clock import Moment
from wetside.journal.schema import RunRow
from wetside.session.run import ENDED_STATES, Session
from wetside.session.summary import summarise


def run_row(session: Session, station: str, began: Moment, now: Moment) -> RunRow | None:
    """The run as lists show it, or None when there is none.

    ``began`` is the moment of its begin, ``now`` the moment of the event that changed it.
    """
    summary = summarise(session)
    if summary is None:
        return None
    develop = session.developing
    return RunRow(
        id=summary.run,
        station=station,
        sheet_name=summary.sheet,
        sheet_title=summary.title,
        began=began,
        state=str(session.state),
        ended=now if session.state in ENDED_STATES else None,
        window_hit=summary.window_hit,
        flags=summary.flags,
        target_celsius=summary.target_celsius,
        tolerance_celsius=summary.tolerance_celsius,
        poured_celsius=summary.poured_celsius,
        planned_develop_seconds=develop.planned_seconds if develop else None,
        actual_develop_seconds=develop.actual_seconds if develop else None,
    )
