"""The station as it is now, once or as it changes."""

from collections.abc import AsyncIterable

from fastapi import APIRouter, Depends, Request
from fastapi.sse import EventSourceResponse, ServerSentEvent

from wetside_desk import live
from wetside_desk.access.gate import seat, watcher
from wetside_desk.access.streams import watched
from wetside_desk.api import answers
from wetside_desk.context import TheDesk

router = APIRouter(
    prefix="/v1",
    tags=["station"],
    dependencies=[Depends(watcher)],
    responses=answers.documented("not-signed-in", "internal-error"),
)

_EXAMPLE = {
    "presence": "running",
    "says": "Station sink-1 is running.",
    "age_seconds": 0.2,
    "live": {
        "format": 1,
        "station": "sink-1",
        "version": "0.1.0",
        "at": 5321.4,
        "boot": "6f0c…",
        "wall": 1764000000.0,
        "trusted": True,
        "state": "tempering",
        "run": "01KB0A7QJ8M3T5W9XYZ2C4D6EF",
        "sheet": {"name": "school-20", "title": "20 degrees"},
        "step": {"index": 0, "kind": "temper", "planned_seconds": None, "elapsed_seconds": 61.0},
        "next": "developer",
        "outlook": {
            "seconds": 5321.4,
            "developer": {"celsius": 22.4, "sd": 0.1},
            "bath": {"celsius": 19.6, "sd": 0.1},
            "ready_in": {"p05": 150.0, "p50": 181.0, "p95": 230.0},
            "leaves_in": {"p05": None, "p50": None, "p95": None},
            "never": 0.02,
            "faults": [],
        },
        "places": {"probe": "bath"},
        "screen": {"name": "tempering", "head": "READY IN", "big": "3:01", "lines": []},
    },
}


@router.get(
    "/station",
    response_model=live.StationNow,
    summary="The station now",
    responses={200: {"content": {"application/json": {"example": _EXAMPLE}}}},
)
def station(desk: TheDesk) -> live.StationNow:
    """What the station said last, and whether it runs: `presence` tells.

    `silent` means that it has said nothing for more than five seconds.
    """
    return live.read(desk.settings.live_file)


@router.get(
    "/live",
    response_class=EventSourceResponse,
    dependencies=[Depends(seat)],
    summary="The station as it changes",
    responses={
        200: {
            "description": "server-sent events; the data of each `station` event is the answer "
            "of /v1/station at that moment",
        },
        **answers.documented("busy"),
    },
)
async def live_events(request: Request, desk: TheDesk) -> AsyncIterable[ServerSentEvent]:
    """One event at once, then one whenever the station says something new."""
    async for serial, text in watched(request, desk.relay):
        if text is not None:
            yield ServerSentEvent(event="station", id=str(serial), raw_data=text, retry=2000)
