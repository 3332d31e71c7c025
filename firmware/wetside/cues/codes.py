"""A QR code on the 128x64 display with words beside it. Pure.

The modules are dark on a lit field, as every reader expects, and two pixels wide. ISO/IEC 18004
asks for a quiet zone of four modules: across there is room for it, up and down 62 rows leave
5 modules at version 1 (21 modules), 3 at version 2 (25) and 1 at version 3 (29). Larger
codes do not fit.

    rows 1..62   lit field with the code at the left; beside it
         2..10   what it is for, bold
        14..     one larger word
       ..62      lines, from the bottom up
"""

from __future__ import annotations

from collections.abc import Sequence

from PIL import Image

from wetside.cues.lettering import LIT

PIXELS = 2
_HIGH = 62
_QUIET_MODULES = 4
_GAP = 3
_WIDE = 126
#: At least one module of lit field has to stay above and below.
LARGEST = _HIGH // PIXELS - 2


def field_width(rows: Sequence[str]) -> int:
    """Pixels across that the code takes with its quiet zone."""
    return (len(rows) + 2 * _QUIET_MODULES) * PIXELS


def room_beside(rows: Sequence[str]) -> int:
    """Pixels across that are left for words; 0 when the code does not fit."""
    return _WIDE - field_width(rows) - _GAP if 0 < len(rows) <= LARGEST else 0


def field(rows: Sequence[str]) -> Image.Image:
    """The lit field with the code in its middle, 62 pixels high, mode ``1``."""
    size = len(rows)
    modules = Image.new("1", (size, size), LIT)
    modules.putdata([0 if module == "1" else LIT for row in rows for module in row])
    large = modules.resize((size * PIXELS, size * PIXELS), Image.Resampling.NEAREST)
    made = Image.new("1", (field_width(rows), _HIGH), LIT)
    made.paste(large, (_QUIET_MODULES * PIXELS, (_HIGH - large.height) // 2))
    return made
