"""Letters for the display: Pillow's bundled font, measured and drawn in one bit.

A text is drawn once and kept, because the same few texts come back twice a second.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from PIL import Image, ImageDraw, ImageFont

#: Sizes in which the font is legible in one bit, largest first.
BIG_SIZES = (34, 32, 30, 28, 26, 22, 20, 18, 16, 14, 12, 10)
LINE_SIZE = 10
ASIDE_SIZE = 16
BAND_SIZE = 12

#: A lit pixel of mode ``1``. One would do for a screen, but inverts to 254, which is lit too.
LIT = 255

#: What the bundled font lacks and people write, with what is shown instead.
_INSTEAD = {
    "\N{EN DASH}": "-",
    "\N{EM DASH}": "-",
    "\N{MINUS SIGN}": "-",
    "\N{RIGHTWARDS ARROW}": ">",
    "\N{RIGHT SINGLE QUOTATION MARK}": "'",
    "\N{LEFT DOUBLE QUOTATION MARK}": '"',
    "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
    "\N{VULGAR FRACTION ONE HALF}": "1/2",
}
_BEYOND_ASCII = frozenset("±°…·~")


@lru_cache(maxsize=len(BIG_SIZES))
def font(size: int) -> ImageFont.FreeTypeFont:
    """Pillow's bundled font at a size in pixels.

    Raises
    ------
    RuntimeError
        This Pillow was built without FreeType.
    """
    made = ImageFont.load_default(size=size)
    if not isinstance(made, ImageFont.FreeTypeFont):
        raise RuntimeError(  # noqa: TRY004  # what is wrong is the library, not an argument
            "Pillow without FreeType has no scalable font; install a usual wheel"
        )
    return made


@lru_cache(maxsize=512)
def plain(text: str) -> str:
    """The text in letters that the font has; an unknown letter becomes its base or ``?``."""
    out = ""
    for letter in text:
        if letter in _INSTEAD:
            out += _INSTEAD[letter]
        elif letter in _BEYOND_ASCII or " " <= letter <= "~":
            out += letter
        else:
            base = unicodedata.normalize("NFKD", letter)[0]
            out += base if " " <= base <= "~" else "?"
    return out


@lru_cache(maxsize=1024)
def width(text: str, size: int = LINE_SIZE, *, bold: bool = False) -> int:
    """Pixels that the text takes across, its own spacing included; 0 for no text."""
    return letters(text, size, bold=bold).width if text.strip() else 0


@lru_cache(maxsize=256)
def letters(text: str, size: int, *, bold: bool = False) -> Image.Image:
    """The text as a mode-1 picture of full line height. Do not change it.

    It is as wide as the font says, not as its ink, so that a running countdown stands still.
    Bold is drawn twice, one pixel apart, and spaced one pixel wider so that letters stay apart.
    """
    face = font(size)
    ascent, descent = face.getmetrics()
    parts, advance = _places(plain(text), size, bold=bold)
    picture = Image.new("1", (advance + 8, ascent + descent))
    draw = ImageDraw.Draw(picture)
    draw.fontmode = "1"
    for x, part in parts:
        for dx in (0, 1) if bold else (0,):
            draw.text((x + dx, 0), part, font=face, fill=LIT)
    box = picture.getbbox()
    return picture.crop((0, 0, max(advance, box[2] if box else 0), picture.height))


@lru_cache(maxsize=512)
def fit(text: str, room: int, size: int = LINE_SIZE, *, bold: bool = False) -> str:
    """The text, its end replaced by ``…`` where it is wider than ``room`` pixels."""
    if width(text, size, bold=bold) <= room:
        return text
    while text and width(text + "…", size, bold=bold) > room:
        text = text[:-1].rstrip()
    return text + "…"


@lru_cache(maxsize=256)
def wrap(text: str, room: int) -> tuple[str, ...]:
    """The text in lines of at most ``room`` pixels, broken between words where that is possible."""
    lines: list[str] = []
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and width(joined) <= room:
            lines[-1] = joined
        else:
            lines.extend(_pieces(word, room))
    return tuple(lines)


def _places(text: str, size: int, *, bold: bool) -> tuple[list[tuple[int, str]], int]:
    """Where each word goes, or each letter of small bold text, and the width of the whole.

    One-bit letters are hinted to whole pixels; the font's own space then shrinks to where
    words run together, so the space is set here.
    """
    spread = 1 if bold and size < 20 else 0
    space = max(3, round(size * 0.3))
    places: list[tuple[int, str]] = []
    x = 0
    for index, word in enumerate(text.split(" ")):
        x += space if index else 0
        if spread:
            places += [(x + _advance(word[:at], size) + at, word[at]) for at in range(len(word))]
        else:
            places.append((x, word))
        x += _advance(word, size) + spread * len(word)
    return places, x


def _advance(text: str, size: int) -> int:
    return round(font(size).getlength(text, mode="1"))


def _pieces(word: str, room: int) -> list[str]:
    pieces: list[str] = []
    while word:
        end = len(word)
        while end > 1 and width(word[:end]) > room:
            end -= 1
        pieces.append(word[:end])
        word = word[end:]
    return pieces
