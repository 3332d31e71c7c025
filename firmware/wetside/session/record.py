"""Events of a run as journal rows and back again. Exact: a fold over rows gives the session."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from pydantic import ValidationError

from wetside.errors import RunUnreadable
from wetside.session.events import Event, Json, Kind
from wetside.session.machine import fold
from wetside.session.run import Session
from wetside.session.sheet import Sheet
from wetside.tomlfile import problems_of

_KINDS = {str(kind): kind for kind in Kind}


def begin(seconds: float, run: str, sheet: Sheet) -> Event:
    """The event that begins a run; it carries the whole sheet, so the run keeps it."""
    detail: dict[str, Json] = {
        "run": run,
        "sheet": sheet.model_dump(mode="json", exclude_none=True),
    }
    return Event(Kind.BEGIN, seconds, detail)


def encode(event: Event) -> dict[str, Json]:
    """The detail of the journal row: the event's own, and its exact moment under ``at``."""
    return {**event.detail, "at": event.seconds}


def decode(kind: str, detail: Mapping[str, Json]) -> Event | None:
    """The event of a journal row, or None when the row is not an event of the machine."""
    known = _KINDS.get(kind)
    at = detail.get("at")
    if known is None or not isinstance(at, int | float):
        return None
    return Event(known, float(at), {key: value for key, value in detail.items() if key != "at"})


def rebuild(rows: Iterable[tuple[str, Mapping[str, Json]]]) -> Session:
    """The session that the journal's rows (kind, detail) of one run lead to.

    Raises
    ------
    RunUnreadable
        A row of another version, with a sheet or a detail that this one does not take.
    """
    events = (decode(kind, detail) for kind, detail in rows)
    try:
        return fold(event for event in events if event is not None)
    except ValidationError as error:
        place, reason = problems_of(error)[0]
        raise RunUnreadable(f"this version cannot read the run: {place}: {reason}") from None
    except (LookupError, TypeError, ValueError) as error:
        raise RunUnreadable(f"this version cannot read the run: {error!r}") from error
