"""A notice as a picture for a 128x64 one-bit display. Pure.

Rows, with one dark pixel left around everything for the shift against burn-in::

     1..10  head, corner at the right
        12  rule; its lit part is the progress
    14..37  big number or word; beside it a short line and a second number
    39..50  first line, or the band, or the gauge
    52..62  second line
"""

from __future__ import annotations

from functools import lru_cache

from PIL import Image, ImageChops, ImageDraw

from wetside.cues import codes
from wetside.cues.lettering import (
    ASIDE_SIZE,
    BAND_SIZE,
    BIG_SIZES,
    LINE_SIZE,
    LIT,
    fit,
    letters,
    width,
)
from wetside.cues.notice import Gauge, Notice

WIDTH, HEIGHT = 128, 64
MARGIN = 1
ROOM = WIDTH - 2 * MARGIN

_RULE = 12
_BIG_TOP = 14
_PITCH = 12
_SIDE_GAP = 3
_LABEL_GAP = 2

#: Words are set smaller than numbers: numbers are what is read from afar.
_WORD_SIZE = 26


def picture(notice: Notice) -> Image.Image:
    """The screen as a new 128x64 picture of mode ``1``."""
    image = Image.new("1", (WIDTH, HEIGHT))
    if notice.blank:
        return image
    if notice.code:
        _coded(image, notice)
        return image
    draw = ImageDraw.Draw(image)
    _head(image, draw, notice)
    top = _lines(image, draw, notice)
    if notice.gauge is not None:
        top -= 10
        _gauge(draw, notice.gauge, top)
    _middle(image, notice, top)
    if notice.inverted:
        return ImageChops.invert(image)
    return image


def _coded(image: Image.Image, notice: Notice) -> None:
    """A QR code, and the words beside it."""
    image.paste(codes.field(notice.code), (MARGIN, MARGIN))
    room = codes.room_beside(notice.code)
    left = WIDTH - MARGIN - room
    bold = width(notice.head, bold=True) <= room
    _put(image, fit(notice.head, room, bold=bold), left, 2, LINE_SIZE, bold=bold)
    size = big_size(notice.big, room, 12)
    _put(
        image, fit(notice.big, room, size, bold=_is_bold(size)), left, 16, size, bold=_is_bold(size)
    )
    lines = notice.lines[:4]
    for index, line in enumerate(lines):
        row = HEIGHT - MARGIN - _PITCH * (len(lines) - index)
        _put(image, fit(line, room), left, row + 2, LINE_SIZE)


def _put(
    image: Image.Image, text: str, left: int, top: int, size: int, *, bold: bool = False
) -> None:
    """Paste letters whose capitals begin at row ``top``."""
    if text.strip():
        drawn = letters(text, size, bold=bold)
        image.paste(LIT, (left, top - _rise(size)), drawn)


def _rise(size: int) -> int:
    """Rows above the digits in a line of this size."""
    return _digit_rows(size)[0]


def _digit_rows(size: int) -> tuple[int, int]:
    """First lit row of the digits and the row after the last."""
    box = letters("0123456789", size).getbbox()
    assert box is not None  # noqa: S101  # digits have ink
    return box[1], box[3]


