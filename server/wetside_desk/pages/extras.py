"""What pages load beside themselves, and the figures for Prometheus."""

from typing import Annotated

from fastapi import APIRouter, Depends, Header
from fastapi.responses import Response

from wetside_desk import metrics
from wetside_desk.access.gate import teacher
from wetside_desk.chart_library import library
from wetside_desk.context import TheDesk
from wetside_desk.problems import ProblemError

router = APIRouter(include_in_schema=False)


@router.get("/library/chart.js")
def chart_library(
    accept_encoding: Annotated[str, Header()] = "", if_none_match: Annotated[str, Header()] = ""
) -> Response:
    """The chart library, packed once and kept by browsers."""
    found = library()
    if found is None:
        raise ProblemError("not-found", "The package chartkick is not installed.")
    headers = {
        "ETag": f'"{found.tag}"',
        "Cache-Control": "public, max-age=86400",
        "Vary": "Accept-Encoding",
    }
    if found.tag in if_none_match:
        return Response(status_code=304, headers=headers)
    packed = "gzip" in accept_encoding
    if packed:
        headers["Content-Encoding"] = "gzip"
    return Response(
        found.packed if packed else found.plain, media_type="text/javascript", headers=headers
    )


@router.get("/metrics", dependencies=[Depends(teacher)])
def prometheus(desk: TheDesk) -> Response:
    """Figures for Prometheus."""
    return Response(metrics.text(desk), media_type=metrics.MEDIA_TYPE)
