"""Whether desk, journal and station are well.

The members follow draft-inadarei-api-health-check-06 (expired, widely copied).
"""

from contextlib import suppress
from enum import StrEnum
from typing import Any

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, Field

from wetside.errors import JournalError
from wetside_desk import __version__, live
from wetside_desk.api import answers
from wetside_desk.context import Desk, TheDesk
from wetside_desk.pages import words
from wetside_desk.store import preferences

router = APIRouter(prefix="/v1", tags=["station"], responses=answers.documented("internal-error"))

#: Below this much free space a warning is given: a school year of runs still fits.
LOW_BYTES = 200 * 1024 * 1024
#: Below this much the station may soon be unable to log.
SCARCE_BYTES = 20 * 1024 * 1024


class Status(StrEnum):
    """How well something is; the worst of the checks is the whole answer's."""

    PASS = "pass"  # noqa: S105  # the draft's word for "well", no password
    WARN = "warn"
    FAIL = "fail"


class HealthCheck(BaseModel):
    """One check."""

    status: Status
    output: str = Field(description="what was found, in words")
    observedValue: float | int | str | None = None  # noqa: N815  # the draft's spelling
    observedUnit: str | None = None  # noqa: N815  # the draft's spelling


class HealthAnswer(BaseModel):
    """The whole answer."""

    status: Status
    version: str
    description: str = "wetside desk"
    checks: dict[str, list[HealthCheck]]


def check(desk: Desk) -> HealthAnswer:
    """Look at journal, station, clock and storage."""
    checks: dict[str, list[HealthCheck]] = {}
    checks.update(_own_file(desk))
    checks.update(_journal(desk))
    checks.update(_station(desk))
    worst = Status.PASS
    for entries in checks.values():
        for entry in entries:
            if entry.status is Status.FAIL or (
                entry.status is Status.WARN and worst is Status.PASS
            ):
                worst = entry.status
    return HealthAnswer(status=worst, version=__version__, checks=checks)


def _size(size_bytes: int) -> str:
    """Bytes as people count storage, in powers of ten."""
    giga = size_bytes / 1e9
    return f"{giga:.1f} GB" if giga >= 1 else f"{size_bytes / 1e6:.0f} MB"


def _own_file(desk: Desk) -> dict[str, list[HealthCheck]]:
    """The desk's own file, where it cannot be used."""
    try:
        preferences.load(desk.database)
    except JournalError as error:
        return {"desk": [HealthCheck(status=Status.FAIL, output=str(error))]}
    return {}


def _journal(desk: Desk) -> dict[str, list[HealthCheck]]:
    try:
        health = desk.reader.health()
    except JournalError as error:
        return {"journal": [HealthCheck(status=Status.FAIL, output=str(error))]}
    found: dict[str, list[HealthCheck]] = {
        "journal": [
            HealthCheck(
                status=Status.PASS,
                output=f"{health.runs:,} run{'' if health.runs == 1 else 's'} with "
                f"{health.samples:,} readings.",
                observedValue=health.size_bytes + health.wal_bytes,
                observedUnit="bytes",
            )
        ]
    }
    free = health.free_bytes
    low = Status.FAIL if free < SCARCE_BYTES else Status.WARN if free < LOW_BYTES else Status.PASS
    found["storage"] = [
        HealthCheck(
            status=low,
            output=f"{_size(free)} free for the journal.",
            observedValue=free,
            observedUnit="bytes",
        )
    ]
    return found


def _station(desk: Desk) -> dict[str, list[HealthCheck]]:
    now = live.read(desk.settings.live_file)
    running = now.presence is live.Presence.RUNNING
    found = {
        "station": [
            HealthCheck(
                status=Status.PASS if running else Status.WARN,
                output=now.says,
                observedValue=None if now.age_seconds is None else round(now.age_seconds, 1),
                observedUnit=None if now.age_seconds is None else "s",
            )
        ]
    }
    if now.live is None or not running:
        return found
    found["clock"] = [
        HealthCheck(
            status=Status.PASS if now.live.trusted else Status.WARN,
            output=(
                f"It is {words.day(now.live.wall)}, {words.clock(now.live.wall)}."
                if now.live.trusted
                else "The clock has not been set since the device started: dates may be wrong. "
                "Durations are right all the same."
            ),
        )
    ]
    found["probes"] = [
        HealthCheck(status=Status.WARN, output=f"{words.trouble(probe, trouble)}.")
        for probe, trouble in sorted(now.live.troubles.items())
    ] or [HealthCheck(status=Status.PASS, output="No probe is in trouble.")]
    if now.live.warnings:
        found["warnings"] = [
            HealthCheck(status=Status.WARN, output=warning) for warning in now.live.warnings
        ]
    return found


_RESPONSES: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "pass or warn",
        "content": {
            "application/health+json": {"schema": {"$ref": "#/components/schemas/HealthAnswer"}}
        },
    },
    503: {
        "description": "fail: the same members, `status` is `fail`",
        "content": {
            "application/health+json": {"schema": {"$ref": "#/components/schemas/HealthAnswer"}}
        },
    },
}


@router.get(
    "/health", response_class=Response, summary="Whether everything is well", responses=_RESPONSES
)
def health(request: Request, desk: TheDesk) -> Response:
    """Journal, storage, station, clock and probes; 503 when something has failed.

    Who is not signed in gets the status alone.
    """
    answer = check(desk)
    who = None
    with suppress(JournalError):  # told above
        who = desk.gate.who(request)
    if who is None:
        answer = answer.model_copy(update={"checks": {}})
    return Response(
        answer.model_dump_json(exclude_none=True),
        status_code=503 if answer.status is Status.FAIL else 200,
        media_type="application/health+json",
        headers={"Cache-Control": "no-store"},
    )
