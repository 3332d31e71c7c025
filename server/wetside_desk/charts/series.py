"""What a chart shows, as values. Pure.

The same `Chart` is drawn as SVG on the server (`svg.draw`: for paper, for a download, for a
browser without script) and sent as JSON to the page, where the chart library draws it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

Point = tuple[float, float | None]

#: A line is drawn with about so many points.
MOST_POINTS = 400


class Stroke(StrEnum):
    """How a line is drawn, so that not only its colour tells it apart."""

    WHOLE = "whole"
    BROKEN = "broken"
    DOTTED = "dotted"


@dataclass(frozen=True, slots=True)
class Line:
    """A line; a point whose second member is None interrupts it.

    ``ink`` is one of one, two, three, four (the page's colours), and ``upper`` (same first
    members) fills the space between. A line without a name is not in the legend.
    """

    name: str
    points: Sequence[Point]
    ink: str = "one"
    stroke: Stroke = Stroke.WHOLE
    upper: Sequence[Point] | None = None


@dataclass(frozen=True, slots=True)
class Band:
    """A horizontal band, such as the target with its tolerance."""

    name: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Mark:
    """A vertical line with a word, such as the begin of a step."""

    at: float
    name: str


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart: ``x_name`` and ``y_name`` carry their units.

    ``y_unit`` is the vertical unit alone, for values that are read one by one. ``reach`` are
    places on the horizontal axis that it shows whether lines come there or not, ``moves`` spans
    of it in which agitation was called.
    ``says`` puts what the chart shows into one sentence, for those who do not see it.
    """

    title: str
    says: str
    x_name: str
    y_name: str
    lines: tuple[Line, ...]
    bands: tuple[Band, ...] = ()
    marks: tuple[Mark, ...] = ()
    levels: tuple[Mark, ...] = ()
    reach: tuple[float, ...] = ()
    y_unit: str = ""
    moves: tuple[tuple[float, float], ...] = ()


#: What the legend calls `Chart.moves`.
AGITATION = "agitation called"


def thin(points: Sequence[Point]) -> list[Point]:
    """At most about `MOST_POINTS` that keep every peak: lowest and highest of each bucket.

    Gaps stay gaps.
    """
    if len(points) <= MOST_POINTS:
        return list(points)
    size = -(-len(points) * 2 // MOST_POINTS)
    kept: list[Point] = []
    for at in range(0, len(points), size):
        bucket = points[at : at + size]
        known = [point for point in bucket if point[1] is not None]
        if not known:
            kept.append(bucket[0])
            continue
        low = min(known, key=lambda point: point[1] or 0.0)
        high = max(known, key=lambda point: point[1] or 0.0)
        gap = (
            [next(point for point in bucket if point[1] is None)]
            if len(known) < len(bucket)
            else []
        )
        kept += sorted({low, high, *gap}, key=lambda point: point[0])
    return kept


def as_json(chart: Chart) -> dict[str, object]:
    """The chart for the page's script."""

    def pairs(points: Sequence[Point]) -> list[list[float | None]]:
        return [[round(x, 3), None if y is None else round(y, 3)] for x, y in points]

    return {
        "title": chart.title,
        "x": chart.x_name,
        "y": chart.y_name,
        "unit": chart.y_unit,
        "lines": [
            {
                "name": line.name,
                "ink": line.ink,
                "stroke": str(line.stroke),
                "points": pairs(line.points),
                "upper": pairs(line.upper) if line.upper is not None else None,
            }
            for line in chart.lines
        ],
        "bands": [{"name": band.name, "low": band.low, "high": band.high} for band in chart.bands],
        "marks": [{"at": round(mark.at, 3), "name": mark.name} for mark in chart.marks],
        "levels": [{"at": round(mark.at, 3), "name": mark.name} for mark in chart.levels],
        "reach": [round(place, 3) for place in chart.reach],
        "moves": {
            "name": AGITATION,
            "spans": [[round(edge, 3) for edge in move] for move in chart.moves],
        },
    }
