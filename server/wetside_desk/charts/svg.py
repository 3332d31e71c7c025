"""A chart as SVG: for paper, for a download, for a browser without script.

Colours are attributes, so that the picture stands alone; the page's style sheet overrides
them by class, so that it also fits a dark or red screen.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from html import escape

from wetside_desk.charts.series import AGITATION, Chart, Line, Point, Stroke

WIDTH, HEIGHT = 720, 320
_LEFT, _RIGHT, _TOP, _BOTTOM = 52, 12, 26, 44
#: Height of each further row of the legend.
_LEGEND_ROW = 16

_INK = {"one": "#9a3412", "two": "#1d5f8a", "three": "#56681a", "four": "#6d3a86"}
_SOFT = "#5d564c"
_GRID = "#ddd5c6"
_PAPER = "#ffffff"
_WIDTH_OF = {Stroke.WHOLE: "1.8", Stroke.BROKEN: "1.8", Stroke.DOTTED: "1.4"}
#: Dots one by one, by twos, threes and fours, so that without colours they are told apart too.
_DOTS = {"one": "2 7", "two": "2 3 2 7", "three": "2 3 2 3 2 7", "four": "2 3 2 3 2 3 2 7"}


#: Stands for the agitation in the legend.
_AGITATION = Line(AGITATION, ())


def nice_step(span: float, about: int) -> float:
    """A round distance of grid lines: 1, 2 or 5 times a power of ten."""
    if span <= 0:
        return 1.0
    raw = span / about
    power = 10.0 ** math.floor(math.log10(raw))
    return next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= raw)


def ticks(low: float, high: float, about: int) -> list[float]:
    """Round numbers from ``low`` to ``high``."""
    step = nice_step(high - low, about)
    first = math.ceil(low / step - 1e-9)
    return [number * step for number in range(first, math.floor(high / step + 1e-9) + 1)]


#: Rows in which the names of marks stand; a name that fits into none is left out.
MARK_ROWS = 4
_MARK_ROW_HEIGHT = 13


#: Between a mark's line and its name.
_BESIDE = 3


def rows_of(places: Sequence[tuple[float, float]], right: float) -> list[tuple[int, float] | None]:
    """Row and left edge of each name, so that none lies over another; None where is no room.

    ``places`` are line and width of each, in order; a name that would reach beyond ``right``
    stands before its line.
    """
    free = [-math.inf] * MARK_ROWS
    found: list[tuple[int, float] | None] = []
    for at, width in places:
        behind = at + _BESIDE
        left = behind if behind + width <= right else at - _BESIDE - width
        row = next((row for row in range(MARK_ROWS) if free[row] <= left), None)
        found.append(None if row is None else (row, left))
        if row is not None:
            free[row] = left + width + 6
    return found


class _Frame:
    """Where values lie on the picture."""

    def __init__(self, chart: Chart) -> None:
        xs = [x for line in chart.lines for x, _ in line.points]
        ys = [
            y
            for line in chart.lines
            for _, y in (*line.points, *(line.upper or ()))
            if y is not None and math.isfinite(y)
        ]
        ys += [edge for band in chart.bands for edge in (band.low, band.high)]
        ys += [level.at for level in chart.levels]
        self.empty = not xs or not ys
        self.top = _TOP + _LEGEND_ROW * (legend_rows(chart) - 1)
        # a run begins a little before its first reading
        begins = [mark.at for mark in chart.marks[:1]]
        shown = (*xs, *begins, *chart.reach)
        self.x0, self.x1 = (min(shown), max((*xs, *chart.reach))) if xs else (0.0, 1.0)
        low, high = (min(ys), max(ys)) if ys else (0.0, 1.0)
        if self.x1 <= self.x0:
            self.x1 = self.x0 + 1.0
        self.marks = [mark for mark in chart.marks if self.x0 <= mark.at <= self.x1]
        self.rows = rows_of([(self.x(mark.at), 6.6 * len(mark.name)) for mark in self.marks], WIDTH)
        # names of marks stand above the lines
        taken = _MARK_ROW_HEIGHT * max(
            (place[0] + 1 for place in self.rows if place is not None), default=0
        )
        share = taken / (HEIGHT - self.top - _BOTTOM)
        room = max((high - low) * 0.06, 0.05)
        self.y0 = low - room
        self.y1 = high + room + share / (1.0 - share) * (high + room - self.y0)

    def x(self, value: float) -> float:
        return _LEFT + (value - self.x0) / (self.x1 - self.x0) * (WIDTH - _LEFT - _RIGHT)

    def y(self, value: float) -> float:
        share = (value - self.y0) / (self.y1 - self.y0)
        return HEIGHT - _BOTTOM - share * (HEIGHT - self.top - _BOTTOM)


def draw(chart: Chart) -> str:
    """The chart as one SVG element."""
    frame = _Frame(chart)
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="plot" '
            f'viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
            f'font-family="system-ui, sans-serif" font-size="12">'
        ),
        f"<title>{escape(chart.title)}. {escape(chart.says)}</title>",
    ]
    if frame.empty:
        parts.append(_text(WIDTH / 2, HEIGHT / 2, "nothing was recorded", anchor="middle"))
    else:
        parts += _grid(chart, frame)
        parts += _bands(chart, frame)
        parts += _moves(chart, frame)
        parts += _marks(frame)
        for line in chart.lines:
            parts += _line(line, frame)
        parts += _legend(chart)
    parts.append("</svg>")
    return "".join(parts)


def _text(x: float, y: float, text: str, anchor: str = "start", turn: str = "") -> str:
    return (
        f'<text class="p-text" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{_SOFT}"'
        f"{turn}>{escape(text)}</text>"
    )


def _grid(chart: Chart, frame: _Frame) -> Iterator[str]:
    bottom = HEIGHT - _BOTTOM
    for value in ticks(frame.y0, frame.y1, 5):
        at = frame.y(value)
        yield (
            f'<line class="p-grid" x1="{_LEFT}" x2="{WIDTH - _RIGHT}" y1="{at:.1f}" y2="{at:.1f}" '
            f'stroke="{_GRID}"/>'
        )
        yield _text(_LEFT - 6, at + 4, f"{value:g}", anchor="end")
    for value in ticks(frame.x0, frame.x1, 8):
        at = frame.x(value)
        yield (
            f'<line class="p-grid" x1="{at:.1f}" x2="{at:.1f}" y1="{bottom}" y2="{bottom + 4}" '
            f'stroke="{_SOFT}"/>'
        )
        yield _text(at, bottom + 17, f"{value:g}", anchor="middle")
    yield _text((_LEFT + WIDTH - _RIGHT) / 2, HEIGHT - 8, chart.x_name, anchor="middle")
    middle = (frame.top + bottom) / 2
    turn = f' transform="rotate(-90 14 {middle:.0f})"'
    yield _text(14, middle, chart.y_name, anchor="middle", turn=turn)


def _bands(chart: Chart, frame: _Frame) -> Iterator[str]:
    for band in chart.bands:
        top, low = frame.y(band.high), frame.y(band.low)
        yield (
            f'<rect class="p-band" x="{_LEFT}" width="{WIDTH - _LEFT - _RIGHT}" y="{top:.1f}" '
            f'height="{max(low - top, 1):.1f}" fill="#1c6438" fill-opacity="0.16"/>'
        )
        yield _text(_LEFT + 4, top - 3, band.name)
    for level in chart.levels:
        at = frame.y(level.at)
        yield (
            f'<line class="p-level" x1="{_LEFT}" x2="{WIDTH - _RIGHT}" y1="{at:.1f}" '
            f'y2="{at:.1f}" stroke="#1c6438" stroke-width="1.5" stroke-dasharray="6 4"/>'
        )
        yield _text(WIDTH - _RIGHT - 4, at - 4, level.name, anchor="end")


def _marks(frame: _Frame) -> Iterator[str]:
    """Lines first: a name stands above those that cross it, with a rim of paper around it."""
    for mark in frame.marks:
        at = frame.x(mark.at)
        yield (
            f'<line class="p-mark" x1="{at:.1f}" x2="{at:.1f}" y1="{frame.top}" '
            f'y2="{HEIGHT - _BOTTOM}" stroke="{_SOFT}" stroke-dasharray="2 3"/>'
        )
    yield f'<g class="p-names" stroke="{_PAPER}" stroke-width="4" paint-order="stroke">'
    for mark, place in zip(frame.marks, frame.rows, strict=True):
        if place is not None:
            yield _text(place[1], frame.top + 11 + place[0] * _MARK_ROW_HEIGHT, mark.name)
    yield "</g>"


def _moves(chart: Chart, frame: _Frame) -> Iterator[str]:
    """Agitation, as short bars on the lower edge."""
    for begin, end in chart.moves:
        width = max(frame.x(end) - frame.x(begin), 1.0)
        yield (
            f'<rect class="p-move" x="{frame.x(begin):.1f}" y="{HEIGHT - _BOTTOM - 7}" '
            f'width="{width:.1f}" height="7" fill="{_SOFT}"/>'
        )


def _line(line: Line, frame: _Frame) -> Iterator[str]:
    ink = _INK[line.ink]
    if line.upper is not None:
        for low, high in _both(line.points, line.upper):
            edge = [*high, *reversed(low)]
            shape = " ".join(f"{frame.x(x):.1f},{frame.y(y):.1f}" for x, y in edge)
            yield (
                f'<polygon class="p-fill ink-{line.ink}" points="{shape}" fill="{ink}" '
                f'fill-opacity="0.2"/>'
            )
        return
    for piece in _pieces(line.points):
        shape = " ".join(f"{frame.x(x):.1f},{frame.y(y):.1f}" for x, y in piece)
        yield (
            f'<polyline class="p-line {line.stroke} ink-{line.ink}" points="{shape}" fill="none" '
            f'stroke="{ink}" stroke-width="{_WIDTH_OF[line.stroke]}" '
            f'stroke-linejoin="round"{_dashes(line)}/>'
        )


def _dashes(line: Line) -> str:
    if line.stroke is Stroke.WHOLE:
        return ""
    dashes = "6 4" if line.stroke is Stroke.BROKEN else _DOTS[line.ink]
    return f' stroke-dasharray="{dashes}"'


def _pieces(points: Sequence[Point]) -> Iterator[list[tuple[float, float]]]:
    piece: list[tuple[float, float]] = []
    for x, y in points:
        if y is None:
            if piece:
                yield piece
            piece = []
        else:
            piece.append((x, y))
    if piece:
        yield piece


def _both(
    low: Sequence[Point], high: Sequence[Point]
) -> Iterator[tuple[list[tuple[float, float]], list[tuple[float, float]]]]:
    lows: list[tuple[float, float]] = []
    highs: list[tuple[float, float]] = []
    for (x, bottom), (_, top) in zip(low, high, strict=True):
        if bottom is None or top is None:
            if len(lows) > 1:
                yield lows, highs
            lows, highs = [], []
        else:
            lows.append((x, bottom))
            highs.append((x, top))
    if len(lows) > 1:
        yield lows, highs


def _placed(chart: Chart) -> Iterator[tuple[Line, float, int]]:
    """Each line of the legend with its left edge and its row."""
    at, row = float(_LEFT), 0
    for line in (*chart.lines, *([_AGITATION] if chart.moves else [])):
        if not line.name:
            continue
        width = 23 + 6.8 * len(line.name)
        if at > _LEFT and at + width > WIDTH:
            at, row = float(_LEFT), row + 1
        yield line, at, row
        at += width + 18


def legend_rows(chart: Chart) -> int:
    """How many rows the legend of a chart takes, one at least."""
    return 1 + max((row for _, _, row in _placed(chart)), default=0)


def _legend(chart: Chart) -> Iterator[str]:
    for line, at, row in _placed(chart):
        ink = _INK[line.ink]
        fill = line.upper is not None
        high = 10 + row * _LEGEND_ROW
        if line is _AGITATION:
            yield (
                f'<rect class="p-move" x="{at + 6:.0f}" y="{high - 4}" width="7" height="7" '
                f'fill="{_SOFT}"/>'
            )
            yield _text(at + 23, high + 4, line.name)
            continue
        look = "p-fill-key" if fill else f"p-line {line.stroke}"
        yield (
            f'<line class="{look} ink-{line.ink}" x1="{at:.0f}" x2="{at + 18:.0f}" y1="{high}" '
            f'y2="{high}" stroke="{ink}" stroke-width="{8 if fill else 2}" '
            f'stroke-opacity="{0.3 if fill else 1}"{_dashes(line)}/>'
        )
        yield _text(at + 23, high + 4, line.name)
