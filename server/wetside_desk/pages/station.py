"""The station page: probes, health, storage, clock, version, latest events."""

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse

from wetside.errors import JournalError
from wetside_desk import live, qr, whereabouts
from wetside_desk.access.gate import teacher
from wetside_desk.api import health
from wetside_desk.context import TheDesk
from wetside_desk.pages.render import page

router = APIRouter(include_in_schema=False, dependencies=[Depends(teacher)])


#: Events inside runs that say something about the device.
_TELLING = frozenset({"probe-condition", "display-fault", "buzzer-fault", "buttons-fault"})


@router.get("/station")
def station_page(request: Request, desk: TheDesk) -> HTMLResponse:
    """Everything about the device; it also works while the journal does not."""
    now = live.read(desk.settings.live_file)
    try:
        stations = desk.reader.health().stations
        events = [
            event
            for station in stations
            for event in desk.reader.latest_events(station, 300)
            if event.run is None or event.kind in _TELLING or event.detail.get("missed") is True
        ][:40]
        probes = desk.reader.probes()
    except JournalError:
        events, probes = [], ()
    return page(
        request,
        "station.html",
        now=now,
        health=health.check(desk),
        events=events,
        probes=probes,
        address=desk.address,
        phones=whereabouts.for_phones(desk.address),
        closed=whereabouts.is_closed(desk.settings),
        certificate=desk.certificate.made if desk.certificate else None,
        code=qr.svg(f"{desk.address}/live", "QR code of the board's address"),
    )
