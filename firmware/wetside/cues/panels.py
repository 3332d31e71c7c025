"""A notice as a picture for a 128x64 one-bit display. Pure.

Rows, with one dark pixel left around everything for the shift against burn-in::

     1..11  head, corner at the right
        13  rule; its lit part is the progress
    15..39  big number or word, a unit and an aside beside it
    40..50  first line, or the band, or the gauge
    52..62  second line
"""

from __future__ import annotations

from PIL import Image, ImageChops, ImageDraw

from wetside.cues.lettering import BAND_SIZE, BIG_SIZES, LINE_SIZE, fit, letters, width
from wetside.cues.notice import Gauge, Notice

WIDTH, HEIGHT = 128, 64
MARGIN = 1
ROOM = WIDTH - 2 * MARGIN

_RULE = 13
_BIG_TOP = 16
_PITCH = 12
_SIDE_GAP = 4


def picture(notice: Notice) -> Image.Image:
    """The screen as a new 128x64 picture of mode ``1``."""
    image = Image.new("1", (WIDTH, HEIGHT))
    if notice.blank:
        return image
    draw = ImageDraw.Draw(image)
    _head(image, draw, notice)
    top = _lines(image, draw, notice)
    if notice.gauge is not None:
        top -= 10
        _gauge(draw, notice.gauge, top)
    _middle(image, notice, top)
    if notice.inverted:
        # ~127 would be wrong in mode 1; ImageChops knows
        return ImageChops.invert(image)
    return image


def _put(
    image: Image.Image, text: str, left: int, top: int, size: int, *, bold: bool = False
) -> None:
    """Paste letters whose capitals begin at row ``top``."""
    if text.strip():
        drawn = letters(text, size, bold=bold)
        image.paste(1, (left, top - _rise(size)), drawn)


def _rise(size: int) -> int:
    """Rows above the digits in a line of this size."""
    return _digit_rows(size)[0]


def _digit_rows(size: int) -> tuple[int, int]:
    """First lit row of the digits and the row after the last."""
    box = letters("0123456789", size).getbbox()
    assert box is not None  # noqa: S101  # digits have ink
    return box[1], box[3]


def digit_height(size: int) -> int:
    """Height of the digits in pixels at a font size."""
    top, bottom = _digit_rows(size)
    return bottom - top


def _head(image: Image.Image, draw: ImageDraw.ImageDraw, notice: Notice) -> None:
    corner = fit(notice.corner, ROOM // 2)
    corner_room = width(corner)
    _put(image, corner, WIDTH - MARGIN - corner_room, 3, LINE_SIZE)
    room = ROOM - (corner_room + _SIDE_GAP if corner_room else 0)
    _put(image, fit(notice.head, room, bold=True), MARGIN, 3, LINE_SIZE, bold=True)
    if not (notice.head or notice.corner):
        return
    if notice.progress is None:
        draw.line((MARGIN, _RULE, WIDTH - MARGIN - 1, _RULE), fill=1)
        return
    # done is a full rule of two rows, what is left a dotted one
    draw.point([(x, _RULE) for x in range(MARGIN, WIDTH - MARGIN, 3)], fill=1)
    done = round(min(max(notice.progress, 0.0), 1.0) * ROOM)
    if done:
        draw.rectangle((MARGIN, _RULE - 1, MARGIN + done - 1, _RULE), fill=1)


def _lines(image: Image.Image, draw: ImageDraw.ImageDraw, notice: Notice) -> int:
    """Draw the lines from the bottom up; the first row they use."""
    lines = notice.lines[:3]
    top = HEIGHT - MARGIN - _PITCH * len(lines)
    for index, line in enumerate(lines):
        row = top + index * _PITCH
        if index == 0 and notice.band:
            draw.rectangle((MARGIN, row - 2, WIDTH - MARGIN - 1, row + 10), fill=1)
            text = fit(line, ROOM - 4, BAND_SIZE, bold=True)
            drawn = letters(text, BAND_SIZE, bold=True)
            left = MARGIN + (ROOM - drawn.width) // 2
            image.paste(0, (left, row - _rise(BAND_SIZE)), drawn)
        else:
            _put(image, fit(line, ROOM), MARGIN, row + 1, LINE_SIZE)
    return top - (2 if notice.band else 0)


def _gauge(draw: ImageDraw.ImageDraw, gauge: Gauge, top: int) -> None:
    def column(share: float) -> int:
        return MARGIN + round(min(max(share, 0.0), 1.0) * (ROOM - 1))

    row = top + 5
    draw.point([(x, row) for x in range(MARGIN, WIDTH - MARGIN, 3)], fill=1)
    # the window is an open box, what is believed a bar, the bath a tick below
    draw.rectangle((column(gauge.low), row - 3, column(gauge.high), row + 3), outline=1)
    draw.rectangle((column(gauge.mark_low), row - 1, column(gauge.mark_high), row + 1), fill=1)
    mark = column(gauge.mark)
    draw.line((mark, row - 3, mark, row + 3), fill=1)
    if gauge.bath is not None:
        x = column(gauge.bath)
        draw.line((x, row, x, row + 3), fill=1)


def _middle(image: Image.Image, notice: Notice, bottom: int) -> None:
    if not notice.big:
        return
    unit_room = max((width(line) for line in notice.unit), default=0)
    aside_room = max(width(notice.aside, 16, bold=True), width(notice.aside_label))
    room = ROOM
    if unit_room:
        room -= unit_room + 3
    if aside_room:
        room -= aside_room + _SIDE_GAP
    size = big_size(notice.big, room, bottom - _BIG_TOP)
    text = fit(notice.big, room, size, bold=True)
    used = width(text, size, bold=True)
    height = digit_height(size)
    top = _BIG_TOP + max(0, (bottom - _BIG_TOP - height) // 2)
    alone = not unit_room and not aside_room
    left = MARGIN + (ROOM - used) // 2 if alone else MARGIN
    _put(image, text, left, top, size, bold=True)
    for index, line in enumerate(notice.unit):
        _put(image, line, left + used + 3, top + index * _PITCH, LINE_SIZE)
    right = WIDTH - MARGIN
    _put(image, notice.aside_label, right - width(notice.aside_label), top, LINE_SIZE)
    _put(image, notice.aside, right - width(notice.aside, 16, bold=True), top + 13, 16, bold=True)


def big_size(text: str, room: int, height: int = 26) -> int:
    """The largest size at which the text fits ``room`` x ``height`` pixels."""
    descends = any(letter in "gjpqy," for letter in text)
    for size in BIG_SIZES:
        tall = digit_height(size) + (size // 5 if descends else 0)
        if tall <= height and width(text, size, bold=True) <= room:
            return size
    return BIG_SIZES[-1]
