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


@router.get(
    "/station",
    response_model=live.StationNow,
    summary="The station now",
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
