"""A 1-bit picture as Braille characters: eight pixels a character, fits any terminal."""

from __future__ import annotations

from PIL import Image

#: Bit of each dot in a Unicode Braille pattern, by row and column (Unicode block U+2800).
_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))


def braille(picture: Image.Image) -> list[str]:
    """Lines of text, one for each four rows of pixels; two columns of pixels a character."""
    wide, high = picture.size
    pixels = picture.load()
    assert pixels is not None  # noqa: S101  # Pillow gives None only for closed pictures
    return [
        "".join(
            chr(
                0x2800
                + sum(
                    bit
                    for down, row in enumerate(_DOTS)
                    for across, bit in enumerate(row)
                    if y + down < high and x + across < wide and pixels[x + across, y + down]
                )
            )
            for x in range(0, wide, 2)
        )
        for y in range(0, high, 4)
    ]