def _head(image: Image.Image, draw: ImageDraw.ImageDraw, notice: Notice) -> None:
    # a head that leaves too little for the corner is set plain, which is narrower
    bold = width(notice.head, bold=True) + width(notice.corner) + _SIDE_GAP <= ROOM
    head_room = width(notice.head, bold=bold)
    corner = fit(notice.corner, max(ROOM // 2, ROOM - head_room - _SIDE_GAP))
    corner_room = width(corner)
    _put(image, corner, WIDTH - MARGIN - corner_room, 2, LINE_SIZE)
    room = ROOM - (corner_room + _SIDE_GAP if corner_room else 0)
    _put(image, fit(notice.head, room, bold=bold), MARGIN, 2, LINE_SIZE, bold=bold)
    if not (notice.head or notice.corner):
        return
    if notice.progress is None:
        draw.line((MARGIN, _RULE, WIDTH - MARGIN - 1, _RULE), fill=LIT)
        return
    # done is a full rule of two rows, what is left a dotted one
    draw.point([(x, _RULE) for x in range(MARGIN, WIDTH - MARGIN, 3)], fill=LIT)
    done = round(min(max(notice.progress, 0.0), 1.0) * ROOM)
    if done:
        draw.rectangle((MARGIN, _RULE - 1, MARGIN + done - 1, _RULE), fill=LIT)


def _lines(image: Image.Image, draw: ImageDraw.ImageDraw, notice: Notice) -> int:
    """Draw the lines from the bottom up; the first row they use."""
    lines = notice.lines[: 3 if notice.big else 4]
    top = HEIGHT - MARGIN - _PITCH * len(lines)
    for index, line in enumerate(lines):
        row = top + index * _PITCH
        if index == 0 and notice.band:
            _band(image, draw, line, row)
        else:
            _put(image, fit(line, ROOM), MARGIN, row + 2, LINE_SIZE)
    return top - 1


def _band(image: Image.Image, draw: ImageDraw.ImageDraw, line: str, row: int) -> None:
    draw.rectangle((MARGIN, row + 1, WIDTH - MARGIN - 1, row + 11), fill=LIT)
    size = BAND_SIZE
    if width(line, size, bold=True) > ROOM - 4:
        size = LINE_SIZE
    drawn = letters(fit(line, ROOM - 4, size, bold=True), size, bold=True)
    first, last = _digit_rows(size)
    left = MARGIN + (ROOM - drawn.width) // 2
    image.paste(0, (left, row + 1 + (11 - (last - first)) // 2 - first), drawn)


def _gauge(draw: ImageDraw.ImageDraw, gauge: Gauge, top: int) -> None:
    def column(share: float) -> int:
        return MARGIN + 1 + round(min(max(share, 0.0), 1.0) * (ROOM - 3))

    row = top + 5
    draw.point([(x, row) for x in range(MARGIN, WIDTH - MARGIN, 3)], fill=LIT)
    # the window is an open box, what is believed a bar, the bath a pointer from above
    draw.rectangle((column(gauge.low), row - 3, column(gauge.high), row + 3), outline=LIT)
    draw.rectangle((column(gauge.mark_low), row - 1, column(gauge.mark_high), row + 1), fill=LIT)
    mark = column(gauge.mark)
    draw.line((mark, row - 3, mark, row + 3), fill=LIT)
    if gauge.bath is not None:
        x = column(gauge.bath)
        draw.line((x - 1, top, x + 1, top), fill=LIT)
        draw.point((x, top + 1), fill=LIT)


def _middle(image: Image.Image, notice: Notice, bottom: int) -> None:
    if not notice.big:
        return
    label_room = width(notice.aside_label) + _LABEL_GAP if notice.aside_label else 0
    column = max(width(notice.beside), label_room + width(notice.aside, ASIDE_SIZE, bold=True))
    room = ROOM - (column + _SIDE_GAP if column else 0)
    size = big_size(notice.big, room, bottom - _BIG_TOP)
    bold = _is_bold(size)
    text = fit(notice.big, room, size, bold=bold)
    first, last = _ink_rows(text, size)
    spare = max(0, bottom - _BIG_TOP - (last - first))
    top = _BIG_TOP + (0 if notice.gauge else spare // 2)
    left = MARGIN if column else MARGIN + (ROOM - width(text, size, bold=bold)) // 2
    image.paste(LIT, (left, top - first), letters(text, size, bold=bold))
    right = WIDTH - MARGIN
    _put(image, notice.beside, right - width(notice.beside), _BIG_TOP, LINE_SIZE)
    aside_left = right - width(notice.aside, ASIDE_SIZE, bold=True)
    _put(image, notice.aside, aside_left, _BIG_TOP + 12, ASIDE_SIZE, bold=True)
    _put(image, notice.aside_label, aside_left - label_room, _BIG_TOP + 16, LINE_SIZE)


def _is_bold(size: int) -> bool:
    """Big texts are bold as long as they are big."""
    return size >= 14


def _ink_rows(text: str, size: int) -> tuple[int, int]:
    """First row and the row after the last of the text, digits' height at least."""
    first, last = _digit_rows(size)
    box = letters(text, size, bold=_is_bold(size)).getbbox()
    return (first, last) if box is None else (min(first, box[1]), max(last, box[3]))


@lru_cache(maxsize=512)
def big_size(text: str, room: int, height: int = 25) -> int:
    """The largest size at which the text fits ``room`` x ``height`` pixels."""
    number = any(letter.isdigit() for letter in text)
    for size in BIG_SIZES:
        if size > _WORD_SIZE and not number:
            continue
        first, last = _ink_rows(text, size)
        if last - first <= height and width(text, size, bold=_is_bold(size)) <= room:
            return size
    return BIG_SIZES[-1]
